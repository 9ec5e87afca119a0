"""Plain rows taken many at once: the same readings, and only plain ones."""

import pytest

from benchproof.measuring.plainrows import PlainRows
from benchproof.measuring.readings import COLUMNS, Record, extend_record

PLAIN = {"row": "r-0001", "kind": "reading", "round": "1", "measurand": "V",
         "value": "5.00", "unit": "V", "entry": "e-0001"}  # fmt: skip


class Rows:
    def __init__(self, *rows):
        self.rows = [dict.fromkeys(COLUMNS, "") | PLAIN | row for row in rows]

    def column(self, name):
        return [row[name] for row in self.rows]

    def cells(self, first, last):
        between = COLUMNS[COLUMNS.index(first) : COLUMNS.index(last) + 1]
        return [tuple(row[name] for name in between) for row in self.rows]


def test_plain_rows_are_read_as_any_others():
    table = Rows(
        {},
        {"value": "-0.30", "unit": "mV", "instrument": "handheld", "range": "6 V"},
        {"function": "DC V", "at": "socket, idle", "together": "t-1", "time": "now"},
        {"value": "12.", "because": "it slipped", "measurand": "W"},
    )
    slow, quick = Record(), Record()
    for row in table.rows:
        extend_record(slow, row, "line 2")
    assert PlainRows(table).add_to(quick, 0) == 4
    assert quick.readings == slow.readings
    assert quick.by_measurand == slow.by_measurand


@pytest.mark.parametrize(
    "cells",
    [
        *({"kind": "round"}, {"kind": "strike"}, {"round": "2"}, {"value": "OL"}),
        *({"value": "5.00(5)"}, {"unit": ""}, {"unit": "volts!"}, {"value": ""}),
    ],
)
def test_a_row_that_is_not_plain_is_left_to_the_careful_reader(cells):
    record = Record()
    plain = PlainRows(Rows({}, cells, {}))
    assert plain.add_to(record, 0) == 1
    assert len(record.readings) == 1
    assert plain.add_to(record, 2) == 3
    assert len(record.readings) == 2


def test_rows_of_the_round_that_was_opened_since_are_plain():
    record, opened = Record(), {"kind": "round", "round": "2", "because": "new lead"}
    table = Rows({}, opened, {"round": "2"}, {"round": "1"})
    plain = PlainRows(table)
    assert plain.add_to(record, 0) == 1
    extend_record(record, table.rows[1], "line 3")
    assert plain.add_to(record, 2) == 3
    assert [r.round for r in record.readings] == [1, 2]
