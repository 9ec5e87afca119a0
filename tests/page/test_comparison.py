"""A comparison as a page."""

from dataclasses import replace

import pytest
from pages import TYPED, Page, assert_runs_and_fetches_nothing, found

from benchproof.keeping.comparisons.compare import Comparison, Flip, compare_results
from benchproof.keeping.comparisons.moves import Move
from benchproof.showing.page.comparison import comparison_page, write_comparison
from benchproof.values.errors import FileError, InputError
from benchproof.values.tables import Table, columns


def test_the_page_shows_every_table_and_says_how_much_moved():
    text = Page(comparison_page(found())).text
    assert "pump@1 and pump@2 compared" in text
    assert "1 verdict changed, 1 of 2 quantities moved." in text
    for words in ("contradicted", "it is too low", "1.0(5) V", "+2.0 u"):
        assert words in text
    assert "Formulas that changed" in text
    assert "\N{NO-BREAK SPACE}return 1" in comparison_page(found())


def test_a_page_of_invented_data_says_so():
    assert "Invented data" not in Page(comparison_page(found())).text
    invented = replace(found(), invented=True)
    assert "Invented data" in Page(comparison_page(invented)).text


def test_a_page_of_nothing_says_so():
    same = {"quantities": {}, "verdicts": []}
    page = comparison_page(compare_results(same, same))
    assert "Nothing moved" in Page(page).text
    assert "<table" not in page


def test_the_page_runs_and_fetches_nothing_whatever_was_typed():
    typed = Comparison(
        TYPED, TYPED, (Move(TYPED, TYPED, TYPED, None, True, TYPED),),
        (Flip(TYPED, TYPED, TYPED, TYPED),), 0,
        (Table(TYPED, columns(TYPED), ((TYPED,),), (TYPED,)),),
    )  # fmt: skip
    page = Page(comparison_page(typed))
    assert_runs_and_fetches_nothing(page)
    assert page.text.count(TYPED) >= 12
    assert len(page.all("style")) == 1


def test_a_page_is_written_where_it_was_asked_for_and_again(tmp_path):
    file = tmp_path / "moved.html"
    for _ in range(2):
        assert write_comparison(found(), file) == file
    assert file.read_text(encoding="utf-8") == comparison_page(found())


def test_a_file_of_the_case_is_not_overwritten(tmp_path):
    file = tmp_path / "results.json"
    file.write_text("mine", encoding="utf-8")
    with pytest.raises(InputError, match=r"ends in \.html"):
        write_comparison(found(), file)
    assert file.read_text(encoding="utf-8") == "mine"


def test_a_folder_that_is_not_there_is_named(tmp_path):
    with pytest.raises(FileError, match="is no folder"):
        write_comparison(found(), tmp_path / "no" / "page.html")
