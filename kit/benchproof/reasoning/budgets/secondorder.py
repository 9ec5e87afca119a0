"""What the linear budget leaves out: second-order terms and the shift of the value."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchproof.reasoning.budgets.covariation import covariance
from benchproof.reasoning.budgets.graph import Graph
from benchproof.values.errors import FormulaError
from benchproof.values.quantities import engineering, two_figures
from benchproof.values.sources import Joint
from benchproof.values.tables import Table, Tabular, columns
from benchproof.values.units import Unit

Floats = NDArray[np.float64]

MOST_SOURCES = 40
"""Each pair costs four evaluations; beyond this many only the most important count."""

_BLOCK = 4_000_000
"""Numbers held at a time while many points are evaluated."""

_STEP = 0.5
"""Of the differences, in u: wide enough to see what the source sees."""

_ROUNDING = 32 * np.finfo(np.float64).eps


@dataclass(frozen=True, slots=True, repr=False)
class SecondOrder(Tabular):
    """The linear uncertainty of a quantity beside that of second order; in SI.

    Attributes
    ----------
    first, second : float
        Standard uncertainty without and with the second-order terms; `second` is nan
        where these are negative and larger than the first: the series fails.
    value_shift : float
        Mean of the second-order terms: the expected value minus the value.
    sources : int
        Independent sources whose terms were counted.
    left_out : int
        Less important ones that were not.
    """

    name: str
    unit: Unit
    first: float
    second: float
    value_shift: float
    sources: int
    left_out: int = 0

    @property
    def ratio(self) -> float:
        """Second over first; 1 if both are zero, infinite if only the first is."""
        if self.first:
            return self.second / self.first
        return math.inf if self.second else 1.0

    def caveat(self) -> str:
        """Say that the linear budget does not suffice; "" where it does."""
        said = []
        if not abs(self.ratio - 1) <= 0.05:
            said.append(
                f"first-order u = {self._shown(self.first)}, "
                f"with second-order terms {self._shown(self.second)}"
            )
        if abs(self.value_shift) > 0.25 * self.first:
            said.append(
                f"the expected value lies {self._shown(self.value_shift)} off the "
                f"value (first-order u = {self._shown(self.first)})"
            )
        if not said:
            return ""
        return f"{self.name}: {'; '.join(said)}: use case.monte_carlo"

    def _shown(self, number: float) -> str:
        unit = self.unit.difference()
        scaled = number / unit.factor
        if not math.isfinite(scaled):
            return "no value (the series fails)"
        scale, symbol = engineering(scaled, unit.symbol)
        sign = "-" if scaled < 0 else ""
        return f"{sign}{two_figures(abs(scaled) * scale)} {symbol}".rstrip()

    def table(self) -> Table:
        """Return both uncertainties and the shift of the value."""
        rows = (
            ("u, first order", self._shown(self.first)),
            ("u, with second-order terms", self._shown(self.second)),
            ("shift of the value", self._shown(self.value_shift)),
        )
        counted = f"terms of {self.sources} independent sources (JCGM 100, 5.1.2, note)"
        if self.left_out:
            counted += f"; {self.left_out} less important ones were left out"
        notes = tuple(filter(None, (counted, self.caveat())))
        heads = columns("", f"{self.name}>")
        return Table(f"Second order of {self.name}", heads, rows, notes)


def second_order(graph: Graph, target: str, most: int = MOST_SOURCES) -> SecondOrder:
    """Evaluate the second-order terms of the law of propagation, and the mean's shift.

    The terms are differences over half a u of each source, so that they see as much
    of the formula as the source does: exact for polynomials up to the third degree. A
    group of correlated sources takes part through independent directions, the root of
    its correlation.

    Parameters
    ----------
    target : str
        A quantity that has a value.
    most : int
        Sources counted at most: n of them cost 2·n² evaluations.

    Raises
    ------
    FormulaError
        If a formula fails, or gives no finite value, within one u of the estimates.

    Notes
    -----
    With f's derivatives by each source in units of its u, the variance is
    Σᵢ fᵢ² + Σᵢ Σⱼ (fᵢⱼ²/2 + fᵢ·fᵢⱼⱼ), which holds for sources that are normal or
    nearly so; the shift is Σᵢ fᵢᵢ/2 for any.

    References
    ----------
    JCGM 100:2008, 5.1.2, note.

    Examples
    --------
    >>> from benchproof.reasoning.budgets.formulas import formula_from
    >>> from benchproof.values.sources import Estimate, Source
    >>> from benchproof.values.units import unit_of
    >>> def square(x):
    ...     return x**2
    >>> x = Estimate(0.0, ((Source("x", "B", "normal", 0.1), 1.0),))
    >>> units = dict.fromkeys(["x", "square"], unit_of(""))
    >>> graph = Graph({"x": x}, units, {"square": formula_from(square, unit_of(""))})
    >>> found = second_order(graph, "square")
    >>> found.first, round(found.second, 6), round(found.value_shift, 6)
    (0.0, 0.014142, 0.01)
    """
    axes = _axes(graph, target)
    total = len(axes)
    if total > most:
        axes = axes[_most_important(graph, target, axes, most)]
    first = math.sqrt(max(covariance(graph, target, target), 0.0))
    extra, shift = _terms(graph, target, axes)
    variance = first**2 + extra
    second = math.sqrt(variance) if variance >= 0 else math.nan
    unit = graph.units[target]
    return SecondOrder(target, unit, first, second, shift, len(axes), total - len(axes))


def _axes(graph: Graph, target: str) -> Floats:
    """Displacement of every input by one u of each independent source.

    Shape (sources, inputs), the inputs in the order of `Graph.inputs_of`.
    """
    names = graph.inputs_of(target)
    rows: dict[str, Floats] = {}
    for place, name in enumerate(names):
        for source, slope in graph.inputs[name].parts:
            row = rows.setdefault(source.name, np.zeros(len(names)))
            row[place] += slope * source.standard_uncertainty
    found: list[Floats] = []
    for joint in graph.joints:
        group = [rows.pop(name, np.zeros(len(names))) for name in joint.names]
        found += list(_root(joint).T @ np.array(group))
    found += rows.values()
    return np.array([row for row in found if row.any()]).reshape(-1, len(names))


def _root(joint: Joint) -> Floats:
    """Return a square root of the correlation matrix, which may be singular."""
    sizes, directions = np.linalg.eigh(np.array(joint.correlation))
    kept = sizes > _ROUNDING * len(sizes)
    return np.asarray(directions[:, kept] * np.sqrt(sizes[kept]))


def _terms(graph: Graph, target: str, axes: Floats) -> tuple[float, float]:
    """Return the second-order terms of the variance, and the shift of the mean."""
    count = len(axes)
    one = np.eye(count)
    i, j = np.triu_indices(count, 1)
    corners = [one[i] + one[j], one[i] - one[j], one[j] - one[i], -one[i] - one[j]]
    z = np.concatenate([np.zeros((1, count)), one, -one, 2 * one, -2 * one, *corners])
    f = _values(graph, target, _STEP * z @ axes)
    up, down, far_up, far_down = f[1 : 1 + 4 * count].reshape(4, count)
    pp, pm, mp, mm = f[1 + 4 * count :].reshape(4, len(i))
    noise = _ROUNDING * float(np.abs(f).max())

    def derivative(differences: Floats, order: int) -> Floats:
        return np.where(np.abs(differences) > noise, differences, 0.0) / _STEP**order

    slopes = graph.sensitivities(target)
    first = axes @ np.array([slopes[n] for n in graph.inputs_of(target)])
    second = derivative(up - 2 * f[0] + down, 2)
    third = derivative((far_up - 2 * up + 2 * down - far_down) / 2, 3)
    mixed = derivative((pp - pm - mp + mm) / 4, 2)
    by_i = derivative((pp + pm - mp - mm) / 2 - up[i] + down[i], 3)
    by_j = derivative((pp + mp - pm - mm) / 2 - up[j] + down[j], 3)
    own = second**2 / 2 + first * third
    pairs = mixed**2 + first[i] * by_i + first[j] * by_j
    return float(own.sum() + pairs.sum()), float(second.sum()) / 2


def _most_important(graph: Graph, target: str, axes: Floats, most: int) -> list[int]:
    """Choose the axes that move the result most, at the estimates or aside of them.

    One that acts only in a product with a zero shows nothing at the estimates.
    """
    aside = np.cos(np.arange(len(axes)) ** 2.0) @ axes
    steps = np.concatenate([np.zeros((1, axes.shape[1])), axes])
    effect = np.zeros(len(axes))
    for centre in (0.0, 1.0):
        f = _values(graph, target, steps + centre * aside)
        effect += np.abs(f[1:] - f[0])
    return sorted(int(place) for place in np.argsort(-effect, kind="stable")[:most])


def _values(graph: Graph, target: str, moves: Floats) -> Floats:
    """Evaluate the target with the inputs moved, shape (points, inputs), in blocks."""
    names = graph.inputs_of(target)
    points = moves + np.array([graph.value(name) for name in names])
    size = max(1, _BLOCK // (len(names) + len(graph.order(target))))
    blocks = [points[start : start + size] for start in range(0, len(points), size)]
    found = np.concatenate([_block(graph, target, names, block) for block in blocks])
    if not np.isfinite(found).all():
        raise FormulaError(
            f"{target}: no finite value within one u of the estimates, so no "
            "second-order terms. Guard the formula or measure closer."
        )
    return found


def _block(graph: Graph, target: str, names: list[str], points: Floats) -> Floats:
    """Evaluate arrays where the formulas take them, else one point after another."""
    with np.errstate(all="ignore"):  # what is not finite is refused later
        whole = _at_once(graph, target, dict(zip(names, points.T, strict=True)))
        first = _one(graph, target, names, points[0])
        if whole is not None and abs(whole[0] - first) <= 1e-9 * np.abs(whole).max():
            return whole
        rest = [_one(graph, target, names, point) for point in points[1:]]
    return np.array([first, *rest])


def _at_once(graph: Graph, target: str, values: dict[str, Floats]) -> Floats | None:
    """Evaluate all points in one pass; None where a formula is not made for arrays."""
    shape = next(iter(values.values())).shape
    for name in graph.order(target):
        formula = graph.formulas[name]
        try:
            result = formula([values[n] for n in formula.arguments])
        except FormulaError:
            return None
        if np.shape(result) != shape:
            return None
        values[name] = np.asarray(result, dtype=float)
    return values[target]


def _one(graph: Graph, target: str, names: list[str], point: Floats) -> float:
    values = dict(zip(names, map(float, point), strict=True))
    for name in graph.order(target):
        formula = graph.formulas[name]
        values[name] = float(formula([values[n] for n in formula.arguments]))
    return values[target]
