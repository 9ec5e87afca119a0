"""Which recorded readings count, and rows of the log that make no sense."""

import pytest

from benchproof.measuring.readings import (
    COLUMNS,
    Record,
    counting,
    extend_record,
    standing,
    whole_sets,
)
from benchproof.values.errors import FileError


def row(kind="reading", **cells):
    filled = dict.fromkeys(COLUMNS, "")
    filled |= {"kind": kind, "round": "1", "measurand": "V", "value": "5.00"}
    filled |= {"unit": "V", "entry": "e-1", **cells}
    return filled


def record(*rows):
    made = Record()
    for number, cells in enumerate(rows, 1):
        extend_record(made, {**cells, "row": f"r-{number}"}, f"line {number + 1}")
    return made


def texts(readings):
    return [r.value.text for r in readings]


def test_all_readings_of_one_entry_count():
    made = record(row(value="5.00"), row(value="5.01"))
    assert texts(counting(made, "V")) == ["5.00", "5.01"]


def test_the_last_entry_of_a_round_supersedes_the_earlier_ones():
    made = record(row(value="5.00"), row(value="6.00", entry="e-2", because="wrong"))
    assert standing(made, made.of("V")) == {"r-1": "superseded", "r-2": "counts"}


def test_the_latest_round_counts_and_earlier_ones_stay():
    made = record(
        row(value="5.00"),
        row("round", round="2", because="objection"),
        row(value="6.00", round="2", entry="e-3"),
    )
    assert standing(made, made.of("V")) == {"r-1": "earlier round", "r-3": "counts"}
    assert texts(counting(made, "V")) == ["6.00"]
    assert texts(counting(made, "V", up_to=1)) == ["5.00"]
    assert (made.current_round, made.rounds[1].because) == (2, "objection")


def test_all_readings_of_earlier_rounds_are_of_an_earlier_round():
    made = record(
        row(value="5.00"),
        row(value="5.01"),
        row("round", round="2"),
        row(value="6.00", round="2", entry="e-3"),
        row(value="6.01", round="2", entry="e-3"),
    )
    assert list(standing(made, made.of("V")).values()) == [
        "earlier round", "earlier round", "counts", "counts",
    ]  # fmt: skip


def test_another_measurand_is_not_touched_by_a_new_round():
    made = record(
        row(value="5.00", measurand="W"),
        row("round", round="2"),
        row(value="6.00", round="2", entry="e-3"),
    )
    assert texts(counting(made, "W")) == ["5.00"]
    assert made.names() == ["W", "V"]


def test_a_struck_reading_does_not_count_wherever_it_stands():
    made = record(row(value="5.00"), row(value="9.99"), row("strike", value="r-2"))
    assert standing(made, made.of("V"))["r-2"] == "struck"
    assert texts(counting(made, "V")) == ["5.00"]


def test_of_readings_taken_together_only_whole_sets_count_in_their_order():
    values = {"V": ["1.0", "2.0", "3.0", "4.0"], "I": ["10", "20", "30", "40"]}
    rows = [row(measurand=n, value=v) for n in values for v in values[n]]
    # An earlier entry, and one reading of each measurand struck: V's 2.0, I's 30.
    made = record(row(value="9.9", entry="e-0"), *rows)
    for struck in ("r-3", "r-8"):
        extend_record(made, row("strike", value=struck) | {"row": "r-10"}, "line 11")
    whole = whole_sets(made, [counting(made, name) for name in values])
    assert [texts(readings) for readings in whole] == [["1.0", "4.0"], ["10", "40"]]


def test_striking_a_whole_entry_does_not_revive_the_one_it_superseded():
    made = record(
        row(value="5.00"), row(value="6.00", entry="e-2"), row("strike", value="r-2")
    )
    assert counting(made, "V") == []


def test_a_measurand_without_readings_has_none_that_count():
    assert counting(Record(), "V") == []
    assert standing(Record(), []) == {}


@pytest.mark.parametrize(
    ("cells", "said"),
    [
        ({"kind": "note"}, "column 'kind': 'note' is not reading, round or strike"),
        ({"round": "0"}, "column 'round': '0' is not a whole number from 1"),
        ({"round": "one"}, "column 'round': 'one' is not a whole number"),
        ({"round": ""}, "column 'round'"),
        ({"value": "five"}, "columns 'value' and 'unit': cannot read"),
        ({"unit": ""}, "has no unit"),
        ({"unit": "blip"}, "is not known"),
        ({"kind": "round", "round": "3"}, "round 3 follows round 1"),
    ],
)
def test_a_row_that_makes_no_sense_is_named_with_its_line_and_column(cells, said):
    with pytest.raises(FileError) as caught:
        record(row(**cells))
    assert str(caught.value).startswith("line 2")
    assert said in str(caught.value)


def test_readings_that_wait_stand_in_order_with_those_added():
    made = record(row(), row(measurand="R", unit="ohm"))
    (v, r) = made.readings
    again = Record()
    again.add_later(lambda: [v])
    again.add(r)
    again.add_later(lambda: [v, v])
    assert again.readings == [v, r, v, v]
    assert again.by_measurand == {"V": [v, v, v], "R": [r]}


def test_a_question_mark_in_the_log_is_named():
    with pytest.raises(FileError):
        record(row(value="?"))


@pytest.mark.parametrize(
    "cells", [{"round": "2"}, {"round": "²"}, {"value": "5.00 5.01"}]
)
def test_a_row_that_no_recording_writes_is_named(cells):
    with pytest.raises(FileError):
        record(row(**cells))
