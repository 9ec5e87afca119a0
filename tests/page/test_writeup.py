import base64
import re

import pytest
from nbformat import v4
from pages import (
    HOSTILE_HTML,
    HOSTILE_MARKDOWN,
    HOSTILE_SVG,
    ONE_PIXEL,
    TYPED,
    Page,
    assert_runs_and_fetches_nothing,
    code_cell,
    result,
    sample_notebook,
    sample_results,
    table,
)

from benchproof.showing.page.writeup import render_writeup
from benchproof.values.errors import FileError, InputError
from benchproof.values.tables import Table, columns


@pytest.fixture(scope="module")
def html():
    return render_writeup(sample_notebook(), sample_results())


@pytest.fixture(scope="module")
def page(html):
    return Page(html)


def hostile_page():
    notebook = v4.new_notebook(
        cells=[
            v4.new_markdown_cell(HOSTILE_MARKDOWN),
            code_cell(
                f"# {TYPED}",
                result(text__html=HOSTILE_HTML, text__plain="plain"),
                result(**{"image__svg+xml": HOSTILE_SVG}),
                result(text__latex="$\\href{javascript:alert(1)}{x}$"),
                result(text__markdown=HOSTILE_MARKDOWN),
                result(text__plain=TYPED),
                v4.new_output("stream", name="stderr", text=TYPED),
                v4.new_output(
                    "error", ename=TYPED, evalue=TYPED, traceback=[TYPED, "\x1b[31mred"]
                ),
                alt=TYPED,
            ),
        ]
    )
    results = sample_results()
    results["title"] = TYPED
    results["claim"] = dict.fromkeys(results["claim"], TYPED)
    results["does_not_show"] = [TYPED]
    results["verdicts"] = [
        {
            **dict.fromkeys(["name", "statement", "verdict", "reason"], TYPED),
            "predictions": [
                dict.fromkeys(["text", "role", "verdict", "detail"], TYPED)
            ],
        }
    ]
    results["tables"] = [
        table(TYPED, section, TYPED, [TYPED], [[TYPED]], [TYPED])
        for section in ("readings", "budgets", TYPED)
    ]
    results["ran_at"] = results["readings_hash"] = TYPED
    results["rerun"] = [TYPED]
    results["versions"] = {TYPED: TYPED}
    return render_writeup(notebook, results, code="shown")


def test_the_page_runs_and_fetches_nothing(page):
    assert_runs_and_fetches_nothing(page)


def test_hostile_input_everywhere_still_runs_and_fetches_nothing():
    html = hostile_page()
    page = Page(html)
    assert_runs_and_fetches_nothing(page)
    assert not re.search(r"<(script|image|iframe)", html)
    # One sheet: no typed </style> closed it early and no output brought another.
    assert len(page.all("style")) == 1
    assert "kept" in page.text


def test_what_a_person_typed_is_shown_as_it_was_typed():
    page = Page(hostile_page())
    # title and h1, 4 claim fields, 1 limit, rival and predictions, tables, cells.
    assert page.text.count(TYPED) > 25


def test_outward_links_hand_nothing_over(page):
    outward = [a for a in page.all("a") if not a["href"].startswith("#")]
    assert [a["href"] for a in outward] == ["https://far.example/guide"]
    assert outward[0]["rel"] == "noopener noreferrer"


def test_every_anchor_link_leads_to_one_element(page):
    ids = [attrs["id"] for _, attrs in page.tags if "id" in attrs]
    assert len(ids) == len(set(ids))
    targets = {a["href"][1:] for a in page.all("a") if a["href"].startswith("#")}
    assert targets <= set(ids)
    assert "nb-Conclusion" in targets


def test_labels_point_to_headings_that_exist(page):
    ids = {attrs.get("id") for _, attrs in page.tags}
    labels = {a["aria-labelledby"] for _, a in page.tags if "aria-labelledby" in a}
    assert labels
    assert labels <= ids


