"""A circuit model beside a capture: its residuals, and its parameters fitted."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from benchproof.measuring.captures.finding import Finding
from benchproof.measuring.captures.fits import (
    Fitted,
    Points,
    fit_findings,
    points_of,
)
from benchproof.measuring.captures.noise import noise_within
from benchproof.measuring.captures.trace import Floats, Trace
from benchproof.values.errors import FormulaError, InputError
from benchproof.values.units import unit_of

Model = Callable[..., Any]
"""``model(t, R=…, C=…)``: times in s, shape (n,), to values in SI, shape (n,)."""


@dataclass(frozen=True, slots=True)
class Comparison:
    """A model's curve beside the record.

    Attributes
    ----------
    times, record, curve : array, shape (n,)
        In s and SI.
    parameters : dict of str to Finding
        Fitted; empty if all were given.
    notes : tuple of str
        How well they agree.
    """

    times: Floats
    record: Floats
    curve: Floats
    parameters: dict[str, Finding]
    notes: tuple[str, ...]

    @property
    def residuals(self) -> Floats:
        """Record less model, in SI, shape (n,)."""
        return self.record - self.curve


def beside(
    trace: Trace,
    model: Model,
    parameters: Mapping[str, float],
    first: int = 0,
    last: int | None = None,
) -> Comparison:
    """Compute a model at the times of a record, without fitting anything.

    Parameters
    ----------
    parameters : mapping of str to float
        In SI, by the names of the model's arguments after the time.

    Raises
    ------
    FormulaError
        If the model does not return one finite value for each time.

    Examples
    --------
    >>> from benchproof.measuring.captures.trace import Settings
    >>> def discharge(t, V, tau):
    ...     return V * np.exp(-t / tau)
    >>> v = 12 * np.exp(-np.arange(100) * 1e-3 / 0.05)
    >>> record = Trace("r", v, 1e-3, Settings("scope", "CH1"))
    >>> shown = beside(record, discharge, {"V": 12.0, "tau": 0.05})
    >>> bool(abs(shown.residuals).max() < 1e-12)
    True
    """
    points = points_of(trace, first, last)
    curve = _computed(model, points.times, dict(parameters))
    return Comparison(
        points.times, points.values, curve, {}, _agreement(trace, points, curve)
    )


def fit_model(
    trace: Trace,
    model: Model,
    start: Mapping[str, float],
    units: Mapping[str, str],
    fixed: Mapping[str, float] | None = None,
    first: int = 0,
    last: int | None = None,
) -> Comparison:
    """Fit a model's parameters to a record by least squares.

    Parameters
    ----------
    model : callable
        A plain function of the time and its parameters, or from `ode_model`.
    start : mapping of str to float
        Where the search begins, in SI, not 0; order of magnitude is enough.
    units : mapping of str to str
        Of the fitted parameters, for display.
    fixed : mapping of str to float, optional
        Parameters that are not fitted, in SI.

    Raises
    ------
    InputError
        If a start is 0 or has no unit, or the record does not determine them.
    FormulaError
        If the model gives no finite values or the search does not end.

    Examples
    --------
    >>> from benchproof.measuring.captures.trace import Settings
    >>> def discharge(t, V, tau):
    ...     return V * np.exp(-t / tau)
    >>> noise = 0.01 * np.random.default_rng(3).standard_normal(2000)
    >>> v = 12 * np.exp(-np.arange(2000) * 1e-4 / 0.05) + noise
    >>> record = Trace("r", v, 1e-4, Settings("scope", "CH1"))
    >>> start, units = {"V": 5.0, "tau": 0.1}, {"V": "V", "tau": "ms"}
    >>> fitted = fit_model(record, discharge, start, units)
    >>> round(fitted.parameters["tau"].value * 1e3, 1)
    50.0
    """
    from scipy.optimize import least_squares

    names, scale = _names(trace, start, units), np.array(list(start.values()), float)
    points, held = points_of(trace, first, last), dict(fixed or {})

    def curve_at(shares: Floats) -> Floats:
        values = dict(zip(names, (shares * scale).tolist(), strict=True))
        return _computed(model, points.times, {**held, **values})

    found = least_squares(
        lambda x: curve_at(x) - points.values,
        np.ones(scale.size), jac="3-point", x_scale="jac", xtol=1e-12, ftol=1e-12,
        gtol=None,
    )  # fmt: skip
    if not found.success:
        raise FormulaError(
            f"{trace.name}: the fit of {', '.join(names)} does not settle "
            f"({found.message}). Begin nearer, or fix a parameter."
        )
    curve = curve_at(found.x)
    fitted = Fitted(found.x * scale, curve, found.jac / scale)
    shown = [unit_of(units[name]) for name in names]
    label = f"model {getattr(model, '__name__', 'given')}"
    parameters = fit_findings(trace, points, fitted, names, shown, label)
    notes = _agreement(trace, points, curve)
    return Comparison(points.times, points.values, curve, parameters, notes)


def ode_model(
    slope: Callable[..., Any],
    initial: Callable[..., Sequence[float]] | Sequence[float],
    output: int = 0,
    relative: float = 1e-8,
) -> Model:
    """Turn a circuit's differential equations into a model of the time.

    Parameters
    ----------
    slope : callable
        ``slope(t, state, **parameters)``: derivative of each state with time, SI.
    initial : sequence of float, or callable
        The states at the first time of the record; or ``initial(**parameters)``.
    output : int
        Which state the record shows.
    relative : float
        Tolerance of the integration.

    Returns
    -------
    callable
        For `fit_model` and `beside`.

    Examples
    --------
    >>> def slope(t, state, tau):
    ...     return [(5.0 - state[0]) / tau]
    >>> model = ode_model(slope, initial=[0.0])
    >>> v = model(np.array([0.0, 1.0, 2.0]), tau=1.0)
    >>> [round(float(x), 4) for x in v]
    [0.0, 3.1606, 4.3233]
    """

    def model(t: Floats, **parameters: float) -> Floats:
        from scipy.integrate import solve_ivp

        begin = initial(**parameters) if callable(initial) else initial
        done = solve_ivp(
            lambda time, state: slope(time, state, **parameters),
            (float(t[0]), float(t[-1])), list(begin), t_eval=t, method="LSODA",
            rtol=relative, atol=1e-10 * max(1e-3, *map(abs, begin)),
        )  # fmt: skip
        if not done.success:
            raise FormulaError(
                f"the differential equations could not be solved: {done.message}. "
                f"Parameters: {parameters}."
            )
        return np.asarray(done.y[output])

    model.__name__ = getattr(slope, "__name__", "equations")
    return model


def _names(
    trace: Trace, start: Mapping[str, float], units: Mapping[str, str]
) -> list[str]:
    for name, value in start.items():
        if name not in units:
            raise InputError(
                f"{trace.name}: parameter {name!r} has no unit. Add it to units."
            )
        if not (np.isfinite(value) and value != 0):
            raise InputError(
                f"{trace.name}: parameter {name!r} starts at {value:g}. Give a start "
                "of the right order of magnitude, or fix it."
            )
    return list(start)


def _computed(model: Model, times: Floats, parameters: dict[str, float]) -> Floats:
    curve = np.asarray(model(times, **parameters), dtype=np.float64)
    if curve.shape != times.shape or not np.isfinite(curve).all():
        raise FormulaError(
            f"the model gave {curve.shape} values, {int(np.isfinite(curve).sum())} of "
            f"them finite, for {times.shape} times with {parameters}. Return one "
            "finite value for each time."
        )
    return curve


def _agreement(trace: Trace, points: Points, curve: Floats) -> tuple[str, ...]:
    """Say how large the residuals are beside the noise, and how long their runs."""
    residuals = points.values - curve
    rms = float(np.sqrt(np.square(residuals).mean()))
    noise = noise_within(trace).standard_deviation / points.each**0.5
    runs = 1 + int((np.diff(np.signbit(residuals)) != 0).sum())
    expected = residuals.size / 2
    said = [
        f"residuals {rms:.3g} (SI, rms), largest {np.abs(residuals).max():.3g}; noise "
        f"of the record {noise:.3g}"
    ]
    if runs < 0.5 * expected:
        said.append(
            f"{runs} runs of one sign where {expected:.0f} are usual: model and record "
            "part systematically"
        )
    return tuple(said)
