"""What a capture says shows itself: a line in text, a table in a notebook."""

import numpy as np

from benchproof import captures
from benchproof.measuring.captures.finding import Finding, unknown
from benchproof.values.sources import Estimate, Source
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
    assert names == [f"dip {n}" for n in range(1, len(dips.dips) + 1)]
    assert len(names) > 1
    assert str(dips.count) in dips.table().notes


def test_a_table_of_many_dips_says_how_many_more_there_are():
    many = captures.Trace(
        "many", np.tile(np.repeat([5.0, 0.0], 20), 90), 1e-5, RAIL.settings
    )
    table = captures.dips_of(many, threshold=2.5, hysteresis=0.5).table()
    assert len(table.rows) == 20
    assert "and 69 more, in .dips" in table.notes


def test_a_record_without_a_level_shows_why_dips_cannot_be_told():
    coupled = captures.Settings("scope", "CH1", coupling="AC")
    record = captures.Trace("ac", np.ones(99), 1e-5, coupled)
    notes = captures.dips_of(record, "-1 V", "0.5 V").table().notes
    assert notes[0].startswith("dips: cannot tell: ac is AC-coupled")


def test_noise_and_a_slip_say_what_they_are_in_a_sentence():
    assert "samples count as one" in repr(captures.noise_of(RAIL, 0, 40))
    level = Finding("mean", VOLT, 1.5)
    assert "factor of 10" in repr(captures.ratio_slip(level, Estimate(15.0)))
    assert "agree" in repr(captures.ratio_slip(level, Estimate(1.5)))


def test_findings_by_name_are_one_table_with_their_reasons():
    silent = captures.Trace(
        "ac", np.tile([1.0, -1.0], 99), 1e-5, captures.Settings("s", "C")
    )
    found = captures.bursts_of(silent, "-0.5 V", "0.5 V")
    assert list(found) == [row[0] for row in found.table().rows]
    coupled = captures.Settings("scope", "CH1", coupling="AC")
    gone = captures.bursts_of(captures.Trace("ac", np.ones(9), 1.0, coupled), 0, 1)
    assert "cannot tell" in gone._repr_html_()


def test_a_verdict_on_polarity_stands_below_the_number_it_rests_on():
    table = captures.polarity_of(RAIL).table()
    assert [row[0] for row in table.rows] == ["minimum"]
    assert table.notes[0] == captures.polarity_of(RAIL).text


def test_what_all_findings_share_of_how_they_were_read_stands_once_below():
    table = captures.amplitudes_of(RAIL).table()
    (below,) = table.notes
    assert below.startswith("scope · CH1")
    assert not any(below in row[2] for row in table.rows)
    assert "whole periods" in table.rows[0][2]


def test_a_comparison_shows_its_parameters_and_not_its_samples():
    def line(t, a, b):
        return a + b * t

    t = np.arange(5000) * 1e-3
    v = 1 + 2 * t + 0.01 * np.random.default_rng(1).standard_normal(t.size)
    record = captures.Trace("ramp", v, 1e-3, captures.Settings("scope", "CH1"))
    fitted = captures.fit_model(record, line, {"a": "3 V", "b": "1 V/s"})
    assert [row[0] for row in fitted.table().rows] == ["a", "b"]
    assert len(repr(fitted)) < 2000
    shown = repr(captures.beside(record, line, {"a": "1 V", "b": "2 V/s"}))
    assert "residuals" in shown


def test_a_spectrum_shows_its_largest_tones():
    t = np.arange(1000) * 1e-3
    v = 2**0.5 * np.sin(2 * np.pi * 50 * t) + 0.2 * np.sin(2 * np.pi * 120 * t)
    record = captures.Trace("hum", v, 1e-3, captures.Settings("scope", "CH1"))
    table = captures.spectrum_of(record).table()
    assert table.rows[0] == ("50 Hz", "1 V")
    assert table.rows[1][0] == "120 Hz"
    assert "hann window" in table.notes[0]
