"""Tables in text, HTML and CSV: what was typed is shown, and never obeyed."""

import csv
import io

import pytest

from benchproof.values.tables import Table, columns, escaped, visible

HOSTILE = '<script>alert("1")</script> & $x$'


def table(*rows, states=(), notes=(), heads=("Name", "V>"), title="Rails"):
    return Table(title, columns(*heads), rows, notes, states)


def test_numbers_are_aligned_right_and_words_left():
    shown = str(table(("V_idle", "12.10"), ("V", "5")))
    assert shown.splitlines() == [
        "Rails",
        "Name   │     V",
        "───────┼──────",
        "V_idle │ 12.10",
        "V      │     5",
    ]


@pytest.mark.parametrize("where", ["title", "head", "cell", "note"])
def test_markup_and_mathematics_are_shown_as_typed_in_html(where):
    made = Table(
        HOSTILE if where == "title" else "",
        columns(HOSTILE if where == "head" else "Name"),
        ((HOSTILE if where == "cell" else "x",),),
        (HOSTILE,) if where == "note" else (),
    )
    html = made._repr_html_()
    assert "<script" not in html
    assert "$" not in html
    assert (
        html.count(
            "&lt;script&gt;alert(&quot;1&quot;)&lt;/script&gt; &amp; &#36;x&#36;"
        )
        == 1
    )


def test_a_quote_cannot_leave_an_attribute():
    assert escaped("\"'") == "&quot;&#x27;"


@pytest.mark.parametrize(
    "character", ["\x1b", "\r", "\n", "\x00", "\x9b", "\u202e", "\u200b"]
)
def test_a_control_character_is_shown_and_not_obeyed(character):
    shown = str(table((f"a{character}[2Jb", "1"), title=f"t{character}"))
    assert character not in shown.replace("\n", "") or character == "\n"
    assert "a\N{REPLACEMENT CHARACTER}[2Jb" in shown
    assert visible(character) == "\N{REPLACEMENT CHARACTER}"


@pytest.mark.parametrize("formula", ["=1+1", "@SUM(A1)", "+cmd|x", "-cmd|x", "\t=1"])
def test_a_spreadsheet_does_not_run_a_cell_as_a_formula(formula):
    text = table((formula, "1"), heads=(formula, "V>")).to_csv()
    for row in csv.reader(io.StringIO(text)):
        assert row[0] == "'" + formula


def test_a_carriage_return_stays_inside_its_cell_in_csv():
    text = table(("\r=1", "1")).to_csv()
    _, row = csv.reader(io.StringIO(text, newline=""))
    assert row[0].startswith("'")


@pytest.mark.parametrize("formula", ["-2+3+cmd|' /C calc'!A0", "+1+HYPERLINK(A1)"])
def test_a_formula_that_begins_like_a_number_is_defused_too(formula):
    assert f"'{formula}" in table((formula, "1")).to_csv()


@pytest.mark.parametrize("number", ["-12.10", "+5", "1e-3", "-1.5(2)", "-3.2 V"])
def test_a_number_stays_a_number_in_csv(number):
    rows = list(csv.reader(io.StringIO(table(("V", number)).to_csv())))
    assert rows[1] == ["V", number]


def test_csv_keeps_quotes_commas_and_lines():
    typed = 'a "quoted", cell\nof two lines'
    rows = list(csv.reader(io.StringIO(table((typed, "1")).to_csv())))
    assert rows == [["Name", "V"], [typed, "1"]]


def test_struck_and_superseded_rows_stay_visible_and_say_so():
    made = table(
        ("a", "1"), ("b", "2"), ("c", "3"), states=("", "struck", "superseded")
    )
    text, html = str(made), made._repr_html_()
    assert "(struck) b" in text
    assert "(superseded) c" in text
    assert "<del>b</del> <small>struck</small>" in html
    assert '<tr class="superseded">' in html
    assert "<del>a</del>" not in html
    assert made.state(0) == ""


def test_a_total_row_is_marked_but_not_struck():
    html = table(("a", "1"), states=("total",))._repr_html_()
    assert '<tr class="total">' in html
    assert "<del>" not in html


def test_a_long_cell_is_wrapped_and_loses_no_word():
    words = [f"word{i}" for i in range(40)]
    shown = str(table((" ".join(words), "1"), ("x" * 100, "2")))
    assert max(map(len, shown.splitlines())) <= 46 + len(" │ ") + 1
    assert [w for w in shown.split() if w.startswith("word")] == words
    assert shown.count("x") == 100


def test_wide_and_combining_characters_keep_the_columns_straight():
    lines = str(table(("漢字", "1"), ("e\u0301", "2"), ("abcd", "3"))).splitlines()[3:]
    assert [line.index("│") for line in lines] == [3, 6 - 1 + 1, 5]


def test_notes_stand_below_and_an_empty_table_keeps_its_title():
    assert str(table(notes=("one", "two"))).splitlines() == ["Rails", "one", "two"]
    assert "<thead>" not in table()._repr_html_()


def test_a_row_of_the_wrong_length_is_a_mistake_of_ours():
    with pytest.raises(ValueError, match="shorter|longer"):
        str(table(("only one",)))


def test_a_date_and_a_title_without_rows_are_not_broken_over_lines():
    dated = Table("Rounds", columns("Opened"), (("2026-11-25",), ("on 2026-11-25",)))
    assert '<td class="d">2026-11-25</td>' in dated._repr_html_()
    assert "<td>on 2026-11-25</td>" in dated._repr_html_()
    assert '<caption class="d">What to measure</caption>' in (
        Table("What to measure", columns("Opened"), ())._repr_html_()
    )
    assert "<caption>Rounds</caption>" in dated._repr_html_()
