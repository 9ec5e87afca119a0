"""A long ledger in few rows still says of every attempt what came out."""

import re
from collections import Counter

from benchproof.showing.page.pagetables import checked_tables
from benchproof.showing.page.shortledger import short_ledger

HEADS = ["Plan", "Attempt", "Kind", "Place", "Condition", "Outcome", "Round",
         "Sitting", "Note"]  # fmt: skip


def ledger(rows):
    columns = [{"title": head} for head in HEADS]
    plain = {"id": "attempts", "section": "trials", "title": "Attempts",
             "columns": columns, "rows": rows}  # fmt: skip
    (table,) = checked_tables([plain])
    return short_ledger(table)


def attempt(number, condition, outcome, kind="planned", sitting="first", note=""):
    place = str(number) if kind == "planned" else ""
    return ["power", str(number), kind, place, condition, outcome, "1", sitting, note]


def many(count=40):
    return [
        attempt(i, "both" if i % 2 else "one", "lost" if i % 6 == 1 else "kept",
                sitting="first" if i <= 20 else "second")
        for i in range(1, count + 1)
    ]  # fmt: skip


def read_back(table):
    """Return numbers by condition and outcome, and the places that are named."""
    numbers, places = {}, {}
    for row in table.rows:
        for part in row.cells[2].split("; "):
            said, _, named = part.partition(": at ")
            outcome, number = re.match(r"(\w+) (\d+)", said).groups()
            numbers[row.cells[1], outcome] = int(number)
            for first, last in re.findall(r"(\d+)(?: to (\d+))?", named):
                for place in range(int(first), int(last or first) + 1):
                    assert place not in places
                    places[place] = (row.cells[1], outcome)
    return numbers, places


def test_every_planned_attempt_is_counted_and_each_rare_outcome_has_its_place():
    table = ledger(many())
    assert len(table.rows) == 2
    numbers, places = read_back(table)
    assert numbers == Counter((row[4], row[5]) for row in many())
    lost = {int(row[3]): (row[4], row[5]) for row in many() if row[5] == "lost"}
    assert places == lost


def test_the_sittings_are_told_by_their_places():
    assert ledger(many()).notes[-1] == (
        "Sittings of power, round 1: first, places 1 to 20; second, places 21 to 40."
    )


def test_what_is_not_planned_or_no_longer_holds_keeps_a_row():
    odd = attempt(41, "both", "none", "aborted", note="a cable snagged")
    wrong = {"cells": attempt(42, "one", "lost"), "state": "superseded"}
    table = ledger([*many(), odd, wrong])
    assert [row.cells[2] for row in table.rows[-2:]] == [
        "aborted (attempt 41, sitting first): none",
        "planned (attempt 42, place 42, sitting first): lost",
    ]
    assert table.rows[-2].cells[-1] == "a cable snagged"
    assert table.rows[-1].state == "superseded"


def test_a_note_keeps_attempts_apart():
    rows = [*many(), attempt(41, "one", "kept", note="version 2")]
    assert len(ledger(rows).rows) == 3


def test_attempts_out_of_their_planned_order_are_all_shown():
    rows = many()
    rows[3], rows[4] = rows[4], rows[3]
    assert len(ledger(rows).rows) == 40


def test_a_short_ledger_is_shown_as_it_is():
    assert len(ledger(many(30)).rows) == 30
