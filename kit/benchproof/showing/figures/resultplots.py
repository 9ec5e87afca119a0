"""Every figure that results have the numbers for, with the section it belongs to."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from benchproof.keeping.runs.lastrun import arms_in
from benchproof.showing.figures.coverage import plot_of_coverage
from benchproof.showing.figures.drawing import Plot
from benchproof.showing.figures.evidence import (
    plot_of_counts,
    plot_of_predictions,
    plot_of_replications,
)
from benchproof.showing.figures.rounds import plot_of_rounds

__all__ = ["plots_of"]


def plots_of(results: Mapping[str, Any]) -> Iterator[tuple[str, Plot]]:
    """Yield the figures of a run, each with the id of its section on the page.

    Parameters
    ----------
    results : mapping
        As results.json has them; an older file has fewer figures.
    """
    rivals = results.get("verdicts") or ()
    yield "trials", plot_of_counts(arms_in(results), rivals)
    yield "trials", plot_of_coverage(results.get("coverage") or ())
    yield "evidence", plot_of_predictions(rivals)
    replicated = results.get("replications") or ()
    for quantity in dict.fromkeys(entry["quantity"] for entry in replicated):
        yield "evidence", plot_of_replications(replicated, quantity)
    rounds = [r for r in results.get("rounds") or () if "verdicts" in r]
    yield "rounds", plot_of_rounds(rounds)
