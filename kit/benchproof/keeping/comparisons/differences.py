"""What differs between two results beside the numbers, table by table."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterator, Mapping
from typing import Any

from benchproof.values.tables import Table, columns

ABSENT = "(absent)"

Results = Mapping[str, Any]
Renamed = Callable[[str], str]
"""Gives text of the first results the names that the second ones use."""

NO_NAMES: Mapping[str, str] = {}


def renamer(names: Mapping[str, str]) -> Renamed:
    """Return what replaces whole names in a text.

    Examples
    --------
    >>> renamer({"R_a": "R_b"})("R_a below R_a2")
    'R_b below R_a2'
    """
    if not names:
        return str
    words = re.compile(rf"(?<!\w)({'|'.join(map(re.escape, names))})(?!\w)")
    return lambda text: words.sub(lambda found: names[found[1]], text)


def detail_tables(
    before: Results, after: Results, names: Mapping[str, str] = NO_NAMES
) -> list[Table]:
    """Return predictions, formulas, instruments, inputs and versions that differ.

    Parameters
    ----------
    before, after : mapping
        As read from results.json, or one entry of its ``rounds``. What only one of
        them keeps (a round has no versions) is not compared.
    names : mapping
        Quantities and rivals of `before` that `after` calls otherwise.

    Returns
    -------
    list of Table
        Only those that have rows.
    """
    tables = [
        prediction_table(before, after, names),
        formula_table(before, after, names),
        instrument_table(before, after),
        surroundings_table(before, after),
    ]
    return [table for table in tables if table.rows]


def prediction_table(
    before: Results, after: Results, names: Mapping[str, str] = NO_NAMES
) -> Table:
    """Return rivals and predictions that were added, dropped, reworded or judged anew.

    Examples
    --------
    >>> said = {"text": "it sags", "role": "necessary", "criterion": "V below 8 V"}
    >>> was = {"name": "H1", "predictions": [said | {"verdict": "not measured"}]}
    >>> now = {"name": "H1", "predictions": [said | {"verdict": "met"}]}
    >>> prediction_table({"verdicts": [was]}, {"verdicts": [now]}).rows
    (('H1', 'it sags', 'outcome', 'not measured', 'met'),)
    """
    old, new = _predictions(before, names), _predictions(after, NO_NAMES)
    rows = []
    for key in dict.fromkeys([*old, *new]):
        rows += [(*key, *row) for row in _changed(old.get(key), new.get(key))]
    heads = columns("Rival", "Prediction", "What", "Before", "After")
    return Table("Rivals and predictions that changed", heads, tuple(rows))


_ASKED = {
    "statement": "statement",
    "criterion": "criterion",
    "role": "role",
    "probability": "probability",
    "verdict": "outcome",
}


def _predictions(
    results: Results, names: Mapping[str, str]
) -> dict[tuple[str, str], dict[str, str]]:
    """Return the rivals' statements and their predictions by rival and text."""
    found, renamed = {}, renamer(names)
    for rival in results["verdicts"]:
        name = names.get(rival["name"], rival["name"])
        found[name, ""] = {"statement": str(rival.get("statement", ""))}
        for said in rival.get("predictions", ()):
            kept = {k: said.get(k) for k in _ASKED if k != "statement"}
            words = {k: "" if v is None else str(v) for k, v in kept.items()}
            words["criterion"] = renamed(words["criterion"])
            found[name, str(said["text"])] = words
    return found


def _changed(
    old: Mapping[str, str] | None, new: Mapping[str, str] | None
) -> Iterator[tuple[str, str, str]]:
    if old is None or new is None:
        there = old or new or {}
        first = next(k for k in _ASKED if k in there)
        texts = [side[first] if side is not None else ABSENT for side in (old, new)]
        yield (first, texts[0], texts[1])
        return
    for key, word in _ASKED.items():
        if old.get(key, "") != new.get(key, ""):
            yield (word, old.get(key, ""), new.get(key, ""))


