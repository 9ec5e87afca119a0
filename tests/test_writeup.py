import base64
import re
from html.parser import HTMLParser

import pytest
from nbformat import v4

from benchproof.showing.writeup import render_writeup
from benchproof.values.errors import FileError, InputError
from benchproof.values.tables import Table, columns

ONE_PIXEL = (
    "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9"
    "awAAAABJRU5ErkJggg=="
)
HOSTILE_SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9">'
    '<script>alert(1)</script><image href="https://far.example/a.png"/></svg>'
)
HOSTILE_HTML = (
    "<script>fetch('https://far.example')</script><style>@import url(//far.example)"
    "</style><iframe src='https://far.example'></iframe>"
    "<b onclick='alert(1)' style='background:url(https://far.example/a)'>kept</b>"
    "<a href='javascript:alert(1)'>one</a><a href='data:text/html,x'>two</a>"
    "<img src='https://far.example/p.png' onerror='alert(1)'>"
    "<base href='//far.example'>"
    "<link rel=stylesheet href='//far.example/c.css'><form action='//far.example'>"
    "<input onfocus=alert(1) autofocus></form><video src='//far.example/v'></video>"
    "<svg onload=alert(1)><script>alert(2)</script></svg><h1>Loud</h1>"
    "<meta http-equiv=refresh content='0;url=https://far.example'>"
)
HOSTILE_MARKDOWN = """\
<script>alert(1)</script> <img src=x onerror=alert(1)> <svg onload=alert(1)></svg>

[a](javascript:alert(1)) [b](data:text/html;base64,PHNjcmlwdD4=) [c](//far.example)
![d](https://far.example/d.png) ![e](data:text/html;base64,AAAA) ![f](//far.example/f)

$\\href{javascript:alert(1)}{x}$ $\\text{<script>alert(1)</script>}$

<div title="

$$x \\text{" onmouseover="alert(1)}$$

">text</div>

<h1 onclick="alert(1)">Loud</h1><iframe src="https://far.example"></iframe>
"""
TYPED = "<img src=x onerror=alert(1)>\"'&$x$</style></title><script>alert(1)</script>"


class Page(HTMLParser):
    """Start tags with their attributes, ids, and text outside style sheets."""

    def __init__(self, html):
        super().__init__(convert_charrefs=True)
        self.tags, self.words, self.style, self.in_style = [], [], "", False
        self.feed(html)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        self.in_style = tag == "style"

    def handle_endtag(self, tag):
        self.in_style = self.in_style and tag != "style"

    def handle_data(self, data):
        if self.in_style:
            self.style += data
        else:
            self.words.append(data)

    @property
    def text(self):
        return " ".join(" ".join(self.words).split())

    def all(self, tag):
        return [attrs for name, attrs in self.tags if name == tag]

    def with_class(self, name):
        return [a for _, a in self.tags if name in (a.get("class") or "").split()]


def code_cell(source, *outputs, **metadata):
    return v4.new_code_cell(
        source, execution_count=1, outputs=list(outputs), metadata=metadata
    )


def result(**data):
    mime = {name.replace("__", "/"): value for name, value in data.items()}
    return v4.new_output("execute_result", data=mime, execution_count=1)


