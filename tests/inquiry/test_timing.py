"""When a prediction was written, held against the first data that bear on it."""

import datetime as dt
import shutil

from benchproof import open_case
from benchproof.keeping.inquiry.foretold import NAME
from benchproof.keeping.runs.results import results_of
from benchproof.reasoning.verdicts import AFTER, BEFORE, NOT_RECORDED
from benchproof.values.errors import FileError


class Clock:
    """Moves one minute at each look."""

    def __init__(self, start=dt.datetime(2026, 1, 31, 12, 0, tzinfo=dt.UTC)):
        self.now = start

    def __call__(self):
        self.now += dt.timedelta(minutes=1)
        return self.now


def declare(case, limit="8.80 V", text="the rail falls"):
    rival = case.hypothesis("H1", "the supply sags", mechanism="its limit")
    rival.predicts(text, case["V_min"].below(limit))
    return rival


def written(case):
    return [j.written for v in case.verdicts().verdicts for j in v.judged]


def shown(case):
    table = case.verdicts().predictions()
    return [(row[1], row[3], table.state(i)) for i, row in enumerate(table.rows)]


def test_a_prediction_before_its_reading_is_marked_so_with_its_time(case_folder):
    case = open_case(case_folder, clock=Clock())
    declare(case)
    case.record("V_min", "7.50 V", using="handheld")
    assert written(case) == [f"{BEFORE}, 2026-01-31T12:01:00Z"]


def test_order_is_told_apart_within_one_second(case):
    # The clock of this case stands still.
    case.record("V_min", "7.50 V", using="handheld")
    declare(case)
    assert written(case)[0].startswith(AFTER)
    assert "r-0001 (V_min)" in written(case)[0]


def test_data_on_something_else_do_not_make_a_prediction_late(case):
    case.record("V_other", "7.50 V", using="handheld")
    declare(case)
    assert written(case)[0].startswith(BEFORE)


def test_any_input_of_a_derived_quantity_bears_on_it(case):
    case.record("V_a", "7.50 V", using="handheld")
    case.record("V_b", "? V")
    case.derive(unit="V")(drop)
    case.hypothesis("H1", "it drops").predicts("small", case["drop"].below("1.0 V"))
    assert "(V_a)" in written(case)[0]


def drop(V_a, V_b):
    return V_a - V_b


def test_attempts_of_a_trial_bear_on_its_rate(case):
    power = case.trials.plan(
        "power", factors={"supply": ["brick", "bench"]}, outcomes=["lost", "kept"],
        repetitions=2, stop="two of each", seed=1, control={"supply": "bench"},
    )  # fmt: skip
    rate = power.rate("lost", supply="brick")
    rival = case.hypothesis("H1", "the brick")
    rival.predicts("often", rate.at_least(0.5), role="symptom")
    power.record("l k l k")
    rival.predicts("not seldom", rate.at_least(0.1), role="symptom")
    early, late = written(case)
    assert early.startswith(BEFORE)
    assert late.startswith(AFTER)
    assert "t-00" in late
    assert case.verdicts().verdicts[0].judged[0].count


def test_running_again_in_another_kernel_changes_nothing(case_folder):
    first = open_case(case_folder, clock=Clock())
    declare(first)
    first.record("V_min", "7.50 V", using="handheld")
    before, content = written(first), (case_folder / NAME).read_bytes()
    again = open_case(case_folder, clock=Clock())
    declare(again)
    again.record("V_min", "7.50 V", using="handheld")
    assert written(again) == before
    assert (case_folder / NAME).read_bytes() == content


def test_a_copy_of_the_case_keeps_its_times(case_folder, tmp_path_factory):
    case = open_case(case_folder)
    declare(case)
    case.record("V_min", "7.50 V", using="handheld")
    copied = shutil.copytree(case_folder, tmp_path_factory.mktemp("copy") / "case")
    other = open_case(copied)
    declare(other)
    assert written(other) == written(case)


def test_a_case_older_than_the_file_is_not_recorded_when(case_folder):
    case = open_case(case_folder)
    case.record("V_min", "7.50 V", using="handheld")
    (case_folder / NAME).unlink()
    old = open_case(case_folder)
    declare(old)
    assert written(old)[0].startswith(NOT_RECORDED)
    later = open_case(case_folder)
    declare(later)
    declare_more(later)
    assert written(later)[0].startswith(NOT_RECORDED)
    assert written(later)[1].startswith(AFTER)


def declare_more(case):
    rival = case.hypothesis("H2", "something else")
    rival.predicts("it stays high", case["V_min"].above("5.00 V"))


def test_what_an_older_case_measures_after_it_has_the_file_is_dated(case_folder):
    case = open_case(case_folder)
    case.record("V_min", "7.50 V", using="handheld")
    (case_folder / NAME).unlink()
    old = open_case(case_folder)
    rival = declare(old)
    rival.predicts("cold", old["T"].below("20 degC"))
    old.record("T", "15.0(5) degC")
    assert [w[:10] for w in written(old)] == ["not record", "before the"]


