"""A case at a glance: what is known, and what is pending, stale, forbidden and next."""

from benchproof import open_case

SURVEY = """
[survey]
states = ["asleep"]
reference = "P2"
forbidden = [["P1", "P2", "shorts the pack"]]
[[contact]]
name = "P1"
[[contact]]
name = "P2"
"""


def overview(case):
    return dict(case.table().rows)


def test_nothing_is_said_of_rivals_before_there_are_any(case):
    case.record("V_min", "? V")
    shown = overview(case)
    assert shown["Still to be measured"] == "V_min"
    assert not {"Undetermined", "Next", "Forbidden to join or drive"} & set(shown)


def test_a_rival_that_waits_is_named_with_what_to_measure_next(case):
    case.record("V_min", "? V")
    rival = case.hypothesis("H1", "It sags")
    rival.predicts("below 8.80 V", case["V_min"].below("8.80 V"))
    assert overview(case)["Undetermined"] == "H1 (not tested)"
    assert overview(case)["Next"] == "measure V_min"
    case.record("V_min", "7.50 V", using="handheld")
    assert overview(case)["Undetermined"] == "no rival"
    assert overview(case)["Next"] == "no prediction is open"


def test_what_was_not_measured_again_is_named_up_to_a_number(case):
    for i in range(10):
        case.record(f"V_{i}", "7.50 V", using="handheld")
    case.new_round(because="an objection")
    case.record("V_0", "7.51 V", using="handheld", in_round=2)
    said = overview(case)["Carried over from an earlier round"]
    assert said.startswith("V_1, V_2")
    assert said.endswith("and 1 more")


def test_forbidden_pairs_stand_with_their_reason(case_folder):
    path = case_folder / "case.toml"
    path.write_text(path.read_text(encoding="utf-8") + SURVEY, encoding="utf-8")
    said = overview(open_case(case_folder))["Forbidden to join or drive"]
    assert said == "P1-P2: shorts the pack"


def test_in_a_second_run_it_says_which_rounds_the_cells_have_not_come_to(case):
    case.record("V_min", "8.50 V", using="handheld")
    case.new_round(because="another brick")
    assert not case.table().notes
    again = open_case(case.folder)
    assert "Round 2 is on record" in again.table().notes[-1]
    again.new_round(because="another brick")
    assert not again.table().notes
