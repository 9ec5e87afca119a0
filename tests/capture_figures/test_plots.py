"""The figure of a capture shows what was declared and found, and says it in words."""

import re
from dataclasses import replace
from html import unescape
from xml.etree import ElementTree

import numpy as np
import pytest
from captures.invented import PLAIN, in_codes, record

from benchproof.measuring.captures.dips import dips_of, swells_of
from benchproof.measuring.captures.trace import Trace
from benchproof.showing.captures.plots import figure_of_capture
from benchproof.showing.page.outputs import render_output
from benchproof.values.errors import InputError, UnitError
from benchproof.values.units import unit_of

STEP = 32 / 256


def rail(count=20_000, floors=(8.3,), noise=0.03, **more):
    """A rail of 12 V, a dip of 40 ms for each floor; 10 µs a sample."""
    v = 12 + noise * np.random.default_rng(4).standard_normal(count)
    for k, floor in enumerate(floors):
        v[3000 + 6000 * k : 7000 + 6000 * k] -= 12 - floor
    return in_codes(v, step=STEP, name="rail.csv · CH1", **more)


def words(drawing):
    """Return the texts written in the picture."""
    found = re.findall(r"<text[^>]*>([^<]*)</text>", drawing.svg)
    return unescape(" ".join(found))


def test_threshold_hysteresis_and_duration_with_u_stand_in_the_picture():
    trace = rail()
    drawing = figure_of_capture(
        trace, threshold="8.80 V", hysteresis="0.50 V", dips=dips_of(trace, 8.8, 0.5)
    )
    said = words(drawing)
    assert "threshold 8.8 V" in said
    assert "hysteresis, to 9.3 V" in said
    assert re.search(r"\d+\.\d+ ± 0\.\d+ ms", said)
    assert "dip: duration ± u" in said


def test_the_duration_written_is_the_one_that_was_found():
    trace = rail()
    (dip,) = dips_of(trace, 8.8, 0.5).dips
    said = words(figure_of_capture(trace, dips=dips_of(trace, 8.8, 0.5)))
    number, u = re.search(r"(\d+\.\d+) ± (\d+\.\d+) ms", said).groups()
    u_ms = 1e3 * dip.duration.standard_uncertainty
    # Two figures of u, and the value rounded to the same place.
    assert float(number) == pytest.approx(1e3 * dip.duration.value, abs=u_ms / 10)
    assert float(u) == pytest.approx(u_ms, rel=0.05)


def test_the_settings_stand_below():
    said = words(figure_of_capture(rail()))
    for part in ("invented scope", "16 V", "8 bit", "DC-coupled", "probe 1:1"):
        assert part in said


def test_the_alternative_has_numbers_count_and_the_lowest_value():
    trace = rail(floors=(8.3, 8.5))
    alt = figure_of_capture(trace, dips=dips_of(trace, 8.8, 0.5)).alt
    low = trace.values().min()
    assert f"lowest sample {low:.3f} V" in alt
    assert "2 dips" in alt
    assert "dip 1 from" in alt
    assert "dip 2 from" in alt
    assert "Threshold 8.8 V, hysteresis up to 9.3 V" in alt


def test_without_a_dip_the_alternative_says_so():
    trace = rail(floors=())
    drawing = figure_of_capture(
        trace, threshold=8.8, hysteresis=0.5, dips=dips_of(trace, 8.8, 0.5)
    )
    assert "0 dips" in drawing.alt
    assert "duration ± u" not in words(drawing)


def test_a_swell_ends_below_its_threshold():
    v = np.full(5000, 12.0)
    v[2000:3000] = 14.5
    trace = record(v)
    drawing = figure_of_capture(trace, dips=swells_of(trace, 14.0, 0.2))
    assert "Threshold 14 V, hysteresis down to 13.8 V" in drawing.alt
    assert "highest 14.50" in drawing.alt
    assert "swell: duration ± u" in words(drawing)


def test_threshold_and_hysteresis_are_read_back_from_the_dips():
    trace = rail()
    found = dips_of(trace, 8.8, 0.5)
    named = figure_of_capture(trace, threshold=8.8, hysteresis=0.5, dips=found)
    assert figure_of_capture(trace, dips=found).alt == named.alt


@pytest.mark.parametrize(("threshold", "hysteresis"), [(8.9, 0.5), (8.8, 0.6)])
def test_dips_found_with_another_threshold_are_refused(threshold, hysteresis):
    trace = rail()
    found = dips_of(trace, 8.8, 0.5)
    with pytest.raises(InputError, match="what is marked was found with"):
        figure_of_capture(trace, threshold=threshold, hysteresis=hysteresis, dips=found)


def test_dips_of_another_record_are_refused():
    found = dips_of(rail(), 8.8, 0.5)
    with pytest.raises(InputError, match="Give the ones of this record"):
        figure_of_capture(rail(floors=(), noise=0), dips=found)
    with pytest.raises(InputError, match="Give the ones of this record"):
        figure_of_capture(rail(count=2000, floors=()), dips=found)


def test_dips_of_an_inverted_record_are_its_own():
    codes = rail().codes
    trace = Trace("turned", -codes.astype(np.int16), 1e-5, PLAIN, step=-STEP)
    alt = figure_of_capture(trace, dips=dips_of(trace, 8.8, 0.5)).alt
    assert "1 dip;" in alt
    assert f"lowest sample {codes.min() * STEP:.3f} V" in alt


