import csv
import io
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchproof.keeping.logs.rowformat import Row, RowFormat
from benchproof.values.errors import FileError, InputError

TIME = "2026-11-25T11:20:31Z"
ROWS = RowFormat("readings.csv", ("row", "value", "because", "time"), "r")
HEADER = b"row,value,because,time\n"

# Everything UTF-8 can hold but NUL.
cells = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"))


def whole_file(*entry):
    return HEADER + ROWS.encoded([cell | {"time": TIME} for cell in entry], 1, b"\n")


def read(data):
    return ROWS.read(data, 0, 0, at_start=True)


def refusal(data):
    with pytest.raises(FileError) as caught:
        read(data)
    return str(caught.value)


def test_a_row_gives_its_cells_by_column_name():
    row = read(whole_file({"value": "12.1"})).rows[0]
    assert (row["row"], row["value"], row["because"], row["time"]) == (
        "r-0001",
        "12.1",
        "",
        TIME,
    )


def test_a_row_does_not_change():
    row = Row(2, ("r-0001",), {"row": 0})
    with pytest.raises(AttributeError, match="cannot assign"):
        row.line = 3


@given(cells, cells)
def test_any_text_is_read_back_as_it_was_written(value, because):
    rows = read(whole_file({"value": value, "because": because}, {})).rows
    assert (rows[0]["value"], rows[0]["because"]) == (value, because)
    assert len(rows) == 2


@given(cells)
def test_other_programs_read_the_same_text(value):
    text = whole_file({"value": value}).decode()
    table = list(csv.reader(io.StringIO(text, newline="")))
    assert table[1] == ["r-0001", value, "", TIME]


@given(cells, st.data())
def test_a_cut_anywhere_leaves_the_rows_before_it_and_loses_no_byte(value, data):
    before = whole_file({"value": "1"})
    after = whole_file({"value": "1"}, {"value": value, "because": 'a\n"b" é'})
    cut = data.draw(st.integers(len(before), len(after) - 1))
    part = read(after[:cut])
    assert part.size + len(part.fragment) == cut
    if cut == len(after) - 1:
        assert part.unended
        assert [row["value"] for row in part.rows] == ["1", value]
    else:
        assert [row["value"] for row in part.rows] == ["1"]
        assert part.fragment == after[len(before) : cut]


@pytest.mark.parametrize("cut", range(1, len(HEADER) - 1))
def test_a_torn_header_is_a_fragment(cut):
    part = read(HEADER[:cut])
    assert (part.rows, part.size, part.fragment) == ([], 0, HEADER[:cut])


def test_a_header_without_its_newline_is_whole():
    part = read(HEADER[:-1])
    assert (part.unended, part.fragment) == (True, b"")


def test_a_lone_byte_order_mark_is_a_fragment():
    assert read(b"\xef\xbb\xbf").fragment == b"\xef\xbb\xbf"


def test_a_torn_header_takes_its_byte_order_mark_along():
    assert read(b"\xef\xbb\xbfrow,va").fragment == b"\xef\xbb\xbfrow,va"


def test_zeros_after_a_power_cut_are_a_fragment():
    whole = whole_file({"value": "1"})
    part = read(whole + b"r-0002,2\0\0\0\0")
    assert (len(part.rows), part.fragment) == (1, b"r-0002,2\0\0\0\0")


def test_a_complete_time_followed_by_zeros_is_a_fragment():
    torn = f"r-0001,2,,{TIME}\0\0".encode()
    assert read(HEADER + torn).fragment == torn


def test_the_row_after_one_with_line_breaks_knows_its_line():
    rows = read(whole_file({"because": "a\nb\r\nc"}, {"value": "2"})).rows
    assert [row.line for row in rows] == [2, 5]


def test_a_later_part_goes_on_counting_lines_and_rows():
    part = ROWS.read(f"r-0008,2,,{TIME}\n".encode(), 20, 7, at_start=False)
    assert [(row.line, row["row"]) for row in part.rows] == [(21, "r-0008")]


def test_row_ids_grow_past_four_digits():
    data = ROWS.encoded([{"time": TIME}] * 2, 9999, b"\n")
    rows = ROWS.read(data, 9999, 9998, at_start=False).rows
    assert [row["row"] for row in rows] == ["r-9999", "r-10000"]


def test_a_spreadsheets_mark_line_ends_and_quotes_are_read():
    whole = whole_file({"value": "1", "because": "a, b"}, {"value": "2"})
    saved = b"\xef\xbb\xbf" + whole.replace(b"\n", b"\r\n").replace(b",2,", b',"2",')
    part = read(saved)
    assert part.rows == read(whole).rows
    assert part.size == len(saved)


def test_a_carriage_return_left_of_a_line_end_is_not_a_row():
    part = read(whole_file({"value": "1"}) + b"\r")
    assert (len(part.rows), part.unended, part.lines) == (1, True, 2)


def test_empty_lines_are_passed_over():
    rows = read(whole_file({"value": "1"}) + f"\n\r\nr-0002,2,,{TIME}\n".encode()).rows
    assert [row.line for row in rows] == [2, 5]


def test_characters_that_some_programs_take_for_line_ends_stay_in_their_cell():
    rows = read(whole_file({"value": "a\u2028b\x85c\x0bd"})).rows
    assert rows[0]["value"] == "a\u2028b\x85c\x0bd"


@pytest.mark.parametrize(("mark", "spoken"), [(";", "semicolons"), ("\t", "tabs")])
def test_other_separators_are_refused_with_their_name(mark, spoken):
    data = whole_file({"value": "1"}).replace(b",", mark.encode())
    assert refusal(data) == (
        f"readings.csv line 1: cells are separated by {spoken}, as some spreadsheets "
        "do. Put the file back as it was (from git or a backup), or save it again as "
        "CSV with commas."
    )


