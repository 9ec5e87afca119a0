"""Rows of the log that are plain numbers, many at once; nearly all are."""

from __future__ import annotations

from functools import cached_property
from typing import Any, Protocol

from benchproof.measuring.readings import Reading, Record
from benchproof.values.quantities import plain_value


class Table(Protocol):
    """Many rows of the log, by column."""

    def column(self, name: str, /) -> list[str]:
        """Return the cells of a column."""

    def cells(self, first: str, last: str, /) -> list[tuple[str, ...]]:
        """Return the cells of adjacent columns, one tuple a row."""


class PlainRows:
    """The rows of a table that are readings of one plain number.

    They are told apart at once, and made into readings when somebody asks for one.

    Examples
    --------
    >>> class Two:
    ...     def cells(self, first, last):
    ...         heads = [("reading", "1"), ("reading", "1")]
    ...         return heads if first == "kind" else [("5.00", "V"), ("OL", "V")]
    >>> PlainRows(Two()).add_to(Record(), 0)
    1
    """

    def __init__(self, table: Table) -> None:
        self._table = table
        self._heads = table.cells("kind", "round")
        pairs = table.cells("value", "unit")
        known = {pair: plain_value(*pair) for pair in set(pairs)}
        self._values = [known[pair] for pair in pairs]

    def add_to(self, record: Record, start: int) -> int:
        """Add the plain readings of the current round that follow one another.

        Parameters
        ----------
        start : int
            Number of the first row, from 0.

        Returns
        -------
        int
            Number of the row that is anything else, and was not added; the number of
            all rows if there is none.
        """
        number = record.current_round
        head = ("reading", str(number))
        heads, values = self._heads, self._values
        places = range(start, len(heads))
        odd = (i for i in places if heads[i] != head or values[i] is None)
        stop = next(odd, len(heads))
        if stop > start:
            record.add_later(lambda: self._readings(start, stop, number))
        return stop

    @cached_property
    def _columns(self) -> tuple[list[Any], ...]:
        table = self._table
        return (
            table.column("row"),
            table.cells("measurand", "measurand"),
            self._values,
            table.cells("instrument", "because"),
            table.column("time"),
        )

    def _readings(self, start: int, stop: int, number: int) -> list[Reading]:
        columns = (column[start:stop] for column in self._columns)
        make = Reading._make  # half the time of calling it with twelve arguments
        return [
            make((row, number, name, value, *way, time))
            for row, (name,), value, way, time in zip(*columns, strict=True)
        ]
