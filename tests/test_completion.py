"""Tab inside the quotes of a call of a case offers what the case knows."""

import pytest

from benchproof import open_case
from benchproof.keeping.entry.completion import offer_names, offered

CASE = """\
format = 1
title = "A strip of contacts"
invented = true
[survey]
states = ["asleep", "awake"]
unpowered = ["pack out"]
reference = "P2"
[[contact]]
name = "P1"
[[contact]]
name = "P2"
"""


@pytest.fixture
def known(case_folder):
    (case_folder / "case.toml").write_text(CASE, encoding="utf-8")
    case = open_case(case_folder)
    case.record("V_idle", "12.10 V", using="handheld", at="socket, idle")
    case.record("V_load", "? V")
    case.record("I_load", "? A")
    return {"case": case, "mine": case, "other": {"V_idle": 1}}


@pytest.mark.parametrize(
    ("before", "names"),
    [
        ('case["', ["V_idle", "V_load", "I_load"]),
        ("case['V_", ["V_idle", "V_load"]),
        ('mine["V_l', ["V_load"]),
        ('x = 1\ncase.record("V_i', ["V_idle"]),
        ('case.record("V_idle", "12.10(2) V", using="', ["handheld", "twin", "steady",
         "clamp"]),
        ('case.record("V_idle", "12, 13 V", using="h', ["handheld"]),
        ('case.record("V_idle", "12 V", at="socket, i', ["socket, idle"]),
        ('case.combine("V_idle", "V_', ["V_idle", "V_load"]),
        ('case.report("qua', ["quantities"]),
        ('case.contacts.ohms("P1", "', ["P1", "P2"]),
        ('case.contacts.ohms("P1", "P2", "OL Mohm", state="pa', ["pack out"]),
        ('case.contacts.voltages("a', ["asleep", "awake"]),
    ],
)  # fmt: skip
def test_names_that_fit_are_offered(known, before, names):
    assert offered(before, known)[1] == names


@pytest.mark.parametrize(
    "before",
    [
        "case",
        "case.record(",
        'case.record("V_idle", "',  # a reading is typed, not chosen
        'case["V_idle"]',
        'case.record("V_idle", "12 V", because="',
        'other["',
        'unknown["',
        'print("case',
        'case.names()["',
    ],
)
def test_nothing_is_offered_elsewhere(known, before):
    assert offered(before, known)[1] == []


def test_what_stands_in_the_quotes_is_returned_with_its_spaces(known):
    assert (
        offered('case.record("V_idle", "1 V", at="socket, i', known)[0] == "socket, i"
    )


def test_a_long_cell_is_answered_at_once(known):
    assert offered('case.record("' * 5000 + "V_", known)[1] == ["V_idle", "V_load"]


@pytest.fixture
def shell(tmp_path, monkeypatch):
    monkeypatch.setenv("IPYTHONDIR", str(tmp_path))
    shell_class = pytest.importorskip("IPython.core.interactiveshell").InteractiveShell
    config = pytest.importorskip("traitlets.config").Config()
    config.HistoryManager.enabled = False
    return shell_class(config=config)


def completions(shell, text):
    from IPython.core.completer import provisionalcompleter

    with provisionalcompleter():
        found = list(shell.Completer.completions(text, len(text)))
    return [text[: c.start] + c.text for c in found]


def test_the_notebook_s_kernel_completes_them(known, shell):
    shell.user_ns.update(known)
    offer_names(shell)
    assert completions(shell, 'case["V_l') == ['case["V_load']
    line = 'case.record("V_idle", "1 V", at="socket, i'
    assert completions(shell, line) == [f"{line}dle"]


def test_other_completions_stay_and_asking_twice_offers_once(known, shell):
    shell.user_ns.update(known)
    before = completions(shell, "case.rec")
    offer_names(shell)
    offer_names(shell)
    assert completions(shell, "case.rec") == before
    assert "case.record" in before
    assert completions(shell, 'case["I') == ['case["I_load']
