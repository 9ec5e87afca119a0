"""Invented pages and what the tests of pages ask of every one of them."""

import re
from html.parser import HTMLParser

from nbformat import v4

from benchproof.keeping.comparisons.compare import Comparison, Flip
from benchproof.keeping.comparisons.moves import Move
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
        ],
        "versions": {"benchproof": "0.1.0", "numpy": "2.4.0"},
        "rerun": ["pip install benchproof", "benchproof run lost-alignment"],
        "readings_hash": "9f2c" * 16,
    }


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
                assert re.match(r"data:image/([a-z+]+;base64|svg\+xml),", value)
            if name == "href":
                assert tag == "a"
                assert re.match(r"#|https://|http://|mailto:", value)
            if name == "http-equiv":
                assert value == "Content-Security-Policy"
    assert "url(" not in page.style
    assert "@import" not in page.style


def found():
    return Comparison(
        "pump@1", "pump@2",
        (Move("V", "5.0(3) V", "6.0(4) V", 2.0, False, "1.0(5) V"),),
        (Flip("H1", "compatible", "contradicted", "it is too low"),),
        1,
        (Table("Formulas that changed", columns("Formula of", "", "Line"),
               (("V", "", "def V():"), ("", "+", "\N{NO-BREAK SPACE}return 1"))),),
    )  # fmt: skip
