"""What moved between two results, in combined standard uncertainties."""

import math

import pytest

from benchproof import compare_results
from benchproof.keeping.compare import compare_paths
from benchproof.keeping.results import save_results
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
    assert "1 quantities did not move" in str(found)


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
    found = compare_paths(f"{two_rounds}@1", f"{two_rounds}@2")
    assert [(f.before, f.after) for f in found.flips] == [
        ("compatible", "contradicted")
    ]
    assert found.moves[0].moved > 10
    assert f"Before: {two_rounds}@1" in found.table().columns[1].title


def test_a_case_and_its_results_file_are_the_same(two_rounds):
    found = compare_paths(str(two_rounds), str(two_rounds / "results.json"))
    assert not found.moves


def test_a_round_that_does_not_exist_is_named(two_rounds):
    with pytest.raises(InputError, match="round 7 does not exist; there are 1, 2"):
        compare_paths(str(two_rounds), f"{two_rounds}@7")


def test_a_folder_whose_name_holds_an_at_sign_is_read(two_rounds):
    folder = two_rounds.rename(two_rounds.with_name("me@home"))
    assert not compare_paths(str(folder), f"{folder}@2").moves


def test_a_case_that_was_not_run_says_so(tmp_path):
    with pytest.raises(FileError, match="has not been run"):
        compare_paths(str(tmp_path), str(tmp_path))
