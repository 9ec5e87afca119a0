"""A budget as tables: by source, by instrument, by measured input."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING

from benchproof.values.quantities import engineering, two_figures
from benchproof.values.tables import Table, columns
from benchproof.values.units import Unit

if TYPE_CHECKING:  # a budget shows itself through this module
    from benchproof.reasoning.budgets.budget import Budget, BudgetLine


def budget_table(budget: Budget) -> Table:
    """Show every source of a budget, the largest share first."""
    heads = columns(
        "Source", "Of", "Type", "Distribution", "u>", "Degrees of freedom>",
        "Sensitivity>", "Contribution>", "Share>",
    )  # fmt: skip
    of = _owned(budget)
    rows = [_row(budget, line, of[line.source.name]) for line in budget.lines]
    if budget.correlation_share:
        share = per_cent(budget.correlation_share)
        rows.append(("correlation of these", *[""] * 7, share))
    summary = f"{budget.name} = {budget.summary()}"
    notes = (summary, *_offset_notes(budget), *budget.caveats)
    return Table(f"Budget of {budget.name}", heads, tuple(rows), notes)


def _owned(budget: Budget) -> dict[str, str]:
    """Name the estimate each source belongs to; a shared one has no single one."""
    estimates = {i.name: f"{i.name} = {i.estimate()}" for i in budget.inputs}
    return {
        source: estimates[names[0]] if len(names) == 1 else ", ".join(names)
        for source, names in budget.owners().items()
    }


def _row(budget: Budget, line: BudgetLine, of: str) -> tuple[str, ...]:
    source, target = line.source, budget.unit.difference()
    # One prefix for the whole column, so that its numbers compare at a glance.
    total = budget.standard_uncertainty / target.factor
    step, symbol = engineering(total, target.symbol)
    size = abs(line.contribution / target.factor) * step
    dof = source.degrees_of_freedom
    return (
        source.name,
        of,
        source.evaluation,
        source.distribution,
        _with_prefix(source.standard_uncertainty / source.unit.factor, source.unit),
        "∞" if math.isinf(dof) else f"{dof:g}",
        _slope(line.sensitivity, source.unit, target),
        # What is rounding noise beside the rest is shown as none.
        f"{two_figures(size) if size > 1e-9 * total * step else 0} {symbol}".rstrip(),
        per_cent(line.share),
    )


def instrument_table(budget: Budget) -> Table:
    """Show the share of the variance that comes from each instrument."""
    shares: dict[str, list[float]] = {}
    for line in budget.lines:
        shares.setdefault(line.source.instrument, []).append(line.whole_share)
    whole = {name: math.fsum(found) for name, found in shares.items()}
    rows = tuple(
        (name or "no instrument", str(len(shares[name])), per_cent(share))
        for name, share in sorted(whole.items(), key=lambda item: (-item[1], item[0]))
    )
    heads = columns("Instrument", "Sources>", "Share>")
    notes = _negative_notes(whole.values())
    return Table(f"Budget of {budget.name} by instrument", heads, rows, notes)


def measurand_table(budget: Budget) -> Table:
    """Show the share of the variance that goes through each measured input."""
    target = budget.unit.difference()
    rows = tuple(
        (
            i.name,
            i.estimate(),
            _slope(i.sensitivity, i.unit.difference(), target),
            per_cent(i.share),
        )
        for i in budget.inputs
    )
    heads = columns("Input", "Estimate>", "Sensitivity>", "Share>")
    notes = _negative_notes(i.share for i in budget.inputs)
    return Table(f"Budget of {budget.name} by measurand", heads, rows, notes)


def per_cent(share: float) -> str:
    """Write a share of a variance.

    Examples
    --------
    >>> per_cent(0.4256), per_cent(-0.00001)
    ('42.6 %', '0.0 %')
    """
    return f"{round(100 * share, 1) + 0.0:.1f} %"


def _slope(sensitivity: float, unit: Unit, target: Unit) -> str:
    slope = sensitivity * unit.factor / target.factor
    return f"{slope:.3g} {target.symbol or '1'}/{unit.symbol or '1'}"


def _with_prefix(number: float, unit: Unit) -> str:
    scale, symbol = engineering(number, unit.symbol)
    return f"{two_figures(number * scale)} {symbol}".rstrip()


def _negative_notes(shares: Iterable[float]) -> tuple[str, ...]:
    if not any(share < -0.0005 for share in shares):
        return ()
    return (
        "a negative share: through a shared or correlated source its error takes some "
        "of the others away, so u would be larger without it",
    )


def _offset_notes(budget: Budget) -> tuple[str, ...]:
    """Say for each range that several inputs use what was assumed of its offset."""
    owners = budget.owners()
    pools: dict[str, list[str]] = {}
    for line in budget.lines:
        if line.source.pool:
            pools.setdefault(line.source.pool, []).append(line.source.name)
    notes = []
    for pool, sources in pools.items():
        names = sorted({name for source in sources for name in owners[source]})
        if len(sources) > 1:
            how = "taken as independent between {} (an assumption)"
        else:
            how = "taken as one error, shared by {}"
        if len(names) > 1:
            notes.append(f"{pool}: {how.format(', '.join(names))}")
    return tuple(notes)
