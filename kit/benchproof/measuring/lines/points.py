"""Points with the uncertainty of each axis, checked before a line is laid."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchproof.values.errors import InputError

Floats = NDArray[np.float64]
PerPoint = float | Sequence[float] | None
"""One standard uncertainty for all points, one for each, or none stated."""


@dataclass(frozen=True, slots=True, eq=False)
class Points:
    """n points and the independent standard uncertainty of each coordinate.

    Attributes
    ----------
    x, y : array, shape (n,)
    u_x, u_y : array, shape (n,)
        Zero where a coordinate is taken as exact. Without any statement u_x is 0 and
        u_y is 1: equal weights.
    stated : bool
        Whether the uncertainties were given.
    """

    x: Floats
    y: Floats
    u_x: Floats
    u_y: Floats
    stated: bool


def checked_points(
    x: Sequence[float],
    y: Sequence[float],
    u_x: PerPoint = None,
    u_y: PerPoint = None,
    through_origin: bool = False,
) -> Points:
    """Check points, so that a line can be laid through them.

    Parameters
    ----------
    x, y : sequence of float
        As many y as x; at least three, two for a line through the origin.
    u_x, u_y : float or sequence of float, optional
        Standard uncertainties >= 0 in the unit of the axis, see `Points`.
    through_origin : bool
        Whether the line is held to the origin.

    Raises
    ------
    InputError
        Naming the point, counted from 1.

    Examples
    --------
    >>> checked_points([0, 1, 2], [1.0, 3.1, float("nan")])
    Traceback (most recent call last):
        ...
    benchproof.values.errors.InputError: fit_line: y of point 3 is nan; give a finite
    number, or leave the point out.
    """
    xs, ys = _finite("x", x), _finite("y", y)
    _enough(xs, ys, through_origin)
    stated = u_x is not None or u_y is not None
    if not stated:
        return Points(xs, ys, np.zeros(xs.size), np.ones(xs.size), False)
    ux = _uncertainties("u_x", u_x, xs.size)
    uy = _uncertainties("u_y", u_y, xs.size)
    _weighable(ux, uy)
    return Points(xs, ys, ux, uy, True)


def _finite(name: str, numbers: Sequence[float]) -> Floats:
    checked = []
    for i, number in enumerate(numbers, start=1):
        try:
            value = float(number)
        except (TypeError, ValueError):
            value = math.nan
        if not math.isfinite(value):
            raise InputError(
                f"fit_line: {name} of point {i} is {number}; give a finite number, "
                "or leave the point out."
            )
        checked.append(value)
    return np.array(checked, dtype=np.float64)


def _enough(x: Floats, y: Floats, through_origin: bool) -> None:
    least, word = (2, "two") if through_origin else (3, "three")
    if x.size != y.size or x.size < least:
        raise InputError(
            f"fit_line: {x.size} x and {y.size} y; give at least {word} points, "
            "as many y as x."
        )
    if through_origin and not x.any():
        raise InputError(
            f"fit_line: all {x.size} points have x = 0, which the origin fixes "
            "already; add a point away from it."
        )
    if not through_origin and np.all(x == x[0]):
        raise InputError(
            f"fit_line: all {x.size} points have x = {x[0]:g}; give at least three "
            "points that do not share one x."
        )


def _uncertainties(name: str, stated: PerPoint, n: int) -> Floats:
    if stated is None:
        return np.zeros(n)
    each = list(stated) if isinstance(stated, Iterable) else [stated] * n
    if len(each) != n:
        raise InputError(
            f"fit_line: {len(each)} {name} for {n} points; give one for all points "
            "or one for each."
        )
    checked = _finite(name, each)
    if (checked < 0).any():
        i = int(np.argmax(checked < 0))
        raise InputError(
            f"fit_line: {name} of point {i + 1} is {checked[i]:g}; give a standard "
            "uncertainty > 0."
        )
    return checked


def _weighable(u_x: Floats, u_y: Floats) -> None:
    """Refuse a point of infinite weight.

    An exact x among others (no load: no current) is fine where y is uncertain.
    """
    if not u_x.any() and not u_y.any():
        raise InputError(
            "fit_line: every uncertainty stated is 0; state those of y, or leave u_x "
            "and u_y out and the scatter of the points is used."
        )
    zeros = (u_y == 0) if u_y.any() else (u_x == 0)
    if zeros.any():
        i, name = int(np.argmax(zeros)), "u_y" if u_y.any() else "u_x"
        raise InputError(
            f"fit_line: {name} of point {i + 1} is 0 while others are not: it would "
            "outweigh them all. Give its standard uncertainty (at least that of the "
            "resolution)."
        )
