import numpy as np
import pytest
from captures.invented import SCOPE, covers, errors_in_u, in_codes, record

from benchproof.measuring.captures.decays import decay_of, still_to_go
from benchproof.values.errors import InputError

TAU, SIZE, END = 7.5e-3, 4.0, 1.0


def decay(rng, count=4000, sigma=0.02, alike=1):
    t = np.arange(count) * 1e-5
    white = rng.standard_normal(count + alike - 1)
    noise = np.convolve(white, np.full(alike, 1 / alike**0.5), mode="valid")
    return record(END + SIZE * np.exp(-t / TAU) + sigma * noise)


@pytest.mark.parametrize(
    ("name", "truth"),
    [("time constant", TAU), ("amplitude", SIZE), ("final value", END)],
)
@pytest.mark.parametrize("alike", [1, 12])
def test_u_of_a_decay_covers_its_parameters(name, truth, alike):
    errors = errors_in_u(lambda rng: decay_of(decay(rng, alike=alike))[name], truth, 80)
    assert covers(errors)
    assert np.sqrt(np.mean(errors**2)) > 0.6


def test_u_with_a_known_final_value_covers_and_is_smaller():
    fixed = errors_in_u(
        lambda rng: decay_of(decay(rng), final=END)["time constant"], TAU
    )
    assert covers(fixed)
    trace = decay(np.random.default_rng(1), 2000)
    free, known = decay_of(trace), decay_of(trace, final=END)
    u = [each["time constant"].standard_uncertainty for each in (free, known)]
    assert u[1] < 0.5 * u[0]


def test_charging_is_a_decay_of_negative_amplitude():
    v = 5 * (1 - np.exp(-np.arange(5000) / 700))
    found = decay_of(record(v, 1e-6))
    assert found["time constant"].value == pytest.approx(700e-6, rel=1e-6)
    assert found["amplitude"].value == pytest.approx(-5, rel=1e-6)
    assert found["final value"].value == pytest.approx(5, rel=1e-6)


def test_the_fit_agrees_with_a_general_least_squares():
    from scipy.optimize import curve_fit

    trace = decay(np.random.default_rng(2))
    t, v = np.arange(4000) * 1e-5, trace.values()
    best, cov = curve_fit(
        lambda t, tau, a, c: a * np.exp(-t / tau) + c, t, v, p0=[5e-3, 3, 0.5]
    )
    found = list(decay_of(trace).values())
    for i, each in enumerate(found):
        assert each.value == pytest.approx(best[i], rel=1e-5)
        ratio = each.standard_uncertainty / cov[i, i] ** 0.5
        assert 0.95 < ratio < 1.3


def test_a_long_record_is_averaged_in_groups_without_changing_the_time_constant():
    t = np.arange(300_000) / 40_000
    found = decay_of(record(1 + 4 * np.exp(-t), 1e-6))
    assert found["time constant"].value == pytest.approx(0.04, rel=1e-6)


def test_a_wrong_offset_moves_the_time_constant_of_a_decay_to_zero():
    t = np.arange(4000) * 1e-5
    trace = in_codes(5 * np.exp(-t / TAU))
    tau = decay_of(trace, final=0.0)["time constant"]
    (source, c) = next((s, c) for s, c in tau.parts if s.pool)
    moved = decay_of(record(trace.values() + 0.01), final=0.0)["time constant"]
    assert c * 0.01 == pytest.approx(moved.value - tau.value, rel=0.1)
    free = decay_of(trace)["time constant"]
    assert not any(abs(c) > 1e-6 for s, c in free.parts if s.pool)


def test_gain_moves_the_amplitude_and_not_the_time_constant():
    t = np.arange(4000) * 1e-5
    found = decay_of(in_codes(1 + 4 * np.exp(-t / TAU)))
    c = {
        name: sum(c for s, c in each.parts if s.name.endswith("· gain"))
        for name, each in found.items()
    }
    assert c["amplitude"] == pytest.approx(found["amplitude"].value, rel=1e-6)
    assert c["time constant"] == pytest.approx(0, abs=1e-9)


def test_the_time_base_moves_the_time_constant_by_itself():
    t = np.arange(4000) * 1e-5
    found = decay_of(record(1 + 4 * np.exp(-t / TAU), settings=SCOPE))["time constant"]
    (c,) = (c for s, c in found.parts if s.name.endswith("time base"))
    assert abs(c) == pytest.approx(TAU, rel=0.01)


def test_errors_of_fitted_parameters_stay_correlated():
    found = decay_of(decay(np.random.default_rng(3), 1000))
    rows = [
        {s.name: c for s, c in found[n].parts} for n in ("amplitude", "final value")
    ]
    product = sum(rows[0].get(k, 0.0) * c for k, c in rows[1].items())
    u = [found[n].standard_uncertainty for n in ("amplitude", "final value")]
    assert product / (u[0] * u[1]) < -0.5


def test_two_time_constants_are_noticed():
    t = np.arange(6000) / 1000
    noise = 0.002 * np.random.default_rng(4).standard_normal(6000)
    found = decay_of(record(np.exp(-t) + np.exp(-10 * t) + noise))["time constant"]
    assert any("does not describe all of it" in note for note in found.notes)


def test_a_line_is_no_decay():
    found = decay_of(record(np.linspace(5, 4, 2000)))
    assert "show no decay" in found["time constant"].cannot_tell


def test_what_cannot_be_told_has_nothing_to_go():
    found = decay_of(record(np.linspace(5, 4, 2000)))
    with pytest.raises(InputError, match="no time constant"):
        still_to_go(found, 1.0)


# F23: 4.605 time constants to within 1 %.
def test_after_4_605_time_constants_one_percent_is_left():
    found = decay_of(record(np.exp(-np.arange(5000) / 700)))
    tau = found["time constant"].value
    assert still_to_go(found, 4.605 * tau) == pytest.approx(0.01, rel=1e-3)


def test_what_does_not_fall_is_no_decay():
    for v in (np.full(500, 5.0), np.tile([0.0, 5.0, 5.0], 300)):
        found = decay_of(record(v))
        for each in found.values():
            assert "show no decay" in each.cannot_tell
