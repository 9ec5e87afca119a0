"""Exponential decays and charging curves: time constant, amplitude, final value."""

from __future__ import annotations

import numpy as np

from benchproof.measuring.captures.channel import settings_line
from benchproof.measuring.captures.extremes import extremes_of, unsound
from benchproof.measuring.captures.finding import Finding, Found, unknown
from benchproof.measuring.captures.fits import (
    Fitted,
    Points,
    fit_findings,
    points_of,
)
from benchproof.measuring.captures.stated import Stated, in_si
from benchproof.measuring.captures.trace import Floats, Trace
from benchproof.measuring.captures.wording import told
from benchproof.values.errors import InputError
from benchproof.values.units import unit_of

NAMES = ("time constant", "amplitude", "final value")
"""What `decay_of` finds; the last only where it is fitted."""

_GRID = 60
"""Time constants tried before the best is refined."""


def decay_of(
    trace: Trace,
    first: int | str = 0,
    last: int | str | None = None,
    final: Stated | None = None,
) -> Found:
    """Fit ``final + amplitude · e^(-(t - t0)/τ)`` to a stretch, t0 its first sample.

    Parameters
    ----------
    first, last : int or str
        Sample numbers of the stretch, or times, ``"12 ms"``; nothing else should
        happen in it.
    final : str or float, optional
        The value it decays to, ``"0 V"`` or in SI, if that is known: 0 for a
        discharge. Else it is fitted too, which needs about three time constants of
        record.

    Returns
    -------
    Found
        Of `NAMES`. Without values where the stretch is clipped or shows no decay.

    Raises
    ------
    InputError
        If the stretch has fewer than 10 samples, or gaps.

    Examples
    --------
    >>> from benchproof.measuring.captures.trace import Settings
    >>> noise = 0.01 * np.random.default_rng(5).standard_normal(5000)
    >>> v = 1 + 4 * np.exp(-np.arange(5000) / 1000) + noise
    >>> found = decay_of(Trace("r", v, 1e-6, Settings("scope", "CH1")))
    >>> round(found["time constant"].value * 1e3, 2)
    1.0
    """
    names = NAMES if final is None else NAMES[:2]
    unit = trace.settings.unit
    if final is not None:
        final = in_si(final, unit, f"{trace.name}, final")
    units = [unit_of("s"), unit, unit][: len(names)]
    ends = trace.stretch(first, last)
    points = points_of(trace, *ends)
    stretch = f"samples {ends[0]} to {ends[1]} of {trace.name}"
    reason = unsound(trace, extremes_of(trace, *ends))
    fitted = None if reason else _fitted(points, final)
    if fitted is None:
        reason = reason or (
            f"{stretch} show no decay whose time constant lies between the sample "
            "interval and ten times the record. Choose the stretch, or give the final "
            "value."
        )
        text = settings_line(trace)
        pairs = zip(names, units, strict=True)
        return Found({n: unknown(n, u, reason, text) for n, u in pairs})
    model = "decay" if final is None else f"decay to {told(final, unit)}"
    found = fit_findings(trace, points, fitted, names, units, model)
    size = found["amplitude"]
    dust = 1e-9 * float(np.abs(points.values).max())  # of a constant, by rounding
    if abs(size.value) > max(2 * size.standard_uncertainty, dust):
        return found
    reason = (
        f"{size} is not told apart from 0: {stretch} show no decay. Choose the stretch."
    )
    return Found({n: unknown(n, f.unit, reason, f.text) for n, f in found.items()})


def _fitted(points: Points, final: float | None) -> Fitted | None:
    """Search the time constant; amplitude and final value follow linearly."""
    from scipy.optimize import minimize_scalar

    since = points.times - points.times[0]
    span, step = float(since[-1]), float(since[1])

    def misfit(log_tau: float) -> float:
        return _linear(since, points.values, float(np.exp(log_tau)), final)[2]

    grid = np.linspace(np.log(step), np.log(10 * span), _GRID)
    tried = [misfit(x) for x in grid]
    best = int(np.argmin(tried))
    if best in (0, _GRID - 1):
        return None
    around = grid[best - 1], grid[best + 1]
    found = minimize_scalar(
        misfit, bounds=around, method="bounded", options={"xatol": 1e-10}
    )
    tau = float(np.exp(found.x))
    shares, curve, _ = _linear(since, points.values, tau, final)
    fall = np.exp(-since / tau)
    columns = [shares[0] * fall * since / tau**2, fall]
    if final is None:
        columns.append(np.ones_like(fall))
    values = np.array([tau, *shares])
    return Fitted(values, curve, np.column_stack(columns))


def _linear(
    since: Floats, values: Floats, tau: float, final: float | None
) -> tuple[Floats, Floats, float]:
    """Return amplitude (and final value), the curve, and the squared residuals."""
    fall = np.exp(-since / tau)
    base = 0.0 if final is None else final
    columns = [fall] if final is not None else [fall, np.ones_like(fall)]
    matrix = np.column_stack(columns)
    shares, *_ = np.linalg.lstsq(matrix, values - base, rcond=None)
    curve = matrix @ shares + base
    return shares, curve, float(np.square(values - curve).sum())


def still_to_go(found: dict[str, Finding], duration: float) -> float:
    """Return the share of the amplitude left after a duration, ``e^(-T/τ)``.

    Raises
    ------
    InputError
        If the time constant could not be told.

    Examples
    --------
    >>> tau = Finding("time constant", unit_of("s"), 7.5)
    >>> f"{still_to_go({'time constant': tau}, 30):.1%}"
    '1.8%'
    """
    tau = found["time constant"]
    if tau.cannot_tell:
        raise InputError(f"no time constant: {tau.cannot_tell}")
    return float(np.exp(-duration / tau.value))
