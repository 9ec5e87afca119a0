"""What moved between two results, in standard uncertainties of the difference."""

import json
import math

import pytest

from benchproof import compare_results
from benchproof.keeping.runs.results import save_results
from benchproof.values.errors import FileError, InputError


def value(number, u, unit="V", **more):
    return {"text": f"{number} {unit}", "unit": unit, "value": number,
            "standard_uncertainty": u, **more}  # fmt: skip


def results(quantities, **verdicts):
    listed = [{"name": n, "verdict": v, "reason": "so"} for n, v in verdicts.items()]
    return {"quantities": quantities, "verdicts": listed}


def moves(before, after):
    return compare_results(results(before), results(after)).moves


def test_nothing_moves_between_equal_results():
    same = results({"V": value(5.0, 0.1)}, H1="compatible")
    found = compare_results(same, same)
    assert (found.moves, found.flips, found.unchanged) == ((), (), 1)
    assert "Nothing moved" in str(found)
    assert "1 quantity did not move" in str(found)


def test_a_move_counts_combined_standard_uncertainties():
    (move,) = moves({"V": value(5.0, 0.3)}, {"V": value(6.0, 0.4)})
    assert move.moved == pytest.approx(1.0 / 0.5)


def test_a_move_keeps_its_direction():
    (move,) = moves({"V": value(6.0, 0.3)}, {"V": value(5.0, 0.4)})
    assert move.moved == pytest.approx(-2.0)


def test_an_exact_value_that_changed_moved_without_bound():
    (move,) = moves({"V": value(5.0, 0.0)}, {"V": value(4.0, 0.0)})
    assert move.moved == -math.inf


def test_what_moved_most_comes_first():
    found = moves(
        {"a": value(1.0, 0.1), "b": value(1.0, 0.1)},
        {"a": value(1.1, 0.1), "b": value(0.5, 0.1)},
    )
    assert [m.name for m in found] == ["b", "a"]


@pytest.mark.parametrize(
    ("before", "after", "shown"),
    [
        ({}, {"V": value(5.0, 0.1)}, ("(absent)", "5.0 V")),
        ({"V": value(5.0, 0.1)}, {}, ("5.0 V", "(absent)")),
        (
            {"V": {"text": "(not measured yet)"}},
            {"V": value(5.0, 0.1)},
            ("(not measured yet)", "5.0 V"),
        ),
        ({"V": value(5.0, 0.1)}, {"V": value(5.0, 0.1, "A")}, ("5.0 V", "5.0 A")),
    ],
)
def test_what_cannot_be_subtracted_is_shown_without_a_number(before, after, shown):
    (move,) = moves(before, after)
    assert (move.before, move.after) == shown
    assert move.moved is None


def test_a_changed_formula_is_noted_even_if_the_value_stayed():
    (move,) = moves(
        {"V": value(5.0, 0.1, formula="a")}, {"V": value(5.0, 0.1, formula="b")}
    )
    assert move.formula_changed
    assert move.moved == 0


def test_flipped_new_and_dropped_verdicts_are_told_first():
    found = compare_results(
        results({"V": value(5.0, 0.1)}, H1="compatible", H2="not tested", H3="x"),
        results({"V": value(6.0, 0.1)}, H1="contradicted", H3="x", H4="compatible"),
    )
    said = [(f.name, f.before, f.after) for f in found.flips]
    assert said == [
        ("H1", "compatible", "contradicted"),
        ("H4", "(absent)", "compatible"),
        ("H2", "not tested", "(absent)"),
    ]
    assert [row[0] for row in found.table().rows] == ["H1", "H4", "H2", "V"]


@pytest.fixture
def two_rounds(case):
    rival = case.hypothesis("H1", "It sags")
    rival.predicts("the rail goes low", case["V"].below("8.80 V"))
    case.record("V", "7.50 V", using="handheld")
    case.new_round(because="objection")
    case.record("V", "9.50 V", using="handheld")
    save_results(str(case.folder), "2026-01-31T12:00:00Z", "")
    return case.folder


def test_two_rounds_of_a_case_are_compared_by_name(two_rounds):
    found = compare_results(f"{two_rounds}@1", f"{two_rounds}@2")
    assert [(f.before, f.after) for f in found.flips] == [
        ("compatible", "contradicted")
    ]
    assert found.moves[0].moved > 10
    assert found.table().columns[1].title == f"Before: {two_rounds.name}@1"


def test_a_case_and_its_results_file_are_the_same(two_rounds):
    found = compare_results(str(two_rounds), str(two_rounds / "results.json"))
    assert not found.moves


def test_a_round_that_does_not_exist_is_named(two_rounds):
    with pytest.raises(InputError, match="round 7 does not exist; there are 1, 2"):
        compare_results(str(two_rounds), f"{two_rounds}@7")


def test_a_folder_whose_name_holds_an_at_sign_is_read(two_rounds):
    folder = two_rounds.rename(two_rounds.with_name("me@home"))
    assert not compare_results(str(folder), f"{folder}@2").moves