def test_the_page_has_a_language_a_skip_link_a_main_and_one_top_heading(page):
    assert page.all("html")[0]["lang"] == "en"
    assert page.all("a")[0] == {"class": "wu-skip", "href": "#answer"}
    assert len(page.all("main")) == len(page.all("nav")) == len(page.all("h1")) == 1


def test_headings_skip_no_level(page):
    levels = [int(tag[1]) for tag, _ in page.tags if re.fullmatch("h[1-6]", tag)]
    steps = [after - before for before, after in zip(levels, levels[1:], strict=False)]
    assert max(steps) == 1


def test_a_raw_top_heading_in_an_output_does_not_become_a_second_one():
    assert len(Page(hostile_page()).all("h1")) == 1


def test_header_cells_stand_where_html_knows_what_they_head(page):
    # 4.9.12 of the HTML standard: a row of th alone heads columns, and th in the
    # first column below it head rows.
    names = [tag for tag, _ in page.tags if tag in ("table", "tr", "th", "td")]
    rows = re.findall("R([HD]*)", "".join({"tr": "R", "th": "H", "td": "D"}.get(n, "T")
                                          for n in names))  # fmt: skip
    assert len(rows) > 20
    shapes = {re.sub("H+", "H", re.sub("D+", "D", row)) for row in rows}
    assert shapes == {"H", "HD", "D"}


def test_every_picture_has_a_description(page):
    assert [a["alt"] for a in page.all("img")] == [
        "Rail voltage against time: it falls to 7.9 V for 4 ms."
    ]


def test_sections_come_in_the_order_of_a_report(page):
    names = "claim answer limits sample hazards rivals instruments readings budgets"
    wanted = [*names.split(), "notebook", "rerun"]
    ids = [attrs.get("id") for _, attrs in page.tags]
    found = [name for name in ids if name in wanted]
    assert found == wanted


def test_no_execute_result_is_dropped():
    kinds = {
        "text__html": "<script>x()</script>",
        "text__latex": "\\nosuchcommand",
        "text__plain": "plain",
        "image__png": "no base64!",
        "image__svg+xml": HOSTILE_SVG,
        "application__json": "{}",
        "application__vnd.widget": "{}",
    }
    cells = [code_cell("x", result(**{kind: text})) for kind, text in kinds.items()]
    page = Page(render_writeup(v4.new_notebook(cells=cells), {}))
    assert len(page.with_class("wu-output")) == len(kinds)
    assert page.text.count("Output without a readable version") == 4


def test_verdicts_carry_a_mark_and_their_words(page):
    assert "× contradicted" in page.text
    assert "○ not reproduced, p < 0.095" in page.text
    assert "● sufficient on this sample" in page.text
    assert "– not tested" in page.text


def test_struck_and_superseded_rows_stay_visible_and_say_so(page):
    assert len(page.with_class("struck")) == len(page.with_class("superseded")) == 1
    assert re.search(r":is\(.struck,.superseded\)[^}]*line-through", page.style)
    assert "r-0003 struck" in page.text
    assert "r-0002 superseded" in page.text
    assert "clamp jaw not closed" in page.text


def test_budgets_are_folded(html):
    budget = html.index("<summary>Budget of R_source</summary>")
    assert html.rindex("<details", 0, budget) == html.index('<details class="wu-fold"')


def test_the_code_is_folded_hidden_or_shown():
    notebook = sample_notebook()
    pages = {
        view: Page(render_writeup(notebook, {}, code=view))
        for view in ("folded", "hidden", "shown")
    }
    source = "case.record("
    assert source in pages["folded"].text
    assert source in pages["shown"].text
    assert source not in pages["hidden"].text
    folds = [
        sum("wu-code" in a.get("class", "") for a in page.all("details"))
        for page in pages.values()
    ]
    assert folds == [0, 0, 0]  # one line needs no fold
    long = v4.new_notebook(cells=[code_cell("x = (\n    1\n)")])
    assert len(Page(render_writeup(long, {})).all("details")) == 2
    outputs = {len(page.with_class("wu-output")) for page in pages.values()}
    assert outputs == {4}


