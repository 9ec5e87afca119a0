"""What a capture says shows itself: a line in text, a table in a notebook."""

import numpy as np

from benchproof import captures
from benchproof.measuring.captures.finding import Finding, unknown
from benchproof.values.sources import Source
from benchproof.values.units import unit_of

VOLT = unit_of("V")
RAIL = captures.Trace(
    "rail.csv · CH1",
    np.tile(np.repeat([0.0, 5.0], 40), 5),
    1e-5,
    captures.Settings("scope", "CH1", coupling="DC"),
    notes=("a last line was left out",),
)


def test_a_finding_is_one_line_in_text_also_inside_others():
    gain = Source("gain", "B", "rectangular", 0.01)
    found = Finding("mean", VOLT, 2.0, ((gain, 1.0),))
    assert repr({"mean": found}) == "{'mean': mean = 2.000(10) V}"


def test_a_finding_that_cannot_be_told_says_why_in_its_table():
    ((name, value, *_),) = (
        unknown("mean", VOLT, "the record is AC-coupled.").table().rows
    )
    assert (name, value) == ("mean", "cannot tell: the record is AC-coupled.")


def test_findings_that_belong_together_are_one_table():
    levels = captures.levels_of(RAIL)
    names = [row[0] for row in levels.table().rows]
    assert names == ["low state", "high state", "amplitude"]
    assert "low state" in levels._repr_html_()


def test_every_dip_is_in_the_table_of_all():
    dips = captures.dips_of(RAIL, threshold=2.5, hysteresis=0.5)
    names = [row[0] for row in dips.table().rows]
    assert len(dips.dips) > 1
    assert all(f"dip {n} · residual" in names for n in range(1, len(dips.dips) + 1))
