"""Mean, alternating part, polarity, and simple meters."""

import numpy as np
import pytest

from benchproof.measuring.circuits import waveforms
from benchproof.values.errors import InputError

PHASE = np.arange(100_000) / 100_000
SINE = np.sin(2 * np.pi * PHASE)
TRIANGLE = 1 - 4 * np.abs(PHASE - 0.5)
SQUARE = np.where(PHASE < 0.5, 1.0, -1.0)


def rms(trace):
    return np.sqrt(np.mean(trace**2))


def test_mean_and_alternating_part_make_the_effective_value():
    trace = 12.5 + 3.6 * SINE
    whole = waveforms.total_rms(np.mean(trace), rms(trace - np.mean(trace)))
    assert whole == pytest.approx(rms(trace))
    assert waveforms.total_rms(12.52, 3.60) == pytest.approx(13.03, abs=0.005)


def test_ripple_is_a_share_of_the_size_of_the_mean():
    assert waveforms.ripple_factor(-10.0, 1.0) == pytest.approx(0.1)
    with pytest.raises(InputError, match="DC-coupled"):
        waveforms.ripple_factor(0.0, 1.0)


def test_form_factor_works_along_the_last_axis():
    pulses = np.array([[1.0, 0.0, 0.0, 0.0], [2.0, 2.0, 2.0, 2.0]])
    assert waveforms.form_factor(pulses) == pytest.approx([2.0, 1.0])
    with pytest.raises(InputError, match="form_factor: mean"):
        waveforms.form_factor(np.array([1.0, -1.0]))


# Shape factors: form 1.1107, 1.1547, 1 and misreading 0, -3.8 %, +11 %, as published
# in a table of waveforms (read, recomputed).
@pytest.mark.parametrize(
    ("trace", "form", "bias"),
    [(SINE, 1.1107, 0.0), (TRIANGLE, 1.1547, -0.0381), (SQUARE, 1.0, 0.1107)],
)
def test_an_average_meter_misreads_shapes_as_published(trace, form, bias):
    assert rms(trace) / np.mean(np.abs(trace)) == pytest.approx(form, abs=5e-5)
    shown = waveforms.average_responding_reading(trace)
    assert shown / rms(trace) - 1 == pytest.approx(bias, abs=1e-4)
    assert waveforms.average_responding_bias(form) == pytest.approx(bias, abs=1e-4)


def test_an_average_meter_does_not_see_the_mean():
    shown = waveforms.average_responding_reading(SINE + 5.0)
    assert shown == pytest.approx(rms(SINE))


def test_several_records_are_read_each_on_its_own():
    records = np.stack([SINE, 2 * SINE + 1.0, np.abs(SINE)])
    each = [waveforms.average_responding_reading(record) for record in records]
    assert waveforms.average_responding_reading(records) == pytest.approx(each)


def test_no_waveform_has_a_form_factor_below_one():
    with pytest.raises(InputError, match="1 or more"):
        waveforms.average_responding_bias(0.99)


def test_a_half_wave_meter_reads_direct_voltage_one_way_only():
    assert waveforms.half_wave_reading(1.0) == pytest.approx(2.221, abs=5e-4)
    assert waveforms.half_wave_reading(np.array([-14.86])) == 0.0
    rectified = np.maximum(SINE, 0)
    scale = rms(SINE) / np.mean(rectified)
    assert waveforms.half_wave_reading(1.0) == pytest.approx(scale, rel=1e-6)


def test_polarity_reverses_only_beyond_uncertainty_and_noise():
    minimum = np.array([13.5, -0.05, -0.2])
    assert waveforms.polarity_reverses(minimum, 0.05, 0.05).tolist() == [
        False,
        False,
        True,
    ]
    with pytest.raises(InputError, match="noise"):
        waveforms.polarity_reverses(1.0, 0.05, -0.1)


def test_ac_coupling_loses_a_step_within_its_time_constant():
    tau = 1 / (2 * np.pi * 10.0)
    lost = waveforms.coupling_droop(tau, 10.0)
    assert lost == pytest.approx(1 - np.exp(-1))
    assert waveforms.coupling_droop(0.0, 10.0) == 0.0
