"""Which recorded readings answer a cell, and what is refused before asking."""

from dataclasses import replace

import pytest

from benchproof.keeping.live.taking import Taking, already_taken, refuse_to_ask
from benchproof.measuring.connections import Query
from benchproof.measuring.instruments import Function
from benchproof.measuring.readings import Reading, Record, Round
from benchproof.values.errors import RecordingRefusedError
from benchproof.values.quantities import read_values

CELL = Taking("V", "meter", Function("DC V", "V", ()), Query("DC V", "A?"), "plug")


def reading(row, round_number=1, **other):
    (value,) = read_values("12.1 V")
    fields = {
        "instrument": "meter",
        "function": "DC V",
        "at": "plug",
        "entry": f"e-{row}",
        **other,
    }
    return Reading(row, round_number, "V", value, **fields)


def record(*readings, rounds=1):
    whole = Record(rounds=[Round(n) for n in range(1, rounds + 1)])
    for one in readings:
        whole.add(one)
    return whole


def rows(found):
    return [r.row for r in found]


@pytest.mark.parametrize(
    "other",
    [{"instrument": "twin"}, {"function": ""}, {"at": ""}, {"because": "slipped"}],
)
def test_readings_taken_another_way_do_not_answer(other):
    assert already_taken(record(reading("1", **other)), CELL) == []


def test_the_first_round_answers_unless_another_is_named():
    both = record(reading("1"), reading("2", 2), rounds=2)
    assert rows(already_taken(both, CELL)) == ["1"]
    assert rows(already_taken(both, replace(CELL, in_round=2))) == ["2"]


def test_a_correction_answers_only_the_cell_that_made_it():
    both = record(reading("1"), reading("2", because="slipped"))
    assert rows(already_taken(both, CELL)) == ["1"]
    assert rows(already_taken(both, replace(CELL, because="slipped"))) == ["2"]


def test_all_readings_of_a_series_answer_together():
    series = record(reading("1", entry="e"), reading("2", entry="e"))
    assert rows(already_taken(series, CELL)) == ["1", "2"]


def test_a_corrected_series_is_not_resumed():
    both = record(reading("1"), reading("2", because="slipped"))
    with pytest.raises(RecordingRefusedError, match="corrected since"):
        refuse_to_ask(both, CELL, already_taken(both, CELL))


def test_an_empty_record_is_no_reason_to_refuse():
    assert refuse_to_ask(record(), CELL, []) is None


def test_readings_of_an_earlier_round_are_not_in_the_way():
    typed = record(reading("1", instrument="twin"), rounds=2)
    assert refuse_to_ask(typed, CELL, []) is None