def test_a_case_that_was_not_run_says_so(tmp_path):
    with pytest.raises(FileError, match="has not been run"):
        compare_results(str(tmp_path), str(tmp_path))


def test_the_difference_is_shown_with_its_uncertainty():
    (move,) = moves({"V": value(5.0, 0.3)}, {"V": value(6.0, 0.4)})
    assert move.difference == "1.00(50) V"


def test_one_value_in_two_units_did_not_move():
    found = compare_results(
        results({"V": value(5.0, 0.1) | {"text": "5.00(10) V"}}),
        results({"V": value(5000.0, 100.0, "mV") | {"text": "5.00(10) V"}}),
    )
    assert (found.moves, found.unchanged) == ((), 1)


def test_a_move_counts_in_whatever_units_the_two_are_written():
    (move,) = moves({"V": value(5.0, 0.3)}, {"V": value(6000.0, 400.0, "mV")})
    assert move.moved == pytest.approx(2.0)


def test_temperatures_differ_by_kelvins():
    (move,) = moves({"T": value(20.0, 0.3, "degC")}, {"T": value(21.0, 0.4, "degC")})
    assert move.moved == pytest.approx(2.0)
    assert move.difference == "1.00(50) K"


def test_rounding_of_the_arithmetic_is_no_move():
    (before, after) = (value(n, 0.1) | {"text": "same"} for n in (0.3, 0.1 + 0.2))
    assert before["value"] != after["value"]
    assert moves({"V": before}, {"V": after}) == ()


@pytest.mark.parametrize(
    ("u", "note"),
    [
        (0.05, "u is 0.5 times what it was"),
        (0.3, "u is 3 times what it was"),
        (0.12, ""),
    ],
)
def test_an_uncertainty_that_halved_or_doubled_is_noted(u, note):
    (move,) = moves({"V": value(5.0, 0.1)}, {"V": value(6.0, u)})
    assert move.note == note


# Names of two people -------------------------------------------------------------


def two_people():
    theirs = {"R_a": value(1.0, 0.3, "ohm", formula="def R_a(V):\n    return V / 2"),
              "V": value(2.0, 0.1)}  # fmt: skip
    ours = {"R_b": value(1.5, 0.4, "ohm", formula="def R_b(V):\n    return V / 2"),
            "V": value(2.0, 0.1)}  # fmt: skip
    return results(theirs, soft="compatible"), results(ours, H1="contradicted")


def test_without_a_map_other_names_are_other_quantities():
    found = compare_results(*two_people())
    assert [(m.name, m.after) for m in found.moves] == [
        ("R_a", "(absent)"), ("R_b", "1.5 ohm"),
    ]  # fmt: skip


def test_a_map_compares_quantities_and_rivals_under_both_names():
    found = compare_results(*two_people(), names={"R_a": "R_b", "soft": "H1"})
    (move,) = found.moves
    assert (move.name, move.moved) == ("R_a = R_b", pytest.approx(1.0))
    assert not move.formula_changed, "the same formula but for the name"
    (flip,) = found.flips
    assert (flip.name, flip.before, flip.after) == (
        "soft = H1", "compatible", "contradicted",
    )  # fmt: skip


def test_a_map_means_whole_names():
    before, after = results({}, H1="x", **{"H1 b": "y"}), results({}, H2="x")
    found = compare_results(before, after, names={"H1": "H2"})
    assert [f.name for f in found.flips] == ["H1 b"]


def test_two_names_may_change_places():
    before = results({"a": value(1.0, 0.1), "b": value(2.0, 0.1)})
    after = results({"a": value(2.0, 0.1), "b": value(1.0, 0.1)})
    assert compare_results(before, after, names={"a": "b", "b": "a"}).moves == ()


@pytest.mark.parametrize(
    ("names", "said"),
    [
        ({"R_A": "R_b"}, "the first results know no 'R_A'. Did you mean R_a"),
        ({"R_a": "R_bb"}, "the second results know no 'R_bb'. Did you mean R_b"),
        ({"R_a": "V"}, "the first results have a 'V' of their own"),
    ],
)
def test_a_map_that_does_not_fit_is_refused_by_name(names, said):
    with pytest.raises(InputError, match=said):
        compare_results(*two_people(), names=names)


# Instruments of one name ---------------------------------------------------------

GAIN = "handheld · DC V · gain"
OWN = "V · handheld · DC V · offset"


def with_sources(number, gain, own, u_of_gain=0.3):
    source = {"instrument": "handheld", "standard_uncertainty": u_of_gain}
    u = math.hypot(gain, own)
    return results({"V": value(number, u, contributions={GAIN: gain, OWN: own})}) | {
        "sources": {GAIN: source, OWN: source}, "joints": [],
    }  # fmt: skip


def test_instruments_of_one_name_count_as_different_pieces_unless_asked():
    pair = with_sources(5.0, 0.4, 0.3), with_sources(6.0, 0.4, 0.4)
    (apart,) = compare_results(*pair).moves
    assert apart.moved == pytest.approx(1 / math.sqrt(0.4**2 + 0.3**2 + 2 * 0.4**2))
    (same,) = compare_results(*pair, same_instruments=True).moves
    assert same.moved == pytest.approx(1 / math.hypot(0.3, 0.4))


