"""Figures of a case: they show numbers, they compute none."""

from __future__ import annotations

from collections.abc import Mapping

from benchproof.keeping.case import Case
from benchproof.keeping.reports.evidence import arms_of, evidence_of, replicated_of
from benchproof.keeping.runs.results import rounds_of
from benchproof.keeping.trials.asdata import coverage_of
from benchproof.reasoning.budgets.budget import Budget
from benchproof.showing.figures.coverage import plot_of_coverage
from benchproof.showing.figures.drawing import (
    LIMIT,
    MEASURED,
    Drawing,
    Plot,
    Size,
    card,
    plain,
)
from benchproof.showing.figures.evidence import (
    plot_of_counts,
    plot_of_predictions,
    plot_of_replications,
)
from benchproof.showing.figures.rounds import plot_of_rounds
from benchproof.values.quantities import engineering


def figure_of_budget(budget: Budget) -> Drawing:
    """Draw the sources of a budget as bars of their contribution.

    Parameters
    ----------
    budget : Budget
        From ``case.budget(name)``.

    Examples
    --------
    >>> import tempfile
    >>> from benchproof import new_case, open_case
    >>> with tempfile.TemporaryDirectory() as bench:
    ...     case = open_case(new_case("Fan hums", bench))
    ...     _ = case.record("V_fan", "12.10(2) V", at="socket")
    ...     figure_of_budget(case.budget("V_fan")).alt[:30]
    'Budget of V_fan = 12.100(20) V'
    """
    unit = budget.unit.difference()
    sources = {x.source.name: x.contribution / unit.factor for x in budget.lines}
    u = budget.standard_uncertainty / unit.factor
    plot = plot_of_budget(budget.name, budget.summary(), u, unit.symbol, sources)
    return plot.drawing()


def plot_of_budget(
    name: str,
    summary: str,
    u: float,
    unit: str,
    contributions: Mapping[str, float],
    size: Size | None = None,
) -> Plot:
    """Plot contributions to a standard uncertainty as bars, the twelve largest.

    Parameters
    ----------
    name, summary : str
        Of the quantity; its value and uncertainty in words.
    u : float
        Combined standard uncertainty; correlations between sources count in it.
    unit : str
        Of u and of the contributions.
    contributions : mapping
        Of each source alone.
    size : (float, float), optional
        In inches.
    """
    title = f"Uncertainty budget of {name}"
    if not u:
        return Plot(f"budget-{name}", title, f"{name} = {summary}: nothing to draw.")
    ranked = sorted(contributions.items(), key=lambda item: -abs(item[1]))
    scale, symbol = engineering(u, unit)
    shown = ranked[:12][::-1]
    figure, axes = card(0.34 * len(shown) + 1.1, size)
    labels = [plain(source, 60) for source, _ in shown]
    axes.barh(labels, [abs(c) * scale for _, c in shown], color=MEASURED, height=0.6)
    axes.axvline(u * scale, color=LIMIT, linestyle="--")
    axes.annotate(
        "combined u", (u * scale, 1.0), xycoords=("data", "axes fraction"),
        xytext=(-4, 4), textcoords="offset points", color=LIMIT, ha="right",
    )  # fmt: skip
    axes.set_xlabel(f"contribution to u of {name} in {symbol or '1'}")
    largest, part = ranked[0]
    alt = (
        f"Budget of {name} = {summary}: the largest source is {largest} with "
        f"{100 * (part / u) ** 2:.0f} % of the variance, of {len(ranked)} sources."
    )
    return Plot(f"budget-{name}", title, alt, figure)


def figure_of_predictions(case: Case, *, level: float = 0.95) -> Drawing:
    """Draw every prediction about a value beside what was seen.

    Each row shows how far the value lies from its limit, in units of its own
    standard uncertainty, with the coverage interval; the limit is at 0 and the
    predicted side is shaded. A censored reading is an arrow to its side.

    Parameters
    ----------
    case : Case
    level : float
        Of the decision rule.

    Examples
    --------
    >>> import tempfile
    >>> from benchproof import new_case, open_case
    >>> with tempfile.TemporaryDirectory() as bench:
    ...     case = open_case(new_case("Fan hums", bench))
    ...     fan = case.record("V_fan", "12.10(2) V", at="socket")
    ...     h1 = case.hypothesis("H1", "The supply sags")
    ...     h1.predicts("below 11 V", fan.below("11 V"))
    ...     "V_fan below 11 V: contradicted" in figure_of_predictions(case).alt
    True
    """
    return plot_of_predictions(evidence_of(case, level=level)).drawing()


def figure_of_counts(case: Case) -> Drawing:
    """Draw what was counted, as readings or in trial plans, with exact limits.

    Parameters
    ----------
    case : Case
        Its predictions say which counts are controls, and which share they expect.

    Examples
    --------
    >>> import tempfile
    >>> from benchproof import new_case, open_case
    >>> with tempfile.TemporaryDirectory() as bench:
    ...     case = open_case(new_case("Fan hums", bench))
    ...     _ = case.record("hums", "17 of 20", at="switched on")
    ...     "17 of 20, 62.1 % to 96.8 %" in figure_of_counts(case).alt
    True
    """
    return plot_of_counts(arms_of(case), evidence_of(case)).drawing()


def figure_of_coverage(case: Case) -> Drawing:
    """Draw how much of every trial plan was done, condition by condition.

    Parameters
    ----------
    case : Case

    Examples
    --------
    In a notebook::

        figure_of_coverage(case)
    """
    return plot_of_coverage(coverage_of(case)).drawing()


def figure_of_rounds(case: Case) -> Drawing:
    """Draw the rounds from left to right with the verdicts at the end of each.

    Parameters
    ----------
    case : Case
        Needs two rounds; what changed between them stands out.

    Examples
    --------
    In a notebook::

        figure_of_rounds(case)
    """
    return plot_of_rounds(rounds_of(case)).drawing()


def figure_of_replications(case: Case, name: str) -> Drawing:
    """Draw what others found for a quantity beside the case's own value.

    Parameters
    ----------
    case : Case
        With files in its replication folder.
    name : str
        The quantity.

    Examples
    --------
    In a notebook::

        figure_of_replications(case, "R_source")
    """
    return plot_of_replications(replicated_of(case), name).drawing()
