"""A model is drawn beside the record, and what parts them below."""

import re
from html import unescape

import numpy as np
import pytest
from captures.invented import in_codes, record

from benchproof.measuring.captures.model import beside, fit_model
from benchproof.showing.captures.models import figure_of_model


def discharge(t, V, tau):
    return V * np.exp(-t / tau)


def bulk(count=5000, ripple=0.0):
    t = np.arange(count) * 1e-4
    noise = 0.01 * np.random.default_rng(9).standard_normal(count)
    v = discharge(t, 12.0, 0.05) + noise
    v[count // 2] += ripple
    return record(v, 1e-4, name="bulk.csv")


def words(drawing):
    found = re.findall(r"<text[^>]*>([^<]*)</text>", drawing.svg)
    return unescape(" ".join(found))


def test_fitted_parameters_stand_in_picture_and_words_with_u():
    trace = bulk()
    shown = fit_model(trace, discharge, {"V": 5.0, "tau": 0.1}, {"V": "V", "tau": "ms"})
    drawing = figure_of_model(shown, trace)
    tau = str(shown.parameters["tau"]).partition(" = ")[2]
    assert f"tau = {tau}" in words(drawing)
    assert f"tau = {tau}" in drawing.alt
    assert "u in brackets" in drawing.alt
    for note in shown.notes:
        assert note in drawing.alt


def test_a_model_that_was_not_fitted_says_so():
    trace = bulk()
    shown = beside(trace, discharge, {"V": 12.0, "tau": 0.05})
    assert "parameters given, none fitted" in figure_of_model(shown, trace).alt


def test_one_sample_beside_the_model_is_the_largest_residual_said():
    trace = bulk(ripple=-0.75)
    shown = beside(trace, discharge, {"V": 12.0, "tau": 0.05})
    alt = figure_of_model(shown, trace).alt
    lowest = float(re.search(r"Record less model: lowest (-\d\.\d+) V", alt)[1])
    assert lowest == pytest.approx(shown.residuals.min(), abs=1e-3)
    assert "at 250.0" in alt


def test_record_model_and_residuals_have_axes_with_units():
    trace = bulk()
    shown = beside(trace, discharge, {"V": 12.0, "tau": 0.05})
    said = words(figure_of_model(shown, trace))
    for part in ("CH1 in V", "residual in V", "time in ms", "record", "model"):
        assert part in said


def test_without_the_record_values_are_said_to_be_in_si():
    shown = beside(bulk(), discharge, {"V": 12.0, "tau": 0.05})
    drawing = figure_of_model(shown)
    assert "value (SI)" in words(drawing)
    assert "invented scope" not in drawing.alt


def test_a_model_that_agrees_wholly_can_be_drawn():
    v = np.full(100, 2.0)
    shown = beside(record(v), lambda t: np.full(t.shape, 2.0), {})
    assert "lowest 0.000 V" in figure_of_model(shown, record(v)).alt


def test_a_long_noisy_record_makes_a_small_drawing():
    rng = np.random.default_rng(6)
    trace = in_codes(rng.uniform(-7, 7, 200_000))
    shown = beside(trace, lambda t: 3 * np.sin(900 * t), {})
    assert len(figure_of_model(shown, trace).svg) < 60_000