def sample_notebook():
    rails = Table(
        "Rail voltages",
        columns("Measurand", "Value", "u_c>", "U (k = 2)>"),
        (("V_idle", "12.098 V", "0.017 V", "0.034 V"), ("V_slew", "—", "—", "—")),
        ("V_slew: not measured yet.",),
    )
    return v4.new_notebook(
        cells=[
            v4.new_markdown_cell(
                "# Mount loses alignment when both axes start (invented example)\n\n"
                "All data here are invented to show the form of an investigation."
            ),
            v4.new_markdown_cell(
                "## Method\n\nThe rail is read at the socket with $R_\\mathrm{s}$ as "
                "seen there; a dip below $8.80\\,\\mathrm{V}$ resets the controller. "
                "Two readings give\n\n$$R_\\mathrm{s} = \\frac{V_\\mathrm{idle} - "
                "V_\\mathrm{slew}}{I_\\mathrm{slew}}$$\n\nThe parts cost $5 and $6. "
                "See [the conclusion](#Conclusion) or [a guide](https://far.example/guide)."
            ),
            code_cell(
                'case.record("V_idle", "12.10 12.10 12.09 V", using="handheld")',
                v4.new_output(
                    "stream", name="stdout", text="3 readings \x1b[1mok\x1b[0m"
                ),
                result(text__html=rails._repr_html_(), text__plain=str(rails)),
            ),
            v4.new_markdown_cell(
                "### Source resistance\n\n| Cable | Length |\n|---|--:|\n"
                "| own | 1.8 m |\n| spare | 0.5 m |\n\n- connected\n- not connected"
            ),
            code_cell(
                "R_source",
                result(text__latex="$0.268(12)\\ \\Omega$", text__plain="0.268(12) Ω"),
            ),
            code_cell(
                "figure",
                v4.new_output(
                    "display_data",
                    data={
                        "image/png": ONE_PIXEL,
                        "text/plain": "<Figure size 640x480>",
                    },
                ),
                alt="Rail voltage against time: it falls to 7.9 V for 4 ms.",
            ),
            v4.new_markdown_cell("## Conclusion\n\nThe rail falls to 7.93(6) V."),
        ]
    )


def table(name, section, title, heads, rows, notes=()):
    heads = [
        {"title": head.rstrip(">"), "numeric": head.endswith(">")} for head in heads
    ]
    return {
        "id": name,
        "section": section,
        "title": title,
        "columns": heads,
        "rows": rows,
        "notes": list(notes),
    }


def sample_results():
    return {
        "title": "Mount loses alignment when both axes start (invented example)",
        "claim": {
            "text": "It forgets where it points whenever I slew in both axes at once.",
            "source": "invented forum post",
            "date": "2026-09-14",
            "how_often": "about one slew in three",
        },
        "ran_at": "2026-11-25T10:04:31+00:00",
        "verdicts": [
            {
                "name": "H1",
                "statement": "Electrostatic discharge resets the controller",
                "verdict": "not reproduced, p < 0.095",
                "reason": "0 of 30 planned discharges lost alignment.",
                "predictions": [],
            },
            {
                "name": "H2",
                "statement": "Both axes together exceed the supply's current limit",
                "verdict": "sufficient on this sample",
                "reason": "Lost in 9 of 10 slews; the control lost it in 0 of 10.",
                "predictions": [
                    {
                        "text": "the rail falls below 8.80 V",
                        "role": "necessary",
                        "verdict": "met",
                        "detail": "7.93(6) V; conformance probability 0.9998",
                    },
                    {
                        "text": "the dip lasts longer than 2 ms",
                        "role": "necessary",
                        "verdict": "not measured",
                        "detail": "",
                    },
                ],
            },
            {
                "name": "H3",
                "statement": "A loose plug interrupts the supply",
                "verdict": "contradicted",
                "reason": "Contact resistance stays below 12 mΩ while pulled.",
                "predictions": [
                    {
                        "text": "contact resistance above 0.5 Ω when pulled sideways",
                        "role": "necessary",
                        "verdict": "contradicted",
                        "detail": "11.4(6) mΩ, worst of 12 poses",
                    }
                ],
            },
            {
                "name": "H4",
                "statement": "Firmware drops the time during a long message",
                "verdict": "not tested",
                "reason": "",
                "predictions": [],
            },
        ],
        "does_not_show": [
            "One unit of revision B was tested. With 95 % confidence the share of "
            "units that behave otherwise may still be as large as 95 %.",
            "The supply is a replacement with the same label, not the reported one.",
            "Nothing was measured below 15 °C.",
        ],
        "tables": [
            table(
                "devices",
                "sample",
                "Field by field",
                ["Field", "Reported", "Tested", "Same?", "Verdicts touched"],
                [
                    ["Mount revision", "B", "B", "same", ""],
                    [
                        "Supply",
                        "12 V, 2 A",
                        "12 V, 2 A, other maker",
                        "different",
                        "H2",
                    ],
                    ["Firmware", "", "4.1", "unknown", "H4"],
                ],
            ),
            table(
                "hazards",
                "hazards",
                "",
                ["Hazard", "Limit", "Check done", "Outcome"],
                [["Mains side of the supply", "not opened", "", "deferred"]],
            ),
            table(
                "instruments",
                "instruments",
                "",
                ["Instrument", "Function", "Range", "Accuracy", "Calibrated"],
                [
                    [
                        "handheld",
                        "DC voltage",
                        "20 V",
                        "±(0.5 % + 3 digits)",
                        "2026-03-02",
                    ]
                ],
                ["Calibration interval 12 months."],
            ),
            table(
                "readings",
                "readings",
                "Readings",
                ["Row", "Measurand", "Round", "Reading>", "Instrument", "At", "Note"],
                [
                    [
                        "r-0001",
                        "V_idle",
                        "1",
                        "12.10 V",
                        "handheld",
                        "socket, idle",
                        "",
                    ],
                    {
                        "cells": [
                            "r-0002",
                            "V_slew",
                            "1",
                            "1.139 V",
                            "handheld",
                            "socket",
                            "decimal point misread",
                        ],
                        "state": "superseded",
                    },
                    {
                        "cells": [
                            "r-0003",
                            "I_slew",
                            "1",
                            "0.03 A",
                            "clamp",
                            "supply lead",
                            "clamp jaw not closed",
                        ],
                        "state": "struck",
                    },
                    ["r-0004", "I_slew", "1", "2.65 A", "clamp", "supply lead", ""],
                ],
            ),
            table(
                "R_source",
                "budgets",
                "Budget of R_source",
                ["Source", "Type", "u>", "Share>"],
                [
                    ["handheld, 20 V, gain", "B", "0.0029 V", "61 %"],
                    ["V_slew, repeatability", "A", "0.0012 V", "39 %"],
                    {"cells": ["combined", "", "0.0031 V", "100 %"], "state": "total"},
                ],
            ),
            table(
                "versions",
                "versions",
                "Software",
                ["Package", "Version"],
                [["benchproof", "0.1.0"], ["numpy", "2.4.0"]],
            ),
        ],
        "rerun": ["pip install benchproof", "benchproof run lost-alignment"],
        "readings_hash": "9f2c" * 16,
    }


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
        for section in ("readings", "budgets", "versions", TYPED)
    ]
    results["ran_at"] = results["readings_hash"] = TYPED
    results["rerun"] = [TYPED]
    return render_writeup(notebook, results, code="shown")


