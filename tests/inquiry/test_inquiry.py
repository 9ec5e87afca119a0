"""Every report of rivals shows itself, and reaches the write-up."""

import pytest

from benchproof.keeping.reports.report import report_tables
from benchproof.values.errors import InputError

NEW = ("rests", "limits", "matrix", "splits", "weights", "next", "overturns",
       "separations", "errata", "replications")  # fmt: skip


@pytest.mark.parametrize("what", NEW)
def test_every_report_shows_itself_before_and_after_measuring(case, what):
    assert "<table>" in case.report(what)._repr_html_()
    case.hypothesis("H1", "x").predicts("low", case["V"].below("8.80 V"))
    case.record("V", "8.79(6) V")
    assert "<table>" in case.report(what)._repr_html_()


def test_the_write_up_gets_the_new_tables_in_sections_it_has(case):
    case.hypothesis("H1", "x").predicts("low", case["V"].below("8.80 V"))
    case.record("V", "8.81(6) V")
    found = {t["id"]: t["section"] for t in report_tables(case)}
    assert found["matrix"] == "rivals"
    assert found["next"] == "next"
    assert found["overturns"] == "next"


def test_an_unknown_report_is_refused(case):
    with pytest.raises(InputError, match="errata"):
        case.report("erata")