def formula_table(
    before: Results, after: Results, names: Mapping[str, str] = NO_NAMES
) -> Table:
    r"""Return the changed lines of every formula, with a few around them.

    A quantity that only one of the two knows is not a changed formula.

    Examples
    --------
    >>> was = {"quantities": {"P": {"formula": "def P(U, I):\n    return U"}}}
    >>> now = {"quantities": {"P": {"formula": "def P(U, I):\n    return U * I"}}}
    >>> [row[:2] for row in formula_table(was, now).rows]
    [('P', ''), ('', '−'), ('', '+')]
    """
    old = {names.get(n, n): entry for n, entry in before["quantities"].items()}
    renamed = renamer(names)
    rows: list[tuple[str, ...]] = []
    for name, entry in after["quantities"].items():
        if name in old:
            was, now = renamed(old[name].get("formula", "")), entry.get("formula", "")
            lines = _diff(was, now)
            rows += [(name if i == 0 else "", *x) for i, x in enumerate(lines)]
    note = "− as it was before, + as it is after, … lines left out."
    heads = columns("Formula of", "", "Line")
    return Table("Formulas that changed", heads, tuple(rows), (note,))


_MARKS = {"-": "−", "+": "+", " ": "", "@": "…"}


def _diff(old: str, new: str) -> list[tuple[str, str]]:
    found = list(
        difflib.unified_diff(old.splitlines(), new.splitlines(), n=3, lineterm="")
    )
    # Two heads that would name files, then the first place, which is the beginning.
    lines = found[2:]
    if lines and re.match(r"@@ -[01][ ,]", lines[0]):
        lines = lines[1:]
    return [
        (_MARKS[line[0]], "" if line[0] == "@" else _indented(line[1:]))
        for line in lines
    ]


def _indented(line: str) -> str:
    """Keep the spaces at a line's start, which tables would drop."""
    bare = line.lstrip(" ")
    return "\N{NO-BREAK SPACE}" * (len(line) - len(bare)) + bare


def instrument_table(before: Results, after: Results) -> Table:
    """Return instruments and functions that differ: accuracy, ranges, calibration."""
    heads = columns("Instrument", "Function", "What", "Before", "After")
    title = "Instruments that differ"
    if "tables" not in before or "tables" not in after:
        return Table(title, heads, ())
    old, new = _instruments(before), _instruments(after)
    rows = []
    for key in dict.fromkeys([*old, *new]):
        was, now = old.get(key), new.get(key)
        if was is None or now is None:
            words = ["there" if side is not None else ABSENT for side in (was, now)]
            rows.append((*key, "", *words))
            continue
        rows += [
            (*key, what, was.get(what, ""), now.get(what, ""))
            for what in dict.fromkeys([*was, *now])
            if was.get(what, "") != now.get(what, "")
        ]
    return Table(title, heads, tuple(rows))


def _instruments(results: Results) -> dict[tuple[str, str], dict[str, str]]:
    """Return accuracy, ranges and so on by instrument and function."""
    found = {}
    for table in results["tables"]:
        if table["id"] != "instruments":
            continue
        titles = [column["title"] for column in table["columns"]]
        for raw in table["rows"]:
            cells = list(map(str, raw["cells"] if isinstance(raw, Mapping) else raw))
            found[cells[0], cells[1]] = dict(zip(titles[2:], cells[2:], strict=True))
    return found


def surroundings_table(before: Results, after: Results) -> Table:
    """Return what the numbers rest on that differs: logs, files, code, versions."""
    old, new = _surroundings(before), _surroundings(after)
    kinds = {kind for kind, _ in old} & {kind for kind, _ in new}
    rows = tuple(
        (name, old.get((kind, name), ABSENT), new.get((kind, name), ABSENT))
        for kind, name in dict.fromkeys([*old, *new])
        if kind in kinds and old.get((kind, name)) != new.get((kind, name))
    )
    heads = columns("What", "Before", "After")
    return Table("Inputs and versions that differ", heads, rows)


def _surroundings(results: Results) -> dict[tuple[str, str], str]:
    """Return by kind and name what a run was made from, as text."""
    found = {}
    for log in ("readings", "trials"):
        if log in results:
            rows, digest = results[log]["rows"], results[log]["sha256"]
            found["log", f"{log}.csv"] = f"{rows} rows, SHA-256 {_short(digest)}"
    if "code_sha256" in results:
        digest = results["code_sha256"]
        found["code", "the notebook's code"] = f"SHA-256 {_short(digest)}"
    for kind, key in (("file", "declared_sha256"), ("capture", "captures")):
        for name, digest in results.get(key, {}).items():
            shown = f"captures/{name}" if kind == "capture" else name
            found[kind, shown] = f"SHA-256 {_short(digest)}"
    for name, version in results.get("versions", {}).items():
        found["version", name] = str(version)
    return found


def _short(digest: str) -> str:
    return f"{digest[:12]}…"
