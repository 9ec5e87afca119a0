"""A circuit model beside a capture: its residuals, and its parameters fitted."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from benchproof.measuring.captures.finding import Found
from benchproof.measuring.captures.fits import (
    Fitted,
    Points,
    fit_findings,
    points_of,
)
from benchproof.measuring.captures.noise import noise_within
from benchproof.measuring.captures.stated import Stated, in_si, number_and_unit
from benchproof.measuring.captures.trace import Floats, Trace
from benchproof.measuring.captures.wording import told_difference
from benchproof.values.errors import FormulaError, InputError
from benchproof.values.tables import Table, Tabular
from benchproof.values.units import Unit, require_same_dimension, unit_of

Model = Callable[..., Any]
"""``model(t, R=…, C=…)``: times in s, shape (n,), to values in SI, shape (n,)."""


@dataclass(frozen=True, slots=True, repr=False)
class Comparison(Tabular):
    """A model's curve beside the record.

    Attributes
    ----------
    times, record, curve : array, shape (n,)
        In s and SI.
    parameters : Found
        Fitted; empty if all were given.
    notes : tuple of str
        How well they agree.
    """

    times: Floats
    record: Floats
    curve: Floats
    parameters: Found
    notes: tuple[str, ...]

    @property
    def residuals(self) -> Floats:
        """Record less model, in SI, shape (n,)."""
        return self.record - self.curve

    def table(self) -> Table:
        """Return the fitted parameters, and how well curve and record agree."""
        found = self.parameters.table()
        return replace(found, notes=(*self.notes, *found.notes))


def beside(
    trace: Trace,
    model: Model,
    parameters: Mapping[str, Stated],
    first: int | str = 0,
    last: int | str | None = None,
) -> Comparison:
    """Compute a model at the times of a record, without fitting anything.

    Parameters
    ----------
    parameters : mapping of str to str or float
        ``"4.7 kohm"``, or in SI, by the names of the model's arguments after the time.
    first, last : int or str
        Sample numbers of the stretch, or times, ``"12 ms"``.

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
    >>> shown = beside(record, discharge, {"V": "12 V", "tau": "50 ms"})
    >>> bool(abs(shown.residuals).max() < 1e-12)
    True
    """
    points = points_of(trace, *trace.stretch(first, last))
    curve = _computed(model, points.times, _in_si(trace, parameters))
    notes = _agreement(trace, points, curve)
    return Comparison(points.times, points.values, curve, Found(), notes)


def fit_model(
    trace: Trace,
    model: Model,
    start: Mapping[str, Stated],
    units: Mapping[str, str] | None = None,
    fixed: Mapping[str, Stated] | None = None,
    first: int | str = 0,
    last: int | str | None = None,
) -> Comparison:
    """Fit a model's parameters to a record by least squares.

    Parameters
    ----------
    model : callable
        A plain function of the time and its parameters, or from `ode_model`.
    start : mapping of str to str or float
        Where the search begins, ``"4.7 kohm"`` or in SI, not 0; order of magnitude is
        enough.
    units : mapping of str to str, optional
        In which the fitted parameters are shown; else in those of their starts.
    fixed : mapping of str to str or float, optional
        Parameters that are not fitted.
    first, last : int or str
        Sample numbers of the stretch, or times, ``"12 ms"``.

    Raises
    ------
    InputError
        If a start is 0 or has no unit, or the record does not determine them.
    FormulaError
        If the model gives no finite values or the search does not end.

    Notes
    -----
    Parameters that a notebook keeps, ``case.captures.keep("tau",
    fitted.parameters["tau"])``, enter budgets and results.json with their correlation.

    Examples
    --------
    >>> from benchproof.measuring.captures.trace import Settings
    >>> def discharge(t, V, tau):
    ...     return V * np.exp(-t / tau)
    >>> noise = 0.01 * np.random.default_rng(3).standard_normal(2000)
    >>> v = 12 * np.exp(-np.arange(2000) * 1e-4 / 0.05) + noise
    >>> record = Trace("r", v, 1e-4, Settings("scope", "CH1"))
    >>> fitted = fit_model(record, discharge, {"V": "5 V", "tau": "100 ms"})
    >>> round(fitted.parameters["tau"].value * 1e3, 1)
    50.0
    """
    from scipy.optimize import least_squares

    names, shown = list(start), _shown(trace, start, units or {})
    scale = np.array(list(_in_si(trace, start).values()))
    if (wrong := np.flatnonzero(scale == 0)).size:
        raise InputError(
            f"{trace.name}: parameter {names[wrong[0]]!r} starts at 0. Give a start of "
            "the right order of magnitude, or fix it."
        )
    points = points_of(trace, *trace.stretch(first, last))
    held = _in_si(trace, fixed or {})

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


def _in_si(trace: Trace, parameters: Mapping[str, Stated]) -> dict[str, float]:
    where = f"{trace.name}, parameter"
    return {n: in_si(v, None, f"{where} {n!r}") for n, v in parameters.items()}


def _shown(
    trace: Trace, start: Mapping[str, Stated], units: Mapping[str, str]
) -> list[Unit]:
    """Return the unit of each parameter: as asked, or that of its start."""
    found = []
    for name, said in start.items():
        where = f"{trace.name}, parameter {name!r}"
        own = number_and_unit(said, where)[1]
        unit = unit_of(units[name]) if name in units else own
        if unit is None:
            raise InputError(
                f"{where} has no unit. Write its start with one, '5 V', or add it to "
                "units."
            )
        if own is not None:
            require_same_dimension(own, unit, where)
        found.append(unit)
    return found


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
    residuals, unit = points.values - curve, trace.settings.unit
    rms = float(np.sqrt(np.square(residuals).mean()))
    noise = noise_within(trace).standard_deviation / points.each**0.5
    runs = 1 + int((np.diff(np.signbit(residuals)) != 0).sum())
    expected = residuals.size / 2
    said = [
        f"residuals {told_difference(rms, unit)} rms, largest "
        f"{told_difference(float(np.abs(residuals).max()), unit)}; noise of the record "
        f"{told_difference(noise, unit)}"
    ]
    if runs < 0.5 * expected:
        said.append(
            f"{runs} runs of one sign where {expected:.0f} are usual: model and record "
            "part systematically"
        )
    return tuple(said)
