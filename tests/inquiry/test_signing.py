"""Free sentences that say when what they rest on has changed."""

import pytest

from benchproof.keeping.inquiry.signing import STALE
from benchproof.keeping.live.instrument import RERUN
from benchproof.values.errors import BenchproofError, InputError

SAID = "The rail stays up."


@pytest.fixture
def judged(case):
    case.hypothesis("H1", "it sags").predicts("low", case["V"].below("8.0 V"))
    case.record("V", "8.82(6) V")
    return case


def test_a_sentence_shows_as_long_as_what_it_rests_on_stands(judged):
    against = {"V": "8.820(60) V", "H1": "contradicted"}
    assert judged.signed(SAID, against).text == SAID
    assert judged.signed("It stays up, the rail.", against).text.startswith("It stays")
    assert SAID in judged.defined.statements.values()


def test_a_stale_sentence_stops_its_cell_with_what_to_sign(judged):
    against = {"V": "8.820(60) V", "H1": "contradicted"}
    judged.record("V", "7.00(6) V", because="the leads were swapped")
    with pytest.raises(
        InputError, match=r"V was 8.820\(60\) V, is 7.000\(60\) V; H1 w"
    ):
        judged.signed(SAID, against)
    now = {"V": "7.000(60) V", "H1": "compatible"}
    with pytest.raises(InputError) as stopped:
        judged.signed(SAID, against)
    assert str(now) in str(stopped.value)
    assert judged.signed("It falls.", now).text == "It falls."


def test_a_headless_run_marks_it_and_goes_on(judged, monkeypatch):
    monkeypatch.setenv(RERUN, "1")
    text = judged.signed(SAID, {"H1": "compatible"}).text
    assert text == f"{STALE}{SAID} (H1 was compatible, is contradicted)"
    assert judged.defined.statements[SAID] == text


def test_a_sentence_may_rest_on_a_rate(case):
    plan = case.trials.plan(
        "power", outcomes=["lost", "kept"], factors={"supply": ["brick", "bench"]},
        control={"supply": "bench"}, stop="3 of each", repetitions=3, seed=1,
    )  # fmt: skip
    plan.record("k k k k k k")
    name = "power: lost with supply brick"
    seen = "0 of 3, p < 63.2 % (95 %, one-sided)"
    assert case.shown(name) == seen
    assert case.signed("None was lost.", {name: seen}).text == "None was lost."


@pytest.mark.parametrize(
    ("against", "message"),
    [({}, "names nothing it rests on"), ({"V": ""}, "V was not given, is 8.820"),
     ({"H9": "met"}, "'H9' is not a recorded"),
     ({"tower: lost with x": "0"}, "no trial plan 'tower'")],
)  # fmt: skip
def test_a_signature_that_names_nothing_known_is_refused(judged, against, message):
    with pytest.raises(BenchproofError, match=message):
        judged.signed(SAID, against)
