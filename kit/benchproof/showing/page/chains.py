"""The way from a verdict back to its readings, as links a reader can follow."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from markupsafe import Markup, escape

from benchproof.showing.page.pagetables import PageRow, PageTable

__all__ = ["linked", "place_of"]

_FROM = "from "
_NAMED: Mapping[str, int] = {"constants": 0, "quantities": 0, "captures": 0,
                             "readings": 1}  # fmt: skip
"""The column that names a quantity, in the tables a chain leads through."""
_HOW = 3


def linked(
    tables: Sequence[PageTable], judged: Iterable[str]
) -> tuple[list[PageTable], frozenset[str]]:
    """Give the rows that a verdict rests on a name each, and lead from one to the next.

    Parameters
    ----------
    tables : sequence of PageTable
        As the page shows them.
    judged : iterable of str
        Quantities that a prediction speaks of.

    Returns
    -------
    list of PageTable, frozenset of str
        The tables, and the names a link may lead to; see `place_of`.
    """
    how = _origins(tables)
    wanted = _reached(judged, how)
    rows = {t.id: {r.cells[_NAMED[t.id]] for r in t.rows} for t in tables if _fits(t)}
    known = wanted & set().union(
        *(rows.get(i, set()) for i in ("constants", "quantities"))
    )
    found = []
    for table in tables:
        if _fits(table):
            table = replace(table, rows=tuple(_linked(table, known, rows)))
        found.append(table)
    return found, frozenset(known)


def place_of(name: str, kind: str = "quantities") -> str:
    """Return the name of a quantity's row in one of the tables."""
    letter = "q" if kind in ("quantities", "constants") else kind[0]
    return f"{letter}-{'-'.join(name.split())}"


def _fits(table: PageTable) -> bool:
    column = _NAMED.get(table.id)
    return column is not None and len(table.columns) > column


def _origins(tables: Iterable[PageTable]) -> dict[str, list[str]]:
    """Return what each computed quantity is computed from."""
    return {
        row.cells[0]: row.cells[_HOW].removeprefix(_FROM).split(", ")
        for table in tables
        if table.id == "quantities" and len(table.columns) > _HOW
        for row in table.rows
        if row.cells[_HOW].startswith(_FROM)
    }


def _reached(names: Iterable[str], origins: Mapping[str, list[str]]) -> set[str]:
    reached: set[str] = set()
    waiting = list(names)
    while waiting:
        name = waiting.pop()
        if name not in reached:
            reached.add(name)
            waiting += origins.get(name, [])
    return reached


def _linked(
    table: PageTable, known: set[str], rows: Mapping[str, set[str]]
) -> Iterable[PageRow]:
    named: set[str] = set()
    for row in table.rows:
        name = row.cells[_NAMED[table.id]]
        if name not in known:
            yield row
            continue
        cells = row.cells
        if table.id == "quantities" and len(cells) > _HOW:
            said = _origin(name, cells[_HOW], known, rows)
            cells = (*cells[:_HOW], said, *cells[_HOW + 1 :])
        anchor = "" if name in named else place_of(name, table.id)
        named.add(name)
        yield replace(row, cells=cells, anchor=anchor)


def _origin(name: str, said: str, known: set[str], rows: Mapping[str, set[str]]) -> str:
    """Return how a quantity came about, its origins as links."""
    if said.startswith(_FROM):
        names = said.removeprefix(_FROM).split(", ")
        return Markup(_FROM) + Markup(", ").join(
            _link(n, n) if n in known else escape(n) for n in names
        )
    kinds = (kind for kind in ("captures", "readings") if name in rows.get(kind, ()))
    kind = next(kinds, "")
    return _link(said, name, kind) if kind else said


def _link(words: str, name: str, kind: str = "quantities") -> Markup:
    return Markup('<a href="#{}">{}</a>').format(place_of(name, kind), words)
