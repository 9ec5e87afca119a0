"""The template's case.toml, asking what another case asked."""

import tomllib

import pytest

from benchproof.keeping.likecase import declared_like

TEMPLATE = """\
title = "New"
[[difference]]
field = "unit"
same = "unknown"

[hazards]
mains = ""

# Where the probes go.
# [survey]
# states = []
"""


@pytest.fixture
def declared(tmp_path):
    def from_text(text):
        (tmp_path / "case.toml").write_text(text, encoding="utf-8")
        return tomllib.loads(declared_like(TEMPLATE, tmp_path))

    return from_text


def test_a_case_that_asks_nothing_leaves_the_template_as_it_is(declared):
    assert declared('title = "Old"') == tomllib.loads(TEMPLATE)


def test_every_question_of_the_other_case_takes_the_place_of_the_template_s(declared):
    found = declared(
        '[hazards]\n"hot oil" = "60 degC"\n[[difference]]\nfield = "a"\n'
        '[[difference]]\nfield = "b"\ntested = "x"\n'
    )
    assert found["hazards"] == {"hot oil": ""}
    assert [d["field"] for d in found["difference"]] == ["a", "b"]


@pytest.mark.parametrize("text", ['a "b"', "C:\\new", "tab\there", "del\x7f", "Ω – ü"])
def test_any_text_survives_as_it_was(declared, text):
    basic = text.replace("\\", "\\\\").replace('"', '\\"').replace("\t", "\\t")
    basic = basic.replace("\x7f", "\\u007F")
    found = declared(
        f'[survey]\nstates = ["on"]\nreference = "P1"\n'
        f'[[contact]]\nname = "P1"\nwhere = "{basic}"\n'
    )
    assert found["contact"] == [{"name": "P1", "where": text}]


def test_what_a_shorter_template_has_no_place_for_comes_at_its_end(tmp_path):
    other = '[survey]\nstates = ["on"]\nreference = "P1"\n[[contact]]\nname = "P1"\n'
    (tmp_path / "case.toml").write_text(other, encoding="utf-8")
    found = tomllib.loads(
        declared_like('title = "New"\n\n[hazards]\nheat = ""\n', tmp_path)
    )
    assert found["survey"] == {"states": ["on"], "reference": "P1"}
    assert found["contact"] == [{"name": "P1"}]
    assert found["hazards"] == {"heat": ""}
