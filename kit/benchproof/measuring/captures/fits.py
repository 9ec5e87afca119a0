"""What a least-squares fit to a record says about its parameters."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchproof.measuring.captures.channel import (
    difference_parts,
    duration_parts,
    level_parts,
    settings_line,
)
from benchproof.measuring.captures.finding import Finding, Found, Part, merged
from benchproof.measuring.captures.noise import alike_in, noise_within
from benchproof.measuring.captures.trace import Floats, Trace
from benchproof.measuring.captures.wording import told_difference
from benchproof.values.errors import InputError
from benchproof.values.sources import Source
from benchproof.values.units import Unit

MOST = 20_000
"""Points that are fitted; more samples are averaged in groups first."""


@dataclass(frozen=True, slots=True)
class Points:
    """Samples, or averages of as many neighbours, that a model is fitted to.

    Attributes
    ----------
    times, values : array, shape (n,)
        In s and SI.
    each : int
        Samples averaged into each.
    """

    times: Floats
    values: Floats
    each: int


def points_of(trace: Trace, first: int = 0, last: int | None = None) -> Points:
    """Average a stretch into at most `MOST` points.

    Raises
    ------
    InputError
        If there are fewer than 10 samples, or gaps.

    Examples
    --------
    >>> from benchproof.measuring.captures.trace import Settings
    >>> record = Trace("r", np.arange(50_000.0), 1.0, Settings("scope", "CH1"))
    >>> points = points_of(record)
    >>> points.each, float(points.times[0]), float(points.values[0])
    (3, 1.0, 1.0)
    """
    v = trace.values(first, last)
    if v.size < 10 or not np.isfinite(v).all():
        raise InputError(
            f"{trace.name}: a fit needs at least 10 samples without gaps; {v.size} "
            f"from sample {first} on hold {int((~np.isfinite(v)).sum())} without a "
            "value. Choose another stretch."
        )
    each = -(-v.size // MOST)
    count = v.size // each
    groups = v[: count * each].reshape(count, each)
    values: Floats = np.asarray(groups.mean(axis=1), np.float64)
    places = first + (each - 1) / 2 + each * np.arange(count)
    times = trace.start + trace.interval * places
    return Points(np.asarray(times, np.float64), values, each)


@dataclass(frozen=True, slots=True)
class Fitted:
    """The least-squares solution, before its uncertainty.

    Attributes
    ----------
    values : array, shape (p,)
        Of the parameters, in SI.
    curve : array, shape (n,)
        The model at the points.
    jacobian : array, shape (n, p)
        Derivative of the curve with respect to each parameter.
    """

    values: Floats
    curve: Floats
    jacobian: Floats


def fit_findings(
    trace: Trace,
    points: Points,
    fitted: Fitted,
    names: Sequence[str],
    units: Sequence[Unit],
    model: str,
) -> Found:
    """Return each parameter with its sources.

    Parameters
    ----------
    names, units : sequence, length p
    model : str
        Says what was fitted; also names the sources.

    Raises
    ------
    InputError
        If the record does not determine the parameters.

    Notes
    -----
    The parameters respond to a disturbance of the record by ``(JᵀJ)⁻¹Jᵀ``, which is
    worked out for gain, offset, slope over the screen and time base. The noise is
    that of the residuals, ``s² (JᵀJ)⁻¹`` times the samples that count as one; it is
    handed on as one source for each parameter, so that their correlation stays.

    References
    ----------
    Linear least squares near the solution; JCGM 100:2008, 5.1.2 and 5.2.
    """
    response, covariance = _response(trace, fitted, names)
    residuals = points.values - fitted.curve
    alike = alike_in(residuals - residuals.mean())
    n, p = fitted.jacobian.shape
    # All p sources rest on the one s: with a p-th of its degrees of freedom each,
    # Welch and Satterthwaite give a result no more than s has.
    freedom = max((n / alike - p) / p, 1.0)
    s = float(np.sqrt(np.dot(residuals, residuals) / max(n - p, 1)))
    shape = np.linalg.cholesky(covariance) * s * alike**0.5
    notes = _misfit(trace, points, s, alike)
    text = (
        f"{model}, {n} points of {points.each} samples, residuals "
        f"{told_difference(s, trace.settings.unit)} (standard deviation), {alike:.1f} "
        f"points count as one; {settings_line(trace)}"
    )
    found = Found()
    for i, (name, unit) in enumerate(zip(names, units, strict=True)):
        parts = _noise_parts(trace, model, shape[i], freedom)
        parts += _channel_parts(trace, points, fitted, response[i], model)
        value = float(fitted.values[i])
        found[name] = Finding(name, unit, value, merged(parts), text).noted(*notes)
    return found


def _response(
    trace: Trace, fitted: Fitted, names: Sequence[str]
) -> tuple[Floats, Floats]:
    scale = np.linalg.norm(fitted.jacobian, axis=0)
    known = scale > 0
    scaled = fitted.jacobian / np.where(known, scale, 1.0)
    normal = scaled.T @ scaled
    if not known.all() or np.linalg.cond(normal) > 1e13:
        raise InputError(
            f"{trace.name}: the record does not determine {', '.join(names)} together: "
            "different values fit it alike. Fix one of them, or record a stretch that "
            "tells them apart."
        )
    inverse = np.linalg.inv(normal)
    response = (inverse @ scaled.T) / scale[:, None]
    return response, inverse / np.outer(scale, scale)


def _noise_parts(trace: Trace, model: str, row: Floats, freedom: float) -> list[Part]:
    return [
        (
            Source(
                f"{trace.name} · {model} · residuals {k + 1}", "A", "t", 1.0,
                degrees_of_freedom=freedom, instrument=trace.settings.instrument,
            ),
            float(share),
        )
        for k, share in enumerate(row)
    ]  # fmt: skip


def _channel_parts(
    trace: Trace, points: Points, fitted: Fitted, response: Floats, model: str
) -> list[Part]:
    """Return gain, offset, slope and time base, through the parameter's response."""
    curve, middle = fitted.curve, float(fitted.curve.mean())
    to_gain = float(response @ curve)
    to_offset = float(response.sum())
    parts = [
        (s, to_offset if s.pool else to_gain * c)
        for s, c in level_parts(trace, 1.0, model)
    ]
    to_slope = float(response @ (curve - middle))
    parts += [
        (s, to_slope * c)
        for s, c in difference_parts(trace, 1.0)
        if s.name.endswith("slope over the screen")
    ]
    along: NDArray[np.float64] = np.gradient(curve, points.times)
    since = points.times - points.times[0]
    return parts + duration_parts(trace, -float(response @ (along * since)))


def _misfit(trace: Trace, points: Points, s: float, alike: float) -> list[str]:
    noise = noise_within(trace).standard_deviation / points.each**0.5
    notes = []
    if s > 2 * noise and noise > 0:
        notes.append(
            f"the residuals are {s / noise:.1f} times the noise of the record: the "
            "model does not describe all of it"
        )
    if alike > 10:
        notes.append("neighbouring residuals are alike: look at them beside the record")
    return notes
