"""Several results for one quantity: a weighted mean, if they may be pooled."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from benchproof.reasoning.budgets.coverage import coverage_factor
from benchproof.reasoning.decisions.agreement import difference_text
from benchproof.reasoning.decisions.covariances import covariance_of
from benchproof.values.errors import InputError
from benchproof.values.quantities import shorthand
from benchproof.values.tables import Table, Tabular, columns
from benchproof.values.units import Unit, unit_of

Floats = NDArray[np.float64]
Spread = Literal["refuse", "birge", "between units"]

CONSISTENCY_LEVEL = 0.95
"""Values with a chi-square beyond this quantile are not consistent."""


@dataclass(frozen=True, slots=True, repr=False)
class Combined(Tabular):
    """The weighted mean of several results, and how well they agree; in SI.

    Attributes
    ----------
    names : tuple of str
        One per value.
    values, uncertainties : tuple of float
        As given; standard uncertainties.
    value, standard_uncertainty : float
        The weighted mean, and its u under the declared `spread`.
    degrees_of_freedom : float
        Infinite where the given u decide; n - 1 under a declared spread, however
        small it came out: n values tell little about what makes them scatter.
    chi_square, p : float
        Of the values as given, with n - 1 degrees of freedom; p is the probability
        of a chi-square at least as large if nothing but the given u acts.
    birge_ratio : float
        sqrt(chi_square/(n - 1)).
    between_units : float
        Standard deviation between units, 0 if the given u explain the scatter.
    weights : tuple of float
        They add up to 1; strong correlations can make one negative.
    deviations : tuple of float
        ``(value - mean)/u(value - mean)`` under the declared spread; NaN for a
        value that alone is the mean.
    spread : {"refuse", "birge", "between units"}
        What was declared about scatter beyond u.
    unit : Unit
        For display.
    """

    names: tuple[str, ...]
    values: tuple[float, ...]
    uncertainties: tuple[float, ...]
    value: float
    standard_uncertainty: float
    degrees_of_freedom: float
    chi_square: float
    p: float
    birge_ratio: float
    between_units: float
    weights: tuple[float, ...]
    deviations: tuple[float, ...]
    spread: Spread = "refuse"
    unit: Unit = field(default_factory=lambda: unit_of(""))

    @property
    def consistent(self) -> bool:
        """Whether the values agree within the given u, at 95 %."""
        return self.p >= 1 - CONSISTENCY_LEVEL

    def expanded_uncertainty(self, level: float = 0.95) -> float:
        """Return the expanded uncertainty at a coverage probability, in SI."""
        k = coverage_factor(level, self.degrees_of_freedom)
        return k * self.standard_uncertainty

    def result(self, unit: Unit | None = None) -> str:
        """Return the mean with its standard uncertainty, ``407.9(6.8) µA``."""
        return _shown(self.value, self.standard_uncertainty, unit or self.unit)

    def table(self, unit: Unit | None = None) -> Table:
        """Return one row per value, the mean and how well they agree below.

        Parameters
        ----------
        unit : Unit or None
            For display; None takes the one the values came with.
        """
        shown = unit or self.unit
        rows = tuple(
            (name, _shown(x, u, shown), f"{100 * w:.1f} %", _deviation(d))
            for name, x, u, w, d in zip(
                self.names, self.values, self.uncertainties, self.weights,
                self.deviations, strict=True,
            )
        )  # fmt: skip
        heads = columns("Value of", "Value>", "Weight>", "Deviation, in its u>")
        return Table("Combined value", heads, rows, self._notes(shown))

    def _notes(self, unit: Unit) -> tuple[str, ...]:
        word = "consistent" if self.consistent else "not consistent"
        notes = [
            f"combined: {self.result(unit)}, "
            f"U = {difference_text(self.expanded_uncertainty(), unit)} (95 %)",
            f"{word} at 95 %: {_statistics(self)}",
            _SAID[self.spread],
        ]
        if self.between_units:
            between = difference_text(self.between_units, unit)
            used = "" if self.spread == "between units" else " (not in u)"
            notes.append(f"standard deviation between units: {between}{used}")
        else:
            notes.append("no scatter between units beyond the given u")
        if min(self.weights) < 0:
            notes.append(
                "strong correlation: a weight is negative, so the combined value can "
                "lie outside the values; look at the shared source first"
            )
        return tuple(notes)


_SAID = {
    "refuse": "u from the given uncertainties alone",
    "birge": "declared: same device, unknown common cause; u is widened by the Birge "
    "ratio where that exceeds 1",
    "between units": "declared: different units; the variance between them is added "
    "to that of each value",
}


def _deviation(deviation: float) -> str:
    return "not defined" if math.isnan(deviation) else f"{deviation:+.2f}"


def _shown(value: float, u: float, unit: Unit) -> str:
    return shorthand(unit.from_si(value), u / unit.factor, unit.symbol)


def _statistics(combined: Combined) -> str:
    p = f"p = {combined.p:.2g}" if combined.p > 1e-300 else "p < 1e-300"
    dof = len(combined.values) - 1
    degrees = "degree" if dof == 1 else "degrees"
    return (
        f"chi-square {combined.chi_square:.4g} with {dof} {degrees} of freedom, {p}, "
        f"Birge ratio {combined.birge_ratio:.3g}"
    )


def combine_values(
    values: Sequence[float],
    uncertainties: Sequence[float] | None = None,
    *,
    covariance: Sequence[Sequence[float]] | Floats | None = None,
    spread: Spread = "refuse",
    names: Sequence[str] = (),
    unit: Unit | str | None = None,
) -> Combined:
    """Combine several results for one quantity by generalised least squares.

    Values that do not agree are not pooled silently: the scatter has to be
    explained, and each of the two explanations gives another mean or another u.

    Parameters
    ----------
    values : sequence of float, shape (n,)
        At least two, in SI.
    uncertainties : sequence of float, shape (n,)
        Standard uncertainties of independent values, each above 0.
    covariance : array of float, shape (n, n)
        Instead of `uncertainties`, for values that share sources.
    spread : {"refuse", "birge", "between units"}
        "refuse": inconsistent values are an InputError. "birge": the same device,
        an unknown common cause; u is multiplied by the Birge ratio if above 1.
        "between units": different units; a variance between them is estimated and
        added to the diagonal of the covariance.
    names : sequence of str
        One per value; empty for ``value 1``, ``value 2``, ...
    unit : Unit or str
        For display.

    Returns
    -------
    Combined

    Raises
    ------
    InputError
        If the values cannot be combined, or (with "refuse") do not agree at 95 %.

    Notes
    -----
    Simulated, U of 95 % with a spread between units covers the mean in 94 % of cases
    or more where the given u lie within a factor of two of each other, and in 90 %
    or more where they lie within a factor of six (2 to 8 units).

    References
    ----------
    Birge, Physical Review 40 (1932) 207 (Birge ratio). Paule and Mandel, Journal of
    Research of the National Bureau of Standards 87 (1982) 377 (variance between
    units, here with a full covariance).

    Examples
    --------
    >>> combine_values([10.1, 10.4], [0.1, 0.2]).result()
    '10.160(89)'
    >>> spread = combine_values([411, 402, 431, 398], [4.5, 6, 7.5, 5], spread="birge")
    >>> round(spread.value, 1), round(spread.birge_ratio, 2), spread.consistent
    (407.9, 2.22, False)
    """
    if spread not in _SAID:
        raise InputError(
            f"combine_values: spread {spread!r} is not known. Give 'refuse', 'birge' "
            "or 'between units'."
        )
    x = _checked_values(values)
    labels = _labels(names, x.size)
    matrix = covariance_of(labels, uncertainties, covariance)
    shown = unit if isinstance(unit, Unit) else unit_of(unit or "")
    combined = _combined(x, matrix, labels, spread, shown)
    if spread == "refuse" and not combined.consistent:
        raise InputError(_refusal(combined))
    return combined


def _refusal(combined: Combined) -> str:
    return (
        f"combine_values: {', '.join(combined.names)} do not agree within their "
        f"uncertainties: {_statistics(combined)}. They are not pooled without a "
        "declared reason: spread='birge' for the same device measured again (an "
        "unknown common cause; u is widened by the Birge ratio), spread='between "
        "units' for different units (the variance between them is added). Otherwise "
        "look for the cause first."
    )


def _combined(
    x: Floats, given: Floats, names: tuple[str, ...], spread: Spread, unit: Unit
) -> Combined:
    n = x.size
    mean, u, chi_square, weights = _least_squares(x, given)
    birge = math.sqrt(chi_square / (n - 1))
    tau_squared = _variance_between(x, given)
    model = given
    if spread == "between units" and tau_squared:
        model = given + tau_squared * np.eye(n)
        mean, u, _, weights = _least_squares(x, model)
    elif spread == "birge" and birge > 1:
        model = birge**2 * given
        u *= birge
    return Combined(
        names,
        tuple(x.tolist()),
        tuple(np.sqrt(np.diag(given)).tolist()),
        mean,
        u,
        # Simulated: with infinity where nothing was widened, the coverage interval
        # of a few values holds the truth in 82 % of cases instead of 95 %.
        math.inf if spread == "refuse" else n - 1.0,
        chi_square,
        _chi_square_tail(n - 1, chi_square),
        birge,
        math.sqrt(tau_squared),
        tuple(weights.tolist()),
        _deviations(x - mean, np.diag(model), u),
        spread,
        unit,
    )


def _chi_square_tail(dof: int, chi_square: float) -> float:
    from scipy.special import chdtrc  # lazily: not needed to open a case

    return float(chdtrc(dof, chi_square))


def _deviations(residuals: Floats, variances: Floats, u: float) -> tuple[float, ...]:
    # cov(value, mean) is u(mean)² whatever the correlations, hence the difference.
    own = variances - u * u
    alone = own <= 1e-12 * variances
    scale = np.sqrt(np.where(alone, 1.0, own))
    return tuple(np.where(alone, np.nan, residuals / scale).tolist())


def _least_squares(x: Floats, covariance: Floats) -> tuple[float, float, float, Floats]:
    """Return mean, its u, chi-square and weights for one covariance."""
    u = np.sqrt(np.diag(covariance))
    # Whitened by the correlation, so that values of very unlike u stay exact; told
    # from the first value, so that a small scatter about a large number does.
    root = np.linalg.cholesky(covariance / np.outer(u, u))
    white = np.linalg.solve(root, np.column_stack([1 / u, (x - x[0]) / u]))
    ones, shifted = white.T
    information = float(ones @ ones)
    mean = float(ones @ shifted) / information
    rest = shifted - mean * ones
    weights = np.linalg.solve(root.T, ones) / u / information
    return (
        float(x[0]) + mean,
        1 / math.sqrt(information),
        float(rest @ rest),
        weights,
    )


def _variance_between(x: Floats, covariance: Floats) -> float:
    """Solve chi-square = n - 1 for a variance added to the diagonal; 0 if none.

    Newton's steps on 1/chi-square, which is concave in that variance: they
    approach the root from below and do not pass it.
    """
    wanted, identity, tau_squared = x.size - 1, np.eye(x.size), 0.0
    for _ in range(100):
        model = covariance + tau_squared * identity
        mean, _, chi_square, _ = _least_squares(x, model)
        pull = np.linalg.solve(model, x - mean)
        slope = float(pull @ pull)
        if chi_square <= wanted * (1 + 1e-13) or not slope:
            break
        tau_squared += chi_square * (chi_square / wanted - 1) / slope
    return tau_squared


def _checked_values(values: Sequence[float]) -> Floats:
    x = np.asarray(values, dtype=np.float64)
    if x.ndim != 1 or x.size < 2 or not np.isfinite(x).all():
        raise InputError(
            f"combine_values: number of values {x.size}; give a list of at least two, "
            "each a finite number. A single value has nothing to agree with."
        )
    return x


def _labels(names: Sequence[str], n: int) -> tuple[str, ...]:
    labels = tuple(names) or tuple(f"value {i + 1}" for i in range(n))
    if len(labels) != n:
        raise InputError(
            f"combine_values: {n} values and {len(labels)} names; give one each."
        )
    return labels
