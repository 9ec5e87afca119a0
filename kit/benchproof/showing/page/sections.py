"""The write-up's sections: their order, and the tables of results in each."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from benchproof.showing.page.condensed import condensed
from benchproof.showing.page.pagetables import PageTable

__all__ = ["LONGEST", "as_shown", "sections_of", "shortened"]

LONGEST = 150
"""Rows of a table on the page; of a longer record only the telling ones are shown."""

MOST_BUDGETS = 12
"""Of more budgets, only those of quantities that a prediction speaks of are shown."""

_FIRST = 20

# (id, heading, what to say when a case has none; None leaves the section out)
SECTIONS: tuple[tuple[str, str, str | None], ...] = (
    (
        "sample",
        "Reported device and tested sample",
        "No comparison of the reported device with the tested sample was recorded.",
    ),
    (
        "hazards",
        "Hazards and what was left undone",
        "No hazard was recorded. That is an omission, not a finding.",
    ),
    ("rivals", "Rivals and their predictions", None),
    ("instruments", "Instruments", "No instrument was recorded."),
    ("contacts", "Contacts", None),
    ("readings", "Readings", "No reading was recorded."),
    ("captures", "Captures", None),
    ("derived", "Model: quantities and formulas", None),
    ("budgets", "Uncertainty budgets", None),
    ("trials", "Trials", None),
    ("evidence", "Evidence, rival by rival", None),
    ("next", "Next measurements", None),
    ("rounds", "Rounds and changes", None),
    ("other", "Further tables", None),
)


def sections_of(
    tables: list[PageTable], others: set[str], notes: Mapping[str, str] | None = None
) -> list[dict[str, Any]]:
    """Group the tables in the page's order; a section not on the list comes last.

    Parameters
    ----------
    others : set of str
        Sections that have something to show beside tables.
    notes : mapping, optional
        By section, a sentence at its end.
    """
    known = {name for name, _, _ in SECTIONS}
    groups: dict[str, list[PageTable]] = {name: [] for name, _, _ in SECTIONS}
    for table in tables:
        groups[table.section if table.section in known else "other"].append(table)
    return [
        {
            "id": name,
            "heading": heading,
            "tables": groups[name],
            "note": (notes or {}).get(name, ""),
            "when_empty": None if name in others else empty,
        }
        for name, heading, empty in SECTIONS
        if groups[name] or empty or name in others
    ]


def shortened(
    tables: list[PageTable], judged: set[str]
) -> tuple[list[PageTable], dict[str, str]]:
    """Leave out budgets that would make a page too long to read, and name them.

    Parameters
    ----------
    judged : set of str
        Quantities that a prediction speaks of.

    Returns
    -------
    list of PageTable, dict of str to str
        What is shown, and by section a sentence on what is not.
    """
    budgets = [t for t in tables if t.section == "budgets"]
    wanted = {f"budget-{name}" for name in judged}
    kept = [t for t in budgets if t.id in wanted] or budgets[:MOST_BUDGETS]
    if len(budgets) <= MOST_BUDGETS or len(kept) == len(budgets):
        return tables, {}
    left_out = [t for t in budgets if t not in kept]
    names = ", ".join(t.title.removeprefix("Budget of ") for t in left_out)
    note = f"Not on this page, but in results.json and by running the case: {names}."
    return [t for t in tables if t not in left_out], {"budgets": note}


def as_shown(table: PageTable) -> PageTable:
    """Return a table as the page shows it: condensed, and shortened if still long.

    Of a long one the first rows stay, and those with a state or a last word.
    """
    table = condensed(table)
    if len(table.rows) <= LONGEST:
        return table
    kept = [
        row
        for number, row in enumerate(table.rows)
        if number < _FIRST or row.state or (row.cells and row.cells[-1])
    ][:LONGEST]
    note = (
        f"{len(kept)} of {len(table.rows)} rows: the first {_FIRST}, and of the others "
        "those that are struck, superseded or have something in the last column, up to "
        f"{LONGEST} in all. Every row is in the files of the case."
    )
    return replace(table, rows=tuple(kept), notes=(*table.notes, note))