def test_readings_refuse_no_folder_that_may_only_be_read(case_folder, monkeypatch):
    case = open_case(case_folder)
    case.record("V_min", "7.50 V", using="handheld")
    (case_folder / NAME).unlink()
    copy = open_case(case_folder)

    def refuse(decide):
        raise FileError("predictions.csv could not be written (read-only)")

    monkeypatch.setattr(copy.foretold.log, "append", refuse)
    declare(copy)
    assert written(copy) == [
        f"{NOT_RECORDED}: predictions.csv could not be written (read-only)"
    ]


def test_predictions_on_record_need_no_writing(case_folder, monkeypatch):
    case = open_case(case_folder)
    declare(case)
    case.record("V_min", "7.50 V", using="handheld")
    again = open_case(case_folder)

    def refuse(decide):
        raise FileError("written to")

    monkeypatch.setattr(again.foretold.log, "append", refuse)
    declare(again)
    assert again.foretold.problem == ""
    assert written(again)[0].startswith(BEFORE)


def test_a_prediction_changed_after_the_data_leaves_the_old_one_visible(case):
    declare(case, "8.80 V")
    case.record("V_min", "8.90 V", using="handheld")
    declare(case, "9.50 V")
    assert shown(case) == [
        ("the rail falls", "V_min below 9.50 V", ""),
        ("the rail falls", "V_min below 8.80 V", "superseded"),
    ]
    assert written(case)[0].startswith(AFTER)
    assert "<del>V_min below 8.80 V</del>" in (
        case.verdicts().predictions()._repr_html_()
    )
    notes = case.verdicts().table().notes
    assert notes[0] == (
        "H1 rests also on what was predicted after the data: the rail falls."
    )


def test_looking_for_words_before_the_data_is_not_held_against_anyone(case):
    declare(case, "8.80 V")
    declare(case, "8.70 V")
    case.record("V_min", "7.50 V", using="handheld")
    assert len(shown(case)) == 1
    assert written(case)[0].startswith(BEFORE)


def test_a_prediction_changed_and_changed_back_still_shows_the_change(case):
    declare(case, "8.80 V")
    case.record("V_min", "7.50 V", using="handheld")
    declare(case, "9.50 V")
    declare(case, "8.80 V")
    assert [state for _, _, state in shown(case)] == ["", "superseded"]
    assert written(case)[0].startswith(BEFORE)


def test_a_prediction_left_out_is_shown_at_the_end_of_a_run(case_folder):
    case = open_case(case_folder)
    declare(case)
    declare_more(case)
    case.record("V_min", "7.50 V", using="handheld")
    again = open_case(case_folder)
    declare(again)
    assert again.verdicts().withdrawn == ()  # its cell may still come
    gone = results_of(again)["predictions"]["withdrawn"]
    assert [w["text"] for w in gone] == ["it stays high"]
    assert "no longer in the notebook" in gone[0]["why"]


def test_an_earlier_round_is_judged_by_what_was_predicted_then(case):
    declare(case)
    case.record("V_min", "7.50 V", using="handheld")
    case.new_round(because="objection: another brick")
    rival = case.hypothesis("H1", "the supply sags")
    declare(case)
    rival = case.defined.hypotheses["H1"]
    case.hypothesis("H2", "heat").predicts("warm", case["T"].above("50 degC"))
    case.record("V_min", "8.95 V", using="handheld")
    assert len(case.at_round(1).verdicts().verdicts[0].judged) == 1
    assert case.at_round(1).verdicts().verdicts[1].judged == ()
    assert len(rival.predictions) == 1


def test_a_prediction_for_a_new_round_is_before_the_data_it_is_judged_by(case):
    case.record("V_min", "7.50 V", using="handheld")
    case.new_round(because="objection: another brick")
    declare(case)
    assert written(case)[0].startswith(AFTER)  # judged by round 1 so far
    case.record("V_min", "8.95 V", using="handheld")
    assert written(case)[0].startswith(BEFORE)


def test_a_corrected_reading_had_been_seen(case):
    case.record("V_min", "75.0 V", using="handheld")
    declare(case)
    case.record("V_min", "7.50 V", using="handheld", because="misread")
    assert written(case)[0].startswith(AFTER)


def test_a_reading_is_recorded_though_the_file_cannot_be_written(case, monkeypatch):
    def refuse(decide):
        raise FileError("predictions.csv could not be written (read-only)")

    monkeypatch.setattr(case.foretold.log, "append", refuse)
    assert case.record("V_min", "7.50 V", using="handheld").is_measured
    declare(case)
    assert written(case)[0].startswith(NOT_RECORDED)


def test_results_carry_when_each_prediction_was_written(case):
    declare(case)
    case.record("V_min", "7.50 V", using="handheld")
    results = results_of(case)
    said = results["verdicts"][0]
    assert said["mechanism"] == "its limit"
    assert said["predictions"][0]["written"].startswith(BEFORE)
    assert results["predictions"]["rows"] == 2
    assert results["predictions"]["withdrawn"] == []
