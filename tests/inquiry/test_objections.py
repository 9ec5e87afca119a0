"""Objections open rounds; what they change stays visible, struck and dated."""

import pytest

from benchproof import open_case
from benchproof.values.errors import InputError, RecordingRefusedError

SAID = {"by": "a reader", "date": "2026-02-01"}


@pytest.fixture
def argued(case):
    brick = case.hypothesis("H1", "the brick's limit")
    brick.predicts("the rail falls", case["V_min"].below("8.80 V"))
    wire = case.hypothesis("H2", "the cable")
    wire.predicts("the drop is large", case["V_drop"].above("2.0 V"))
    case.record("V_min", "7.50 V", using="handheld")
    case.record("V_drop", "0.50 V", using="handheld")
    return case


def rows(case):
    table = case.report("errata")
    return [(*row[1:4], table.state(i)) for i, row in enumerate(table.rows)]


def test_an_objection_opens_one_round_however_often_the_cell_runs(argued):
    assert argued.objection("another brick", touches=["H1"], **SAID) == 2
    assert argued.objection("another brick", touches=["H1"], **SAID) == 2
    assert argued.book.record.current_round == 2
    assert "a reader, 2026-02-01" in argued.book.record.rounds[1].because


def test_the_verdict_it_touches_is_marked_until_measured_again(argued):
    argued.objection("another brick", touches=["H1"], **SAID)
    (mark,) = argued.verdicts().remarks
    assert "H1, of which nothing was measured again" in mark
    assert "H2" not in mark
    assert mark in argued.verdicts().table().notes
    assert mark in [row[0] for row in argued.report("limits").rows]
    argued.record("V_min", "9.50 V", using="handheld")
    assert argued.verdicts().remarks == ()


def test_an_objection_that_names_no_rival_touches_all(argued):
    argued.objection("your meter is off", **SAID)
    assert ": H1, H2, of which" in argued.verdicts().remarks[0]


def test_a_view_from_before_the_objection_is_not_marked(argued):
    argued.objection("another brick", touches=["H1"], **SAID)
    assert argued.at_round(1).verdicts().remarks == ()


def test_an_overturned_verdict_is_struck_and_the_new_one_dated(argued):
    argued.objection("another brick", touches=["H1", "H2"], **SAID)
    assert ("2", "verdict on H1", "compatible", "") in rows(argued)
    argued.record("V_min", "9.50 V", using="handheld")
    found = rows(argued)
    assert found[0][:2] == ("2", "round opened")
    assert ("2", "verdict on H1", "compatible", "struck") in found
    assert ("2", "verdict on H1", "contradicted", "") in found
    assert ("2", "verdict on H2", "contradicted", "") in found
    assert [f[3] for f in found if f[1] == "V_min"] == ["superseded", ""]
    assert argued.report("errata").rows[1][0] == "2026-01-31"


def test_a_verdict_that_stands_after_measuring_again_says_so(argued):
    argued.objection("another brick", touches=["H1"], **SAID)
    argued.record("V_min", "7.40 V", using="handheld")
    said = [r[4] for r in argued.report("errata").rows if r[2] == "verdict on H1"]
    assert said == ["stands, measured again"]


def test_without_a_second_round_there_is_nothing_to_list(argued):
    assert argued.report("errata").rows == ()


@pytest.mark.parametrize(
    ("text", "by", "date", "touches", "match"),
    [
        (" ", "x", "2026-02-01", (), "text is empty"),
        ("x", "", "2026-02-01", (), "by is empty"),
        ("x", "y", "", (), "date is empty"),
        ("x", "y", "2026-02-01", ["H3"], "'H3', which is no rival"),
        ("x", "y", "2026-02-01", "H1", r"give a list: \['H1'\]"),
    ],
)
def test_an_objection_nobody_could_find_is_refused(
    argued, text, by, date, touches, match
):
    with pytest.raises(InputError, match=match):
        argued.objection(text, by=by, date=date, touches=touches)
    assert argued.book.record.current_round == 1


@pytest.mark.parametrize("left_out", ["by", "date"])
def test_an_objection_without_its_author_or_date_says_why_they_are_asked(
    argued, left_out
):
    said = {key: text for key, text in SAID.items() if key != left_out}
    with pytest.raises(InputError, match=f"{left_out} is empty.*readers can find it"):
        argued.objection("another brick", **said)
    assert argued.book.record.current_round == 1


def test_a_second_run_says_above_the_objection_that_its_table_mixes_rounds(argued):
    argued.objection("another brick", touches=["H1"], **SAID)
    argued.record("V_min", "9.50 V", using="handheld")
    assert not argued.ahead()
    again = open_case(argued.folder)
    again.hypothesis("H1", "the brick's limit").predicts(
        "the rail falls", again["V_min"].below("8.80 V")
    )
    (note,) = again.verdicts().remarks
    assert note.startswith("Round 2 is on record, but the notebook has not come to it")
    assert "case.at_round(1)" in note
    assert note in again.verdicts().table().notes
    assert not again.at_round(1).verdicts().remarks
    assert not again.verdicts(ended=True).remarks
    assert note not in [row[0] for row in again.report("limits").rows]
    again.objection("another brick", touches=["H1"], **SAID)
    assert not again.verdicts().remarks


def test_a_run_that_has_come_to_round_two_of_four_names_the_others(argued):
    for why in ("a", "b", "c"):
        argued.new_round(because=why)
    again = open_case(argued.folder)
    again.new_round(because="a")
    assert again.ahead().startswith("Rounds 3, 4 are on record")
    assert "case.at_round(2)" in again.ahead()


def test_an_earlier_view_takes_no_objection(argued):
    with pytest.raises(RecordingRefusedError):
        argued.at_round(1).objection("another brick", **SAID)
    assert argued.defined.objections == {}


def test_attempts_made_since_answer_an_objection_too(case):
    power = case.trials.plan(
        "power", factors={"supply": ["brick", "bench"]}, outcomes=["lost", "kept"],
        repetitions=1, stop="one of each", seed=1, control={"supply": "bench"},
    )  # fmt: skip
    rival = case.hypothesis("H1", "the brick")
    rate = power.rate("lost", supply="brick")
    rival.predicts("often", rate.at_least(0.5), role="symptom")
    case.objection("why so few", **SAID)
    assert case.verdicts().remarks
    case.trials["power"].in_round(2).outcome(
        "lost", planned=False, because="asked for", supply="brick"
    )
    assert case.verdicts().remarks == ()