def test_a_renamed_column_is_named():
    said = refusal(whole_file({}).replace(b"value", b"wert"))
    assert "line 1: the header should read 'row,value,because,time'" in said
    assert "(missing: 'value'; not expected: 'wert')" in said


def test_a_missing_column_is_named():
    said = refusal(b"row,value,time\n")
    assert "(missing: 'because'; not expected: none)" in said


@pytest.mark.parametrize("data", [b"\n", b"\n" + HEADER, b"\r\n\r\n"])
def test_a_header_that_is_not_on_line_1_is_refused(data):
    assert "line 1: the header should read" in refusal(data)


def test_a_row_with_too_few_cells_is_refused_with_its_line():
    data = whole_file({}) + b"r-0002,5\n" + f"r-0003,1,,{TIME}\n".encode()
    assert "readings.csv line 3: 2 cells instead of 4. Put" in refusal(data)


def test_a_row_with_too_many_cells_is_refused_with_its_line():
    data = HEADER + f"r-0001,1,2,,{TIME}\n".encode()
    assert "readings.csv line 2: 5 cells instead of 4. Put" in refusal(data)


def test_a_doubled_row_is_refused_with_its_line():
    row = f"r-0001,1,,{TIME}\n".encode()
    assert "line 3, column 'row': 'r-0001' is there twice; 'r-0002'" in refusal(
        HEADER + row + row
    )


def test_sorted_rows_are_refused_with_their_line():
    rows = [f"r-000{n},1,,{TIME}\n".encode() for n in (2, 1)]
    assert "line 2, column 'row': 'r-0002' is out of order; 'r-0001'" in refusal(
        HEADER + b"".join(rows)
    )


def test_a_removed_row_is_refused_with_the_line_where_it_was():
    rows = [f"r-000{n},1,,{TIME}\n".encode() for n in (1, 3)]
    assert "line 3, column 'row': 'r-0003' is out of order; 'r-0002'" in refusal(
        HEADER + b"".join(rows)
    )


def test_latin_1_is_refused_with_the_line_and_the_byte():
    data = whole_file({"value": "1"}, {"because": "é"}, {}).replace(
        b"\xc3\xa9", b"\xe9"
    )
    assert "line 3: byte 0xe9 is not UTF-8 text." in refusal(data)


def test_latin_1_in_a_last_row_without_newline_is_refused_and_not_set_aside():
    data = HEADER + f"r-0001,1,é,{TIME}".encode("latin-1")
    assert "line 2: byte 0xe9 is not UTF-8 text." in refusal(data)


def test_utf_16_is_refused():
    data = whole_file({"value": "1"}).decode().encode("utf-16")
    assert "line 1: byte 0xff is not UTF-8 text." in refusal(data)


def test_a_zero_byte_among_the_rows_is_refused():
    data = whole_file({"value": "1"}, {}).replace(b"1,,", b"\0,,")
    assert "line 2: byte 0x00 is not UTF-8 text." in refusal(data)


def test_a_stray_quote_is_refused_where_it_opens_and_swallows_no_rows():
    data = whole_file(*[{"value": "1"}] * 5).replace(b"r-0002,1", b'r-0002,"1')
    assert "line 3: the row that starts here cannot be split" in refusal(data)


def test_a_stray_quote_before_a_torn_row_swallows_no_rows():
    data = whole_file(*[{"value": "1"}] * 5).replace(b"r-0002,1", b'r-0002,"1')
    assert "line 3: the row that starts here cannot be split" in refusal(data[:-9])


def test_a_stray_quote_in_the_last_row_is_refused_and_not_set_aside():
    data = whole_file(*[{"value": "1"}] * 2).replace(b"r-0002,1", b'r-0002,"1')
    assert "line 3: the row that starts here cannot be split" in refusal(data)


def test_text_after_a_closing_quote_is_refused():
    data = HEADER + f'r-0001,"1"2,,{TIME}\nr-0002,1,,{TIME}\n'.encode()
    assert "line 2: the row that starts here cannot be split" in refusal(data)


def test_carriage_returns_alone_are_refused_as_line_ends():
    assert "line 1: the row that starts here cannot be split" in refusal(
        whole_file({}, {}).replace(b"\n", b"\r")
    )


@pytest.mark.parametrize("text", ["a\0b", "\ud83d"])
def test_a_cell_that_csv_cannot_hold_is_refused(text):
    with pytest.raises(InputError, match="column 'value': .* NUL or half a character"):
        ROWS.encoded([{"value": text, "time": TIME}], 1, b"\n")


def test_a_cell_too_long_to_be_read_back_is_refused():
    limit = csv.field_size_limit()
    assert read(whole_file({"value": "x" * limit})).rows[0]["value"] == "x" * limit
    with pytest.raises(InputError, match=f"column 'value': {limit + 1} characters"):
        whole_file({"value": "x" * (limit + 1)})


@pytest.mark.parametrize("column", ["valeu", "row"])
def test_a_cell_the_log_does_not_take_is_refused(column):
    message = f"readings.csv, column '{column}': there is no such cell. Use value, beca"
    with pytest.raises(InputError, match=re.escape(message)):
        ROWS.encoded([{column: "1", "time": TIME}], 1, b"\n")


@pytest.mark.parametrize("time", ["", "2026-11-25", TIME + "\n", TIME[:-1], "noon"])
def test_an_incomplete_time_is_refused(time):
    with pytest.raises(InputError, match="column 'time': .* not a complete UTC time"):
        ROWS.encoded([{"time": time}], 1, b"\n")