def test_what_same_instruments_means_is_said_below_the_table():
    pair = with_sources(5.0, 0.4, 0.3), with_sources(6.0, 0.4, 0.4)
    for asked, words in ((False, "that is too large"), (True, "the same pieces")):
        found = compare_results(*pair, same_instruments=asked)
        assert words in " ".join(found.table().notes)


def test_a_gain_that_the_two_describe_differently_does_not_cancel():
    pair = with_sources(5.0, 0.4, 0.3), with_sources(6.0, 0.4, 0.4, u_of_gain=0.5)
    (move,) = compare_results(*pair, same_instruments=True).moves
    assert move.moved == pytest.approx(1 / math.sqrt(0.4**2 + 0.3**2 + 2 * 0.4**2))


def test_the_difference_with_shared_gain_is_that_of_results_read_back(case, tmp_path):
    from benchproof import open_results

    for number, reading in enumerate(("5.00 V", "5.10 V")):
        if number:
            case.new_round(because="again")
        case.record("V", reading, using="handheld")
        save_results(str(case.folder), "2026-01-31T12:00:00Z", "")
        (case.folder / "results.json").rename(tmp_path / f"{number}.json")
    files = tmp_path / "0.json", tmp_path / "1.json"
    first = open_results(files[0])
    second = open_results(files[1], same_instruments_as=first)
    difference = (second["V"] - first["V"]).magnitude
    (move,) = compare_results(*files, same_instruments=True).moves
    assert move.moved == pytest.approx(difference.nominal_value / difference.std_dev)


def test_the_gain_cancels_between_two_rounds_of_a_case_too(case):
    for number, reading in enumerate(("5.00 V", "5.10 V")):
        if number:
            case.new_round(because="again")
        case.record("V", reading, using="handheld")
    save_results(str(case.folder), "2026-01-31T12:00:00Z", "")
    pair = f"{case.folder}@1", f"{case.folder}@2"
    (apart,) = compare_results(*pair).moves
    (same,) = compare_results(*pair, same_instruments=True).moves
    step = case.budget("V").value - case.at_round(1).budget("V").value
    # What is left is the fixed part of either reading.
    offsets = [
        [x.contribution for x in view.budget("V").lines if "offset" in x.source.name]
        for view in (case.at_round(1), case)
    ]
    u = math.hypot(*(contribution for (contribution,) in offsets))
    assert same.moved == pytest.approx(step / u, rel=0.02)
    assert abs(same.moved) > 1.2 * abs(apart.moved)


def test_rounds_of_an_older_file_keep_too_little_to_know_what_instruments_share(
    two_rounds,
):
    file = two_rounds / "results.json"
    data = json.loads(file.read_text("utf-8"))
    for entry in data["rounds"]:
        for quantity in entry["quantities"].values():
            quantity.pop("contributions", None)
    file.write_text(json.dumps(data), encoding="utf-8")
    with pytest.raises(InputError, match="@1: keeps no sources"):
        compare_results(f"{two_rounds}@1", f"{two_rounds}@2", same_instruments=True)


def test_rounds_of_an_invented_case_are_invented_too(two_rounds):
    assert compare_results(f"{two_rounds}@1", f"{two_rounds}@2").invented
    assert not compare_results(results({}), results({})).invented


# How it shows --------------------------------------------------------------------


def test_everything_that_differs_is_shown_as_text_and_in_a_notebook(two_rounds):
    found = compare_results(f"{two_rounds}@1", f"{two_rounds}@2")
    titles = [table.title for table in found.tables()]
    assert titles == ["What moved", "Rivals and predictions that changed"]
    for shown in (str(found), found._repr_html_()):
        assert all(title in shown for title in titles)


@pytest.mark.parametrize(
    "broken",
    [
        {"quantities": {"V": {}}, "verdicts": []},
        {"quantities": [], "verdicts": []},
        {"quantities": {"V": value("5", 0.1)}, "verdicts": []},
        {"quantities": {"V": value(math.nan, 0.1)}, "verdicts": []},
        {"quantities": {}, "verdicts": [3]},
        {"verdicts": []},
        {"quantities": {}, "verdicts": [], "tables": [{"id": "instruments"}]},
        {"quantities": {}, "verdicts": [], "versions": 3},
    ],
)
def test_results_made_by_hand_are_refused_without_a_traceback(broken):
    with pytest.raises(FileError, match="mine or theirs: not what benchproof writes"):
        compare_results(good_results(), broken, ("mine", "theirs"))


def good_results():
    return results({"V": value(5.0, 0.1)}) | {"tables": [], "versions": {}}


def test_a_unit_that_is_none_is_named():
    with pytest.raises(InputError, match="'furlongs!' is not known"):
        moves({"V": value(5.0, 0.1)}, {"V": value(5.0, 0.1, "furlongs!")})