def assert_runs_and_fetches_nothing(page):
    running = {"script", "iframe", "object", "embed", "link", "base", "form", "svg"}
    fetching = {"video", "audio", "source", "track", "input", "frame", "portal"}
    assert not (running | fetching) & {tag for tag, _ in page.tags}
    for tag, attributes in page.tags:
        for name, value in attributes.items():
            assert not name.startswith("on"), (tag, name)
            assert name not in {"style", "srcset", "action", "background", "ping"}
            if name in {"src", "xlink:href", "poster", "data"}:
                assert tag == "img"
                assert re.match(r"data:image/[a-z+]+;base64,", value)
            if name == "href":
                assert tag == "a"
                assert re.match(r"#|https://|http://|mailto:", value)
            if name == "http-equiv":
                assert value == "Content-Security-Policy"
    assert "url(" not in page.style
    assert "@import" not in page.style


def test_the_page_runs_and_fetches_nothing(page):
    assert_runs_and_fetches_nothing(page)


def test_hostile_input_everywhere_still_runs_and_fetches_nothing():
    html = hostile_page()
    page = Page(html)
    assert_runs_and_fetches_nothing(page)
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


def test_every_header_cell_says_what_it_heads(page):
    assert len(page.all("th")) > 20
    assert {a.get("scope") for a in page.all("th")} <= {"row", "col"}


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
    assert len(page.all("del")) == 14
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
    assert folds == [3, 0, 0]
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
        "Readings, SHA-256: not recorded",
        "The notebook has no cells.",
        "No command was recorded.",
    ]:
        assert words in text


def test_an_empty_cell_says_that_there_is_no_entry(page):
    assert "Firmware no entry 4.1 unknown H4" in page.text


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
        found = re.findall(rf"--{name}: (#[0-9a-f]+);", page.style)[scheme]
        return found if len(found) == 7 else "#" + "".join(2 * c for c in found[1:])

    low, high = sorted([luminance(colour(ink)), luminance(colour(ground))])
    assert (high + 0.05) / (low + 0.05) >= 4.5
