import numpy as np
import pytest
from captures.invented import covers, errors_in_u, in_codes, record

from benchproof.measuring.captures.model import beside, fit_model, ode_model
from benchproof.values.errors import FormulaError, InputError

V, R, C = 11.7, 0.317, 2200e-6


def charging(t, R, C):
    """Voltage of a capacitor charged through a resistance, from t = 0."""
    return V * (1 - np.exp(-t / (R * C)))


def discharge(t, start, tau):
    return start * np.exp(-t / tau)


def sagging(t, state, P, R):
    """A constant power fed from a capacitor behind a resistance: not linear."""
    return [((V - state[0]) / R - P / state[0]) / C]


UNITS = {"start": "V", "tau": "ms"}


def noisy(rng):
    t = np.arange(2000) * 1e-4
    return record(discharge(t, 12, 0.05) + 0.02 * rng.standard_normal(2000), 1e-4)


@pytest.mark.parametrize(("name", "truth"), [("start", 12.0), ("tau", 0.05)])
def test_u_of_a_fitted_parameter_covers_it(name, truth):
    def fitted(rng):
        guess = {"start": 9.0, "tau": 0.1}
        return fit_model(noisy(rng), discharge, guess, UNITS).parameters[name]

    assert covers(errors_in_u(fitted, truth, 80))


def test_differential_equations_are_fitted_like_a_formula():
    t = np.arange(1500) * 2e-6
    model = ode_model(sagging, initial=[10.0])
    v = model(t, P=30.0, R=0.5)
    noise = 0.01 * np.random.default_rng(1).standard_normal(t.size)
    found = fit_model(
        record(v + noise, 2e-6), model, {"P": 20.0, "R": 0.3}, {"P": "W", "R": "ohm"}
    ).parameters
    for name, truth in (("P", 30.0), ("R", 0.5)):
        each = found[name]
        assert abs(each.value - truth) < 3 * each.standard_uncertainty
        assert each.standard_uncertainty < 0.2 * truth


# F31: 12 V, 0.5 Ω, 30 W settle at 10.58 V.
def test_the_equations_settle_where_the_formula_has_it():
    def fed(t, state, P):
        return [((12.0 - state[0]) / 0.5 - P / state[0]) / 1e-3]

    v = ode_model(fed, initial=[11.0])(np.linspace(0, 0.05, 50), P=30.0)
    assert v[-1] == pytest.approx(10.58, abs=0.005)


def test_resistance_and_capacitance_are_not_determined_by_their_product():
    t = np.arange(1000) * 1e-6
    trace = record(charging(t, R, C), 1e-6)
    with pytest.raises(InputError, match="does not determine R, C together"):
        fit_model(trace, charging, {"R": 0.3, "C": 2e-3}, {"R": "ohm", "C": "µF"})
    known = fit_model(trace, charging, {"R": 0.3}, {"R": "ohm"}, fixed={"C": C})
    assert known.parameters["R"].value == pytest.approx(R, rel=1e-6)


def test_gain_of_the_channel_goes_where_the_model_lets_it():
    t = np.arange(2000) * 1e-4
    trace = in_codes(discharge(t, 6, 0.05), interval=1e-4)
    found = fit_model(trace, discharge, {"start": 5.0, "tau": 0.1}, UNITS).parameters
    c = {
        name: sum(c for s, c in each.parts if s.name.endswith("· gain"))
        for name, each in found.items()
    }
    assert c["start"] == pytest.approx(found["start"].value, rel=1e-4)
    assert c["tau"] == pytest.approx(0, abs=1e-7)


def test_a_model_beside_a_record_shows_where_it_departs():
    rng = np.random.default_rng(2)
    right = beside(noisy(rng), discharge, {"start": 12.0, "tau": 0.05})
    wrong = beside(noisy(rng), discharge, {"start": 12.0, "tau": 0.06})
    assert len(right.notes) == 1
    assert "part systematically" in wrong.notes[1]
    assert np.abs(wrong.residuals).max() > 5 * np.abs(right.residuals).std()


def test_a_model_without_one_value_for_each_time_is_refused():
    trace = noisy(np.random.default_rng(3))
    with pytest.raises(FormulaError, match="Return one finite value for each time"):
        beside(trace, lambda t: t[:5], {})
    with pytest.raises(FormulaError, match="0 of them finite"):
        beside(trace, lambda t: t * np.nan, {})


@pytest.mark.parametrize(
    ("start", "said"), [({"tau": 0.0}, "starts at 0"), ({"q": 1.0}, "'q' has no unit")]
)
def test_a_start_of_zero_or_without_unit_is_refused(start, said):
    with pytest.raises(InputError, match=said):
        fit_model(noisy(np.random.default_rng(4)), discharge, start, UNITS)
