"""The exact distribution of a sum of independent errors, without any draws."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchproof.reasoning.budgets.budget import Budget
from benchproof.reasoning.budgets.covariation import quadratic
from benchproof.values.errors import InputError
from benchproof.values.sources import Distribution, Joint, half_width_divisor

Floats = NDArray[np.float64]
Curve = Callable[[Floats], Floats]

_TAIL = 1e-8  # probability left out on each side
_CHUNK = 128
_MOST_TERMS = 2**14


@dataclass(frozen=True, slots=True)
class Term:
    """One independent term of a sum: symmetric about 0.

    Attributes
    ----------
    distribution : str
        As of a `Source`.
    size : float
        Its standard uncertainty, >= 0, as a source states it: for t the factor by
        which a t variable is multiplied.
    degrees_of_freedom : float
        Of a t distribution.
    shape : float
        As of a `Source`.
    """

    distribution: Distribution
    size: float
    degrees_of_freedom: float = math.inf
    shape: float = 0.0

    @property
    def variance(self) -> float:
        """Square of the standard deviation; infinite for t with dof <= 2."""
        dof = self.degrees_of_freedom
        if self.distribution != "t" or math.isinf(dof):
            return self.size**2
        return self.size**2 * dof / (dof - 2) if dof > 2 else math.inf

    @property
    def reach(self) -> float:
        """Distance from 0 beyond which hardly anything (1e-8) or nothing lies."""
        if self.distribution not in ("normal", "t"):
            limit = half_width_divisor(self.distribution, self.shape)
            wider = 1 + self.shape if "curvilinear" in self.distribution else 1.0
            return self.size * limit * wider
        from scipy.special import ndtri, stdtrit

        dof = self.degrees_of_freedom
        far = ndtri(_TAIL) if _is_normal(self) else stdtrit(dof, _TAIL)
        return self.size * -float(far)


@dataclass(frozen=True)
class LinearSum:
    """The distribution of a sum of independent terms, each symmetric about 0.

    Its distribution function is the Fourier integral of its characteristic function,
    by the midpoint rule with so fine a step that what repeats lies beyond the reach
    of the sum; the accuracy is about 1e-7 where the density is bounded.

    Parameters
    ----------
    terms : tuple of Term
        At least one with a size above 0.

    Raises
    ------
    InputError
        If nothing varies, or a t distribution has two degrees of freedom or fewer.

    References
    ----------
    J. Gil-Pelaez, Note on the inversion theorem, Biometrika 38 (1951) 481-482.
    R. B. Davies, Numerical inversion of a characteristic function, Biometrika 60
    (1973) 415-417.

    Examples
    --------
    Two equal rectangles make a triangle:

    >>> two = LinearSum((Term("rectangular", 1.0), Term("rectangular", 1.0)))
    >>> round(two.quantile(0.975), 4), round(12**0.5 * (1 - 0.05**0.5), 4)
    (2.6895, 2.6895)
    """

    terms: tuple[Term, ...]

    def __post_init__(self) -> None:
        if not any(term.size > 0 for term in self.terms):
            raise InputError("linear sum: nothing varies; give a term of size > 0.")
        if not math.isfinite(self.variance):
            raise InputError(
                "linear sum: a t distribution with two degrees of freedom or fewer "
                "has no standard deviation; use Monte Carlo alone."
            )

    @property
    def variance(self) -> float:
        """Exact variance of the sum, in its unit squared."""
        return math.fsum(term.variance for term in self.terms)

    @cached_property
    def reach(self) -> float:
        """Distance from 0 beyond which the distribution function is taken as 0 or 1."""
        return math.fsum(term.reach for term in self._merged)

    @cached_property
    def _merged(self) -> tuple[Term, ...]:
        """The terms with all normal ones as one."""
        normal = math.hypot(*(t.size for t in self.terms if _is_normal(t)))
        others = [t for t in self.terms if t.size and not _is_normal(t)]
        return (*([Term("normal", normal)] if normal else []), *others)

    @cached_property
    def _waves(self) -> tuple[Floats, Floats, Floats]:
        """Angular frequencies, characteristic function there, and weights."""
        step = math.pi / self.reach
        kept: list[tuple[Floats, Floats, Floats]] = []
        for start in range(0, _MOST_TERMS, _CHUNK):
            count: Floats = np.arange(start, start + _CHUNK, dtype=float) + 0.5
            values = characteristic(self._merged, step * count)
            kept.append((step * count, values, values / (math.pi * count)))
            if float(np.abs(kept[-1][2]).max()) < 1e-10:
                break
        columns = zip(*kept, strict=True)
        frequencies, values, weights = (np.concatenate(c) for c in columns)
        return frequencies, values, weights

    def cdf(self, x: Any) -> Any:
        """Probability that the sum is at most `x`; a number or an array."""
        points = np.asarray(x, dtype=float)
        if closed := self._closed:
            found = closed[0](points)
        else:
            frequencies, _, weights = self._waves
            inside = np.clip(points.ravel(), -self.reach, self.reach)
            sums = [_dot(weights, np.sin(frequencies * point)) for point in inside]
            found = np.clip(0.5 + np.array(sums), 0.0, 1.0).reshape(points.shape)
            found = np.where(np.abs(points) >= self.reach, points > 0, found)
        return np.asarray(found) if points.ndim else float(found)

    def quantile(self, p: Any) -> Any:
        """Value below which the sum lies with probability `p`; a number or an array.

        Newton's steps, halving the bracket where one leaves it.

        Raises
        ------
        InputError
            For a probability outside 0 to 1.
        """
        wanted = np.asarray(p, dtype=float)
        if not ((wanted > 0) & (wanted < 1)).all():
            raise InputError(f"quantile: probability {p}; give one between 0 and 1.")
        if closed := self._closed:
            found = closed[1](wanted)
        else:
            found = self._solve_all(wanted.ravel()).reshape(wanted.shape)
        return np.asarray(found) if wanted.ndim else float(found)

    def _solve_all(self, wanted: Floats) -> Floats:
        """Solve in rising order, so that one solution is a guess for the next."""
        from scipy.special import ndtri

        found, guess = np.empty_like(wanted), math.nan
        for place in np.argsort(wanted):
            p = float(wanted[place])
            if math.isnan(guess):
                guess = float(ndtri(p)) * math.sqrt(self.variance)
            guess = found[place] = self._solve(p, guess)
        return found

    def _solve(self, p: float, guess: float) -> float:
        frequencies, values, weights = self._waves
        step = math.pi / self.reach
        low, high = -self.reach, self.reach
        x = min(max(guess, low), high)
        for _ in range(60):
            angles = frequencies * x
            excess = 0.5 + _dot(weights, np.sin(angles)) - p
            low, high = (low, x) if excess > 0 else (x, high)
            slope = _dot(values, np.cos(angles)) * step / math.pi
            better = x - excess / slope if slope > 0 else math.inf
            # Newton's error is the square of its step: after this one it is nothing.
            if abs(excess) < 1e-6 * min(p, 1 - p) and abs(better) < self.reach:
                return better
            x = better if low < better < high else (low + high) / 2
            if high - low < 1e-12 * self.reach:
                break
        return x

    @cached_property
    def _closed(self) -> tuple[Curve, Curve] | None:
        """Distribution function and quantile of one term alone, where simple.

        Its characteristic function may fade too slowly for the integral.
        """
        from scipy.special import ndtr, ndtri, stdtr, stdtrit

        if len(self._merged) > 1:
            return None
        (term,) = self._merged
        size, dof, reach = term.size, term.degrees_of_freedom, term.reach
        if _is_normal(term):
            return lambda x: ndtr(x / size), lambda p: size * ndtri(p)
        if term.distribution == "t":
            return lambda x: stdtr(dof, x / size), lambda p: size * stdtrit(dof, p)
        if term.distribution == "rectangular":
            return (
                lambda x: 0.5 + np.clip(x / reach, -1.0, 1.0) / 2,
                lambda p: reach * (2 * p - 1),
            )
        if term.distribution == "arcsine":
            return (
                lambda x: 0.5 + np.arcsin(np.clip(x / reach, -1.0, 1.0)) / math.pi,
                lambda p: reach * np.sin(math.pi * (p - 0.5)),
            )
        return None


def linear_sum_of(budget: Budget, joints: Iterable[Joint]) -> LinearSum:
    """Return the distribution of the linear model's deviation from its estimate.

    Sources observed together add up to one t (or normal) term, as they share their
    chi-square draw.

    Parameters
    ----------
    budget : Budget
        Signed contributions of the sources, in SI.
    joints : iterable of Joint

    Raises
    ------
    InputError
        As `LinearSum`.
    """
    steps = {line.source.name: line.contribution for line in budget.lines}
    terms: list[Term] = []
    joined: set[str] = set()
    for joint in joints:
        joined.update(joint.names)
        vector = [steps.get(name, 0.0) for name in joint.names]
        if any(vector):
            size = math.sqrt(max(quadratic(vector, joint.correlation), 0.0))
            terms.append(Term("t", size, joint.degrees_of_freedom))
    for line in budget.lines:
        source = line.source
        if source.name not in joined and line.contribution:
            dof = source.degrees_of_freedom
            size = abs(line.contribution)
            terms.append(Term(source.distribution, size, dof, source.shape))
    return LinearSum(tuple(terms))


def _dot(a: Floats, b: Floats) -> float:
    # Not by BLAS: waking its threads costs more than so short a sum.
    return float(np.einsum("i,i->", a, b))


def _is_normal(term: Term) -> bool:
    endless = math.isinf(term.degrees_of_freedom)
    return term.distribution == "normal" or (term.distribution == "t" and endless)


def characteristic(terms: Iterable[Term], frequencies: Floats) -> Floats:
    """Characteristic function of a sum at angular frequencies > 0; real, by symmetry.

    Parameters
    ----------
    terms : iterable of Term
    frequencies : ndarray, shape (n,)
        In the inverse of the terms' unit.

    Returns
    -------
    ndarray, shape (n,)

    Examples
    --------
    >>> float(characteristic([Term("normal", 1.0)], np.array([2.0]))[0])
    0.1353352832366127
    """
    product = np.ones_like(frequencies)
    for term in terms:
        product *= _factor(term, frequencies * term.size)
    return product


def _factor(term: Term, t: Floats) -> Floats:
    """Characteristic function of a term of unit size, at t > 0."""
    from scipy.special import j0, sici

    if _is_normal(term):
        return np.asarray(np.exp(-t * t / 2))
    if term.distribution == "t":
        return _student(term.degrees_of_freedom, t)
    w = t * half_width_divisor(term.distribution, term.shape)
    s = term.shape
    if term.distribution == "arcsine":
        return np.asarray(j0(w))
    if term.distribution == "rectangular":
        return _sine_ratio(w)
    if term.distribution == "triangular":
        return _sine_ratio(w / 2) ** 2
    if term.distribution == "trapezoidal":
        return _sine_ratio(w * (1 + s) / 2) * _sine_ratio(w * (1 - s) / 2)
    if s < 1e-6:  # a curvilinear trapezoid with exact limits
        return _sine_ratio(w)
    outer, inner = sici(w * (1 + s))[0], sici(w * (1 - s))[0]
    return np.asarray((outer - inner) / (2 * s * w))


def _sine_ratio(x: Floats) -> Floats:
    return np.asarray(np.sinc(x / math.pi))


def _student(dof: float, t: Floats) -> Floats:
    """Characteristic function of Student's t.

    By Bessel functions, and from 60 degrees of freedom, where these overflow, by
    their uniform asymptotic expansion (4e-9 from a numerical integral there).

    References
    ----------
    S. Hurst, The characteristic function of the Student t distribution (1995);
    M. Abramowitz and I. Stegun, Handbook of Mathematical Functions, 9.7.8 and 9.3.9.
    """
    from scipy.special import gammaln, kve

    order = dof / 2
    if dof < 60:
        z = math.sqrt(dof) * t
        scale = gammaln(order) + (order - 1) * math.log(2)
        exponent = np.log(kve(order, z)) - z + order * np.log(z) - scale
        # It overflows only where z is so small that the function is 1.
        return np.asarray(np.exp(np.where(np.isfinite(exponent), exponent, 0.0)))
    root = np.sqrt(1 + 4 * t * t / dof)
    exponent = -order * (root - 1 - np.log1p((root - 1) / 2)) - np.log(root) / 2
    return np.asarray(np.exp(exponent) * _debye(1 / root, order) / _debye(1.0, order))


def _debye(p: Any, order: float) -> Any:
    first = (3 * p - 5 * p**3) / 24
    second = (81 * p**2 - 462 * p**4 + 385 * p**6) / 1152
    third = (30375 * p**3 - 369603 * p**5 + 765765 * p**7 - 425425 * p**9) / 414720
    return 1 - first / order + second / order**2 - third / order**3
