"""Readings in groups (days, re-plugged contacts): scatter within and between them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from benchproof.values.errors import InputError
from benchproof.values.quantities import rounded, two_figures
from benchproof.values.tables import RowState, Table, Tabular, columns


@dataclass(frozen=True, slots=True, repr=False)
class Groups(Tabular):
    """One-way analysis of variance of readings in groups, in the readings' unit.

    Attributes
    ----------
    names : tuple of str
    counts : tuple of int
        Readings of each group.
    means, deviations : tuple of float
        Of each group; the deviation of a single reading is NaN.
    s_within : float
        Pooled standard deviation inside a group.
    s_between : float
        Standard deviation of the groups' own values, after what the scatter inside
        them explains is taken off; 0 if nothing is left.
    statistic : float
        F: mean square between over mean square within; NaN if no group scatters.
    p_value : float
        Probability of an F as large if the groups did not differ; NaN likewise.
    dof_between, dof_within : int
    mean : float
        Plain mean of the group means: each group counts once.
    standard_uncertainty : float
        Of `mean`, from the scatter of the group means.
    degrees_of_freedom : int
        Of `standard_uncertainty`: groups - 1.
    unit : str
        For display.
    """

    names: tuple[str, ...]
    counts: tuple[int, ...]
    means: tuple[float, ...]
    deviations: tuple[float, ...]
    s_within: float
    s_between: float
    statistic: float
    p_value: float
    dof_between: int
    dof_within: int
    mean: float
    standard_uncertainty: float
    degrees_of_freedom: int
    unit: str = ""

    @property
    def balanced(self) -> bool:
        """Whether every group has as many readings."""
        return len(set(self.counts)) == 1

    def table(self) -> Table:
        """Return the groups, their mean, and what their scatter says."""
        unit = f" / {self.unit}" if self.unit else ""
        heads = columns("Group", "Readings>", f"Mean{unit}>", f"s{unit}>")
        rows = [self._row(i) for i in range(len(self.names))]
        mean, _ = rounded(self.mean, self.standard_uncertainty)
        rows.append(("mean of the groups", str(sum(self.counts)), mean, ""))
        states: list[RowState] = [""] * len(self.names)
        states.append("total")
        title, notes = "Readings in groups", self._notes()
        return Table(title, heads, tuple(rows), notes, tuple(states))

    def _row(self, i: int) -> tuple[str, str, str, str]:
        """One group; its mean is rounded by the scatter inside the groups."""
        mean, _ = rounded(self.means[i], self.s_within / math.sqrt(self.counts[i]))
        s = self.deviations[i]
        shown = "–" if math.isnan(s) else two_figures(s)
        return self.names[i], str(self.counts[i]), mean, shown

    def _notes(self) -> tuple[str, ...]:
        mean, u = rounded(self.mean, self.standard_uncertainty)
        notes = [
            self._in_unit("mean", mean)
            + self._in_unit(", standard uncertainty", u)
            + " from the scatter of the group means, degrees of freedom "
            + str(self.degrees_of_freedom),
            self._in_unit("within a group s =", two_figures(self.s_within))
            + self._in_unit(", between groups s =", two_figures(self.s_between)),
            self._test(),
        ]
        if not self.balanced:
            notes.append(
                "groups of different size: each counts once in the mean, and its "
                "degrees of freedom are approximate"
            )
        return tuple(notes)

    def _in_unit(self, words: str, number: str) -> str:
        return f"{words} {number} {self.unit}".rstrip()

    def _test(self) -> str:
        if math.isnan(self.p_value):
            return "no scatter within the groups shows: F cannot be formed"
        return (
            f"F({self.dof_between}, {self.dof_within}) = {self.statistic:.3g}; if the "
            "groups did not differ, one as large would come up with "
            f"p = {self.p_value:.2g}"
        )


def between_and_within(
    groups: Mapping[str, Sequence[float]] | Sequence[Sequence[float]], unit: str = ""
) -> Groups:
    """Split the scatter of grouped readings into within and between groups.

    A group is what shares one setting that could be made again: one plugging of a
    connector, one day, one operator. Its readings share the error of that setting,
    so the mean's standard uncertainty comes from the group means, not from s/√n
    of all readings.

    Parameters
    ----------
    groups : mapping of str to sequence of float, or sequence of them
        At least two groups of finite readings in one unit, one of them with two
        readings or more. Without names they are numbered from 1.
    unit : str
        For display only.

    Returns
    -------
    Groups
        Shown as a table.

    Raises
    ------
    InputError
        If there are fewer than two groups, one is empty, not finite or too large, or
        none has a second reading.

    Notes
    -----
    With K groups of n_i readings, N in all, and mean squares MS,
    ``s_within² = MS_within``, ``s_between² = (MS_between - MS_within)/n0``, at least
    0, and ``n0 = (N - Σ n_i²/N)/(K - 1)``, which is n for equal groups.

    The mean is that of the K group means and its uncertainty their s/√K with K - 1
    degrees of freedom. For equal groups this is the analysis of the standard. For
    unequal ones u² is still unbiased, but K - 1 is approximate; a weighted mean
    would be a little sharper and rest on an estimate of the weights.

    References
    ----------
    JCGM 100:2008, H.5.

    Examples
    --------
    >>> between_and_within({"plug 1": [10.1, 10.3], "plug 2": [11.0, 11.2]}, "mΩ")
    Readings in groups
    Group              │ Readings │ Mean / mΩ │ s / mΩ
    ───────────────────┼──────────┼───────────┼───────
    plug 1             │        2 │     10.20 │   0.14
    plug 2             │        2 │     11.10 │   0.14
    mean of the groups │        4 │     10.65 │
    mean 10.65 mΩ, standard uncertainty 0.45 mΩ from the scatter of the group means,
    degrees of freedom 1
    within a group s = 0.14 mΩ, between groups s = 0.63 mΩ
    F(1, 2) = 40.5; if the groups did not differ, one as large would come up with
    p = 0.024
    """
    named = _named(groups)
    if len(named) < 2:
        raise InputError(
            f"between_and_within: {len(named)} groups; give at least two to compare."
        )
    origin, rows = _shifted(named, "between_and_within")
    dof_within = _dof(rows, "between_and_within")
    counts = [len(row) for row in rows]
    means = [_mean(row) for row in rows]
    squares = [_squares(row, mean) for row, mean in zip(rows, means, strict=True)]
    within = math.fsum(squares) / dof_within
    between = _mean_square_between(counts, means)
    f, p = _f_test(between, within, len(rows) - 1, dof_within)
    mean = _mean(means)
    scatter = _squares(means, mean) / (len(means) - 1)
    return Groups(
        names=tuple(named),
        counts=tuple(counts),
        means=tuple(origin + m for m in means),
        deviations=tuple(map(_deviation, squares, counts)),
        s_within=math.sqrt(within),
        s_between=math.sqrt(max(between - within, 0.0) / _typical_count(counts)),
        statistic=f,
        p_value=p,
        dof_between=len(rows) - 1,
        dof_within=dof_within,
        mean=origin + mean,
        standard_uncertainty=math.sqrt(scatter / len(means)),
        degrees_of_freedom=len(means) - 1,
        unit=unit,
    )


def pooled_standard_deviation(
    groups: Mapping[str, Sequence[float]] | Sequence[Sequence[float]],
) -> tuple[float, int]:
    """Pool the scatter of sets of readings taken with one procedure.

    Worth having where each set is short: u of a later mean of n readings is
    ``s_p/√n`` with the pooled degrees of freedom, if the scatter is the same.

    Parameters
    ----------
    groups : mapping of str to sequence of float, or sequence of them
        Finite readings in one unit; a set of one adds nothing.

    Returns
    -------
    (float, int)
        ``s_p = √(Σ ν_i s_i²/Σ ν_i)`` in the readings' unit, and Σ ν_i.

    Raises
    ------
    InputError
        If a set is empty, not finite or too large, or none has a second reading.

    References
    ----------
    JCGM 100:2008, 4.2.4.

    Examples
    --------
    >>> s, dof = pooled_standard_deviation([[1.0, 3.0], [5.0, 7.0, 9.0]])
    >>> round(s, 4), dof
    (1.8257, 3)
    """
    _, rows = _shifted(_named(groups), "pooled_standard_deviation")
    dof = _dof(rows, "pooled_standard_deviation")
    return math.sqrt(math.fsum(_squares(r, _mean(r)) for r in rows) / dof), dof


def _named(
    groups: Mapping[str, Sequence[float]] | Sequence[Sequence[float]],
) -> Mapping[str, Sequence[float]]:
    if isinstance(groups, Mapping):
        return groups
    return {str(i): group for i, group in enumerate(groups, start=1)}


def _shifted(
    named: Mapping[str, Sequence[float]], where: str
) -> tuple[float, list[list[float]]]:
    """Take the first reading off all of them: exact when they share leading digits.

    Otherwise the means would be rounded to the readings' last bit, and their
    differences with them.
    """
    for name, group in named.items():
        if not len(group) or not all(map(math.isfinite, group)):
            raise InputError(
                f"{where}: group {name!r} is empty or not finite. "
                "Leave it out, or give its readings."
            )
    origin = next((float(group[0]) for group in named.values()), 0.0)
    rows = [[x - origin for x in group] for group in named.values()]
    if any(abs(x) > 1e150 for row in rows for x in row):
        raise InputError(
            f"{where}: readings too large to be squared. Give them in a larger unit."
        )
    return origin, rows


def _dof(rows: Iterable[Sequence[float]], where: str) -> int:
    dof = sum(len(row) - 1 for row in rows)
    if dof < 1:
        raise InputError(
            f"{where}: no group has a second reading. Scatter within a group needs two."
        )
    return dof


def _mean(row: Sequence[float]) -> float:
    return math.fsum(row) / len(row)


def _squares(row: Sequence[float], mean: float) -> float:
    return math.fsum((x - mean) ** 2 for x in row)


def _deviation(squares: float, count: int) -> float:
    return math.sqrt(squares / (count - 1)) if count > 1 else math.nan


def _mean_square_between(counts: Sequence[int], means: Sequence[float]) -> float:
    """About the mean of all readings, as the analysis of variance has it."""
    weighted = [n * m for n, m in zip(counts, means, strict=True)]
    middle = math.fsum(weighted) / sum(counts)
    parts = (n * (m - middle) ** 2 for n, m in zip(counts, means, strict=True))
    return math.fsum(parts) / (len(means) - 1)


def _typical_count(counts: Sequence[int]) -> float:
    total = sum(counts)
    return (total - sum(n * n for n in counts) / total) / (len(counts) - 1)


def _f_test(
    between: float, within: float, dof_between: int, dof_within: int
) -> tuple[float, float]:
    if within == 0:
        return math.nan, math.nan
    from scipy.special import fdtrc  # lazily: not needed to open a case

    f = between / within
    return f, float(fdtrc(dof_between, dof_within, f))