def test_another_word_for_the_code_is_refused():
    with pytest.raises(InputError, match="code is 'open'. Give one of: folded, hidden"):
        render_writeup(sample_notebook(), {}, code="open")


def test_a_row_that_does_not_fit_its_columns_is_refused():
    results = {"tables": [table("rails", "derived", "", ["a", "b"], [["1"]])]}
    message = r"table 'rails', row 1: 1 cells for 2 columns\. Run the case again"
    with pytest.raises(FileError, match=message):
        render_writeup(sample_notebook(), results)


def test_what_is_missing_is_shown_as_missing():
    text = Page(render_writeup(v4.new_notebook(), {})).text
    for words in [
        "No claim was recorded.",
        "there is no verdict",
        "an omission, not an absence of limits",
        "No reading was recorded.",
        "No instrument was recorded.",
        "Run on a date that was not recorded",
        "Readings: not recorded",
        "The versions of the software used were not recorded.",
        "The notebook has no cells.",
        "No command was recorded.",
    ]:
        assert words in text


def test_an_empty_cell_shows_a_dash_and_says_that_there_is_no_entry(html, page):
    assert 'tbody td:empty::before{content:"—";content:"—" / "no entry"' in page.style
    assert "<th>Firmware<td><td>4.1<td>unknown<td>H4" in html


def test_a_table_of_an_unknown_section_is_still_shown():
    results = {"tables": [table("x", "zeros", "Odd one", ["a"], [["1"]])]}
    page = Page(render_writeup(sample_notebook(), results))
    assert "Further tables Odd one" in page.text


def test_an_opening_heading_that_repeats_the_title_is_not_shown_twice(page):
    title = sample_results()["title"]
    assert page.text.count(title) == 2  # the window's title and the page's
    assert "All data here are invented" in page.text


def test_formulas_are_set_without_a_program_and_money_is_left_alone(page):
    assert len(page.all("math")) == 4
    assert "$5 and $6" in page.text


def test_the_time_of_the_run_is_given_in_utc():
    results = {"ran_at": "2026-11-25T12:04:31+02:00"}
    page = Page(render_writeup(sample_notebook(), results))
    assert page.all("time") == [{"datetime": "2026-11-25T10:04Z"}]
    assert "Run on 2026-11-25 10:04 UTC" in page.text


def test_cells_that_failed_or_had_not_run_are_announced_at_the_top():
    failed = code_cell(
        "1 / 0",
        v4.new_output("error", ename="ZeroDivisionError", evalue="", traceback=[]),
    )
    notebook = v4.new_notebook(cells=[failed, v4.new_code_cell("2")])
    text = Page(render_writeup(notebook, {})).text
    assert "Read with care: 1 code cell ended in an error." in text
    assert "Read with care: 1 code cell had not run." in text
    assert "This cell stopped. ZeroDivisionError" in text


def test_same_headings_get_different_anchors():
    cells = [v4.new_markdown_cell("## Round"), v4.new_markdown_cell("## Round")]
    page = Page(render_writeup(v4.new_notebook(cells=cells), {}))
    assert [a.get("id") for a in page.all("h3")] == ["nb-Round", "nb-Round-2"]


def test_attached_pictures_travel_in_the_page():
    cell = v4.new_markdown_cell("![the plug](attachment:plug.png)")
    cell["attachments"] = {"plug.png": {"image/png": ONE_PIXEL}}
    page = Page(render_writeup(v4.new_notebook(cells=[cell]), {}))
    (image,) = page.all("img")
    assert base64.b64decode(image["src"].split(",")[1]).startswith(b"\x89PNG")
    assert image["alt"] == "the plug"


def test_characters_a_file_cannot_carry_are_replaced():
    page = render_writeup(v4.new_notebook(), {"title": "a\x00b\ud800c"})
    assert "<h1>a\ufffdb\ufffdc</h1>" in page
    page.encode("utf-8")


def test_the_same_input_gives_the_same_page(html):
    assert render_writeup(sample_notebook(), sample_results()) == html


