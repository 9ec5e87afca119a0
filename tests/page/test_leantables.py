"""A lean table has the cells it had, by the parser of a browser's kind."""

import pytest
from bleach._vendor import html5lib

from benchproof.showing.page.leantables import lean_tables
from benchproof.values.tables import Table, columns


def parsed(page):
    """Return every table: caption, and rows of (tag, words, is a number)."""
    found = []
    for table in html5lib.parse(page, namespaceHTMLElements=False).iter("table"):
        numbers = {n for n in table.get("class", "").split() if n[0] == "n"}
        rows = [
            [
                (
                    cell.tag,
                    "".join(cell.itertext()).strip(),
                    f"n{i}" in numbers or "n" in cell.get("class", "").split(),
                )
                for i, cell in enumerate(row, 1)
            ]
            for row in table.iter("tr")
        ]
        found.append((table.findtext("caption"), rows))
    return found


TABLE = Table(
    "Budget of <V>", columns("Source", "u>", "Share>"),
    (("gain & offset", "0.1 V", "99 %"), ("", "—", "1 %")), ("a note",),
)  # fmt: skip


@pytest.mark.parametrize(
    "page",
    [
        TABLE._repr_html_(),
        f"<p>before</p>{TABLE._repr_html_()}<p>between</p>{TABLE._repr_html_()}",
        "<table><thead><tr><th>a</th></tr></thead><tbody><tr><td colspan='1'>1</td>"
        "</tr></tbody></table>",
        "<table><tbody><tr><td>1</td></tr></tbody></table><pre>&lt;/td&gt;</pre>",
        "<table class='dataframe'><thead><tr><th></th><th>x</th></tr></thead><tbody>"
        "<tr><th>0</th><td class='n'>1</td></tr></tbody><tbody></tbody></table>",
    ],
)
def test_every_cell_stays_with_its_words_and_its_side(page):
    assert parsed(lean_tables(page)) == parsed(page)


def test_typed_words_that_look_like_tags_stay():
    page = "<p>&lt;/td&gt; and &lt;table&gt;</p>"
    assert lean_tables(page) == page


def test_a_table_takes_less():
    _, _, page = TABLE._repr_html_().partition("</style>")
    assert len(lean_tables(page)) < 0.7 * len(page)
