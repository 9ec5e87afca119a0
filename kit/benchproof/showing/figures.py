"""Figures drawn from results: they show numbers, they compute none."""

from __future__ import annotations

import base64
import io
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from benchproof.keeping.case import Case
from benchproof.reasoning.budgets.budget import Budget
from benchproof.reasoning.verdicts import Judged
from benchproof.values.quantities import engineering

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

INK, MEASURED, LIMIT = "#1f2933", "#0b6e99", "#b4540a"
"""Blue and orange stay apart for every common kind of colour vision."""


@dataclass(frozen=True)
class Drawing:
    """A figure with the sentence that says the same; shows itself in a notebook.

    Attributes
    ----------
    svg : str
        Empty where there is nothing to draw.
    alt : str
        Text alternative.
    """

    svg: str
    alt: str

    def __repr__(self) -> str:
        return self.alt

    def _repr_mimebundle_(
        self, include: Any = None, exclude: Any = None
    ) -> tuple[dict[str, str], dict[str, Any]]:
        if not self.svg:
            return {"text/plain": self.alt}, {}
        code = base64.b64encode(self.svg.encode()).decode()
        alt = self.alt.replace("&", "&amp;").replace('"', "&quot;").replace("<", "&lt;")
        image = f'<img alt="{alt}" src="data:image/svg+xml;base64,{code}">'
        return (
            {"text/plain": self.alt, "text/html": image},
            {"text/html": {"alt": self.alt}},
        )


def figure_of_budget(budget: Budget) -> Drawing:
    """Draw the sources of a budget as bars of their contribution.

    Parameters
    ----------
    budget : Budget
        From ``case.budget(name)``.
    """
    if not budget.standard_uncertainty:
        return Drawing("", f"{budget.name} = {budget.summary()}: nothing to draw.")
    unit = budget.unit.difference()
    u = budget.standard_uncertainty / unit.factor
    scale, symbol = engineering(u, unit.symbol)
    lines = budget.lines[:12][::-1]
    sizes = [abs(x.contribution) / unit.factor * scale for x in lines]
    figure, axes = _axes(0.34 * len(lines) + 1.1)
    axes.barh([x.source.name for x in lines], sizes, color=MEASURED, height=0.6)
    axes.axvline(u * scale, color=LIMIT, linestyle="--")
    axes.annotate(
        "combined u", (u * scale, 1.0), xycoords=("data", "axes fraction"),
        xytext=(-4, 4), textcoords="offset points", color=LIMIT, ha="right",
    )  # fmt: skip
    axes.set_xlabel(f"contribution to u of {budget.name} in {symbol or '1'}")
    largest = budget.lines[0]
    alt = (
        f"Budget of {budget.name} = {budget.summary()}: the largest source is "
        f"{largest.source.name} with {100 * largest.share:.0f} % of the variance, "
        f"of {len(budget.lines)} sources."
    )
    return Drawing(svg_of(figure), alt)


def figure_of_predictions(case: Case, *, level: float = 0.95) -> Drawing:
    """Draw every prediction about a value beside what was seen.

    Each line shows how far the value lies from its limit, in units of its own
    standard uncertainty, with the coverage interval; the limit is at 0 and the
    predicted side is shaded.

    Parameters
    ----------
    case : Case
    level : float
        Of the decision rule.
    """
    verdicts = case.verdicts(level=level).verdicts
    shown = [
        (v.hypothesis.name, j, *distance)
        for v in verdicts
        for j in v.judged
        if (distance := _distance(case, j)) is not None
    ]
    if not shown:
        return Drawing("", "No prediction about a value has been measured yet.")
    figure, axes = _axes(0.42 * len(shown) + 1.2)
    axes.axvspan(0, 60, color=LIMIT, alpha=0.12, linewidth=0)
    axes.axvline(0, color=LIMIT, linestyle="--")
    for row, (_, _, where, half) in enumerate(reversed(shown)):
        axes.errorbar(_squeezed(where), row, fmt=_marker(where), color=MEASURED,
                      xerr=half if abs(where) < _FAR else None, capsize=3)  # fmt: skip
    labels = [f"{name}: {j.prediction.criterion.text}" for name, j, *_ in shown]
    axes.set_yticks(range(len(shown)), labels[::-1])
    axes.set_xlim(-33, 33)
    axes.set_xlabel(
        "distance from the limit in standard uncertainties (shaded: met; arrow: beyond)"
    )
    return Drawing(svg_of(figure), _predictions_alt(shown))


_FAR = 30.0


def _marker(where: float) -> str:
    """Draw a value beyond the axis as an arrow."""
    if abs(where) < _FAR:
        return "o"
    return ">" if where > 0 else "<"


def _squeezed(where: float) -> float:
    """Keep far values at the edge of the axis, where they still show their side."""
    return max(min(where, _FAR + 1), -_FAR - 1)


def _distance(case: Case, judged: Judged) -> tuple[float, float] | None:
    """Return how far inside its limits a value lies, and its half-width, in u."""
    criterion = judged.prediction.criterion
    state = case.state()
    name = criterion.quantity
    if not state.knows(name) or state.missing(name):
        return None
    budget = state.budget(name)
    u = budget.standard_uncertainty
    if not u:
        return None
    inside = min(budget.value - criterion.lower, criterion.upper - budget.value)
    return inside / u, budget.coverage_factor


def _predictions_alt(shown: list[tuple[str, Judged, float, float]]) -> str:
    said = "; ".join(
        f"{name}, {j.prediction.criterion.text}: {j.outcome} ({j.detail})"
        for name, j, *_ in shown
    )
    return f"Predictions against observations. {said}."


def _axes(height: float) -> tuple[Figure, Axes]:
    """Make axes on a white card, which reads in light and dark pages alike."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(8.0, height), layout="constrained", facecolor="white")
    axes = figure.add_subplot(facecolor="white")
    axes.spines[["top", "right"]].set_visible(False)
    axes.tick_params(colors=INK)
    axes.grid(axis="x", alpha=0.25)
    return figure, axes


def svg_of(figure: Figure) -> str:
    """Write SVG that is the same on every run: no date, fixed ids."""
    from matplotlib import rc_context

    buffer = io.StringIO()
    # Text stays text: a tenth of the size, and readable by a screen reader.
    settings: Any = {
        "svg.hashsalt": "benchproof",
        "svg.fonttype": "none",
        "font.family": "sans-serif",
        "font.size": 10,
    }
    with rc_context(settings):
        figure.savefig(buffer, format="svg", metadata={"Date": None, "Creator": None})
    return buffer.getvalue()
