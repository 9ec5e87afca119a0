"""Which verdicts rest on what differs, and what the case does not show."""

import pytest

from benchproof import open_case
from benchproof.keeping.inquiry.sample import does_not_show
from benchproof.values.errors import FileError

TOUCHED = (
    'title = "x"\ninvented = true\n[sample]\nunits = 3\n[[difference]]\n'
    'field = "cable"\nsame = "different"\ntouches = ["H1", "H9"]\n'
)


def with_toml(case_folder, text):
    (case_folder / "case.toml").write_text(text, encoding="utf-8")
    return open_case(case_folder)


def test_a_difference_marks_the_verdict_it_touches(case_folder):
    case = with_toml(case_folder, TOUCHED)
    case.hypothesis("H1", "x").predicts("low", case["V"].below("8.80 V"))
    case.record("V", "7.00(6) V")
    table = case.report("rests")
    assert table.rows == (("H1", "compatible", "cable (different)"),)
    assert "touches H9, which is no rival here" in table.notes[0]
    said = does_not_show(case)
    assert "3 units were tested: up to 63.2 %" in said[0]
    assert said[-1].endswith("may change the verdicts in brackets: cable (H1).")
    assert case.report("differences").rows[0][-1] == "H1, H9"


@pytest.mark.parametrize(
    ("old", "new", "match"),
    [
        ('["H1", "H9"]', '"H1"', r"case.toml, \[\[difference\]\] 'cable': touches"),
        ('["H1", "H9"]', "[1]", "touches"),
        ("units = 3", "units = 0", r"case.toml, \[sample\]: units is 0"),
        ("units = 3", "units = 1.5", "whole number"),
        ("units = 3", "unit = 3", "'unit' is not one of units, device, firmware"),
    ],
)
def test_a_bad_entry_of_case_toml_is_named(case_folder, old, new, match):
    with pytest.raises(FileError, match=match):
        with_toml(case_folder, TOUCHED.replace(old, new))