def test_rendering_leaves_its_input_as_it_was():
    notebook, results = sample_notebook(), sample_results()
    before = (str(notebook), str(results))
    render_writeup(notebook, results)
    assert (str(notebook), str(results)) == before


def test_a_small_case_makes_a_small_file(html):
    assert len(html.encode()) < 150_000


def luminance(colour):
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [
        p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts
    ]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


# WCAG 2.2, 1.4.3: 4.5 to 1 for text.
@pytest.mark.parametrize("scheme", [0, 1, 2], ids=["light", "dark", "print"])
@pytest.mark.parametrize("ink", ["ink", "soft", "accent"])
@pytest.mark.parametrize("ground", ["page", "raised"])
def test_text_stands_out_from_its_ground(page, scheme, ink, ground):
    def colour(name):
        found = re.findall(rf"--{name}:(#[0-9a-f]+)", page.style)[scheme]
        return found if len(found) == 7 else "#" + "".join(2 * c for c in found[1:])

    low, high = sorted([luminance(colour(ink)), luminance(colour(ground))])
    assert (high + 0.05) / (low + 0.05) >= 4.5


def written(*times):
    predictions = [{"text": f"p{i}", "written": t} for i, t in enumerate(times)]
    verdicts = [{"name": "H1", "statement": "It sags", "predictions": predictions}]
    return Page(render_writeup(v4.new_notebook(), {"verdicts": verdicts})).text


def test_when_predictions_were_written_is_said_once_where_it_is_alike():
    first, later = (f"before the data, 2026-01-31 10:0{i}:00 UTC" for i in (1, 2))
    assert f"Every prediction was written {first}." in written(first, first)
    assert (
        "Every prediction was written before the data, from 2026-01-31 10:01:00 UTC to "
        "2026-01-31 10:02:00 UTC."
    ) in written(later, first)


def test_a_prediction_written_after_the_data_keeps_its_time_in_its_row():
    said = ("before the data, 2026-01-31", "after the data, 2026-02-01: r-0001 stood")
    text = written(*said)
    assert "Every prediction" not in text
    assert all(words in text for words in said)


def test_the_software_of_the_run_is_named(page):
    assert "It ran with benchproof 0.1.0, numpy 2.4.0." in page.text


def test_the_rules_of_the_verdicts_stand_once_before_the_evidence(page):
    (fold,) = [a for tag, a in page.tags if a.get("id") == "rules"]
    assert fold["class"] == "wu-fold"
    assert page.text.count("contradicted: a necessary prediction is contradicted") == 1
    assert "#rules" in [a.get("href") for tag, a in page.tags if tag == "a"]


def test_a_table_of_ours_in_the_notebook_is_shown_as_the_page_shows_its_own():
    rows = tuple((f"s{i}", "normal", f"{i} V", "30 %") for i in range(4))
    heads = columns("Source", "Distribution", "u>", "Share>")
    ours = Table("Budget of <V>", heads, rows, ("as assumed",))._repr_html_()
    output = v4.new_output("display_data", data={"text/html": ours})
    html = render_writeup(v4.new_notebook(cells=[code_cell("b", output)]), {})
    assert '<table class="n2 n3">' in html
    assert "<caption>Budget of &lt;V&gt;</caption>" in html
    assert "In every row: Distribution normal." in html
    assert "as assumed" in html
    assert "<style>.bp" not in html


def test_a_verdict_that_flipped_says_what_it_was_and_until_when():
    results = sample_results()
    name, now = (results["verdicts"][0][key] for key in ("name", "verdict"))
    words = ["not tested", "compatible", "compatible", now]
    results["rounds"] = [
        {
            "number": n,
            "because": "",
            "time": "2026-03-01T10:00:00Z",
            "quantities": {},
            "verdicts": [{"name": name, "verdict": word, "predictions": []}],
        }
        for n, word in enumerate(words, start=1)
    ]
    page = Page(render_writeup(sample_notebook(), results))
    assert "until round 2: not tested" in page.text
    assert "until round 4: compatible" in page.text
    assert len(page.with_class("wu-was")) == 2
