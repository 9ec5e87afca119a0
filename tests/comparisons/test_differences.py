"""What differs between two results beside the numbers."""

import pytest

from benchproof.keeping.comparisons.differences import (
    detail_tables,
    formula_table,
    instrument_table,
    prediction_table,
    surroundings_table,
)

SAID = {
    "text": "it sags", "role": "necessary", "criterion": "V_a below 8.0 V",
    "verdict": "met", "probability": None,
}  # fmt: skip


def rival(*predictions, **more):
    given = {"name": "H1", "statement": "soft", "predictions": list(predictions)}
    return {"verdicts": [given | more]}


@pytest.mark.parametrize(
    ("change", "row"),
    [
        ({"criterion": "V_a below 9.0 V"},
         ("criterion", "V_a below 8.0 V", "V_a below 9.0 V")),
        ({"role": "symptom"}, ("role", "necessary", "symptom")),
        ({"verdict": "contradicted"}, ("outcome", "met", "contradicted")),
        ({"probability": 0.5}, ("probability", "", "0.5")),
    ],
)  # fmt: skip
def test_a_prediction_that_was_changed_says_what_and_how(change, row):
    table = prediction_table(rival(SAID), rival(SAID | change))
    assert table.rows == (("H1", "it sags", *row),)


def test_a_reworded_prediction_is_one_dropped_and_one_added():
    table = prediction_table(rival(SAID), rival(SAID | {"text": "it dips"}))
    assert table.rows == (
        ("H1", "it sags", "criterion", "V_a below 8.0 V", "(absent)"),
        ("H1", "it dips", "criterion", "(absent)", "V_a below 8.0 V"),
    )


def test_a_rival_that_says_something_else_is_shown():
    table = prediction_table(rival(), rival(statement="too soft"))
    assert table.rows == (("H1", "", "statement", "soft", "too soft"),)


def test_a_new_rival_is_shown_with_its_predictions():
    table = prediction_table({"verdicts": []}, rival(SAID))
    assert [row[1:] for row in table.rows] == [
        ("", "statement", "(absent)", "soft"),
        ("it sags", "criterion", "(absent)", "V_a below 8.0 V"),
    ]


def test_a_criterion_is_compared_under_the_name_of_the_second():
    other = rival(SAID | {"criterion": "V_b below 8.0 V"})
    assert prediction_table(rival(SAID), other).rows
    renamed = prediction_table(rival(SAID), other, {"V_a": "V_b"})
    assert renamed.rows == ()


def formulas(**texts):
    return {"quantities": {name: {"formula": text} for name, text in texts.items()}}


OLD = "def P(U, I):\n    loss = 0.5\n    return U * I - loss"


def test_a_changed_formula_is_shown_line_by_line_with_its_indent():
    new = OLD.replace("0.5", "0.7")
    table = formula_table(formulas(P=OLD, Q="same"), formulas(P=new, Q="same"))
    assert [row[:2] for row in table.rows] == [
        ("P", ""),
        ("", "−"),
        ("", "+"),
        ("", ""),
    ]
    indent = 4 * "\N{NO-BREAK SPACE}"
    assert table.rows[1][2] == f"{indent}loss = 0.5"
    assert table.rows[2][2] == f"{indent}loss = 0.7"
    assert f"{indent}loss = 0.7" in str(table), "a terminal keeps the indent"


def test_of_a_long_formula_the_lines_far_from_a_change_are_left_out():
    lines = [f"line {i}" for i in range(30)]
    new = ["first", *lines[1:20], "changed", *lines[21:]]
    table = formula_table(formulas(P="\n".join(lines)), formulas(P="\n".join(new)))
    marks = "".join(row[1] or "." for row in table.rows)
    assert marks == "−+...…...−+..."


def test_a_measured_quantity_that_became_derived_shows_its_formula():
    table = formula_table({"quantities": {"P": {}}}, formulas(P="def P(U): ..."))
    assert table.rows == (("P", "+", "def P(U): ..."),)


def test_a_quantity_only_one_knows_is_no_changed_formula():
    assert formula_table(formulas(P=OLD), formulas(Q=OLD)).rows == ()


def instruments(*rows):
    heads = ["Instrument", "Function", "Ranges", "Accuracy"]
    return {"tables": [{
        "id": "instruments", "columns": [{"title": t} for t in heads],
        "rows": list(rows),
    }]}  # fmt: skip


def test_an_instrument_that_differs_is_shown_by_what_differs():
    table = instrument_table(
        instruments(["handheld", "DC V", "6 V", "±(0.5 %)"], ["clamp", "DC A", "", ""]),
        instruments({"cells": ["handheld", "DC V", "6 V", "±(0.1 %)"], "state": ""}),
    )
    assert table.rows == (
        ("handheld", "DC V", "Accuracy", "±(0.5 %)", "±(0.1 %)"),
        ("clamp", "DC A", "", "there", "(absent)"),
    )


RUN = {
    "readings": {"rows": 50, "sha256": "a" * 64},
    "code_sha256": "b" * 64,
    "declared_sha256": {"case.toml": "c" * 64},
    "captures": {"dip.csv": "d" * 64},
    "versions": {"python": "3.11.7", "numpy": "2.4.6"},
}


def test_inputs_and_versions_that_differ_are_listed():
    other = RUN | {
        "readings": {"rows": 52, "sha256": "e" * 64},
        "captures": {},
        "versions": {"python": "3.13.1", "numpy": "2.4.6"},
    }
    table = surroundings_table(RUN, other | {"captures": {"rise.csv": "f" * 64}})
    assert table.rows == (
        ("readings.csv", "50 rows, SHA-256 aaaaaaaaaaaa…",
         "52 rows, SHA-256 eeeeeeeeeeee…"),
        ("captures/dip.csv", "SHA-256 dddddddddddd…", "(absent)"),
        ("python", "3.11.7", "3.13.1"),
        ("captures/rise.csv", "(absent)", "SHA-256 ffffffffffff…"),
    )  # fmt: skip


def test_what_only_one_of_the_two_keeps_is_not_compared():
    a_round = {"quantities": {}, "verdicts": []}
    assert detail_tables(RUN | a_round | instruments(), a_round) == []


def test_equal_results_have_no_details():
    whole = RUN | rival(SAID) | formulas(P=OLD) | instruments(["a", "b", "c", "d"])
    assert detail_tables(whole, whole) == []