def test_dips_outside_the_window_are_counted_but_not_marked():
    trace = rail(floors=(8.3, 8.5))
    drawing = figure_of_capture(
        trace, dips=dips_of(trace, 8.8, 0.5), first="0 ms", last="80 ms"
    )
    assert "2 dips" in drawing.alt
    assert "1 of them drawn" in drawing.alt
    assert "dip 2 from" not in drawing.alt


def test_of_very_many_dips_the_longest_are_marked_and_the_drawing_stays_small():
    v = np.full(200_000, 12.0)
    for k in range(300):
        v[600 * k + 100 : 600 * k + 110 + k] = 8.0
    trace = record(v)
    drawing = figure_of_capture(trace, dips=dips_of(trace, 8.8, 0.5))
    assert "300 dips" in drawing.alt
    assert "the 40 longest are marked" in drawing.alt
    assert "dip 300 from" in drawing.alt
    assert "295 shorter ones" in drawing.alt
    assert len(drawing.svg) < 60_000


def test_where_a_record_cannot_tell_its_dips_the_figure_says_why():
    trace = rail()
    found = dips_of(trace, 5.0, 0.5, shortest=1e-5)
    drawing = figure_of_capture(trace, threshold=5.0, hysteresis=0.5, dips=found)
    assert "dips: cannot tell: no dip was seen, but samples every" in drawing.alt


def test_a_residual_that_was_clipped_has_no_value_in_the_words():
    v = np.full(20_000, 6.0)
    v[8000:12_000] = -9.0
    trace = in_codes(v)
    drawing = figure_of_capture(trace, dips=dips_of(trace, 0.0, 0.5))
    assert "residual cannot tell" in drawing.alt
    assert "clipped at the low end of the scale, -8.00 V, in 1 place" in drawing.alt
    assert ">clipped</text>" in drawing.svg


def test_clipping_is_not_known_where_the_ends_of_the_scale_are_not_stated():
    trace = replace(rail(), rails=None)
    assert "clipping not known" in figure_of_capture(trace).alt
    sound = figure_of_capture(rail())
    assert "clip" not in sound.alt
    assert "clipped" not in words(sound)


def test_a_threshold_has_a_unit_of_its_own():
    trace = rail()
    assert "Threshold 8.8 V" in figure_of_capture(trace, threshold="8800 mV").alt
    with pytest.raises(UnitError, match="threshold"):
        figure_of_capture(trace, threshold="8.8 A")


def test_a_threshold_in_degrees_is_a_temperature_and_not_a_difference():
    warm = 273.15 + 20 + np.linspace(0, 30, 1000)
    trace = record(warm, settings=replace(PLAIN, unit=unit_of("°C")))
    drawing = figure_of_capture(trace, threshold="40 °C", hysteresis="2 K")
    assert "Threshold 40 °C, hysteresis up to 42 °C" in drawing.alt
    assert "lowest sample 20.00 °C" in drawing.alt
    with pytest.raises(InputError, match="threshold: '40' has no unit"):
        figure_of_capture(trace, threshold="40")
    for same in ("313.15 K", 313.15):
        assert "Threshold 40 °C" in figure_of_capture(trace, threshold=same).alt


def test_a_hysteresis_needs_a_threshold_and_a_width():
    with pytest.raises(InputError, match="without a threshold"):
        figure_of_capture(rail(), hysteresis=0.2)
    with pytest.raises(InputError, match="give one > 0"):
        figure_of_capture(rail(), threshold=8.8, hysteresis=0)


def test_a_capture_passes_into_a_write_up_with_its_words():
    trace = rail()
    drawing = figure_of_capture(trace, dips=dips_of(trace, 8.8, 0.5), title="A <b> & $")
    data, metadata = drawing._repr_mimebundle_()
    output = {"output_type": "display_data", "data": data, "metadata": metadata}
    page = render_output(output, place="code cell 3")
    assert page.count("<img") == 1
    assert 'src="data:image/svg+xml;base64,' in page
    assert drawing.alt in unescape(re.search(r'<img[^>]* alt="([^"]*)"', page)[1])


def test_the_drawing_fetches_nothing_and_is_whole_xml():
    drawing = figure_of_capture(rail(), threshold=8.8, title="A <b> & $x$")
    root = ElementTree.fromstring(drawing.svg)
    assert root.tag.endswith("svg")
    for element in root.iter():
        for name, value in element.attrib.items():
            if name.endswith("href"):
                assert value.startswith("#")
            assert "url(http" not in value
    assert "A <b> & $x$" in words(drawing)


def test_the_figure_has_the_same_bytes_on_every_call():
    trace = rail()
    assert figure_of_capture(trace).svg == figure_of_capture(trace).svg


def test_the_figure_stands_on_a_white_card_for_dark_pages():
    assert "fill:#fff" in figure_of_capture(rail()).svg


def test_a_record_that_never_changes_can_be_drawn():
    assert "lowest sample 0.000 V" in figure_of_capture(record(np.zeros(50))).alt
    assert figure_of_capture(record(np.full(5, 3.0))).svg


def test_noise_over_the_whole_screen_stays_a_small_drawing():
    codes = np.random.default_rng(7).integers(-90, 90, 3_000_000).astype(np.int8)
    trace = Trace("noise", codes, 1e-8, PLAIN, step=STEP)
    assert len(figure_of_capture(trace).svg) < 60_000
    # Floats have no codes that repeat: the largest drawing there can be.
    rough = record(np.random.default_rng(8).standard_normal(100_000))
    assert len(figure_of_capture(rough).svg) < 60_000
