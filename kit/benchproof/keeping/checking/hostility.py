"""What could act on whoever opens the files by other means: reported, not run."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from benchproof.keeping.checking.findings import Finding
from benchproof.keeping.runs.rerun import NOTEBOOK

_UNSIGNED = r"[\d.]+(?:e[+-]?\d+)?(?:\([\d.]+\))?"
# The sign is looked for first: it is rarer than the places where a cell begins.
_HINT = re.compile(
    rf'[=@\t+-](?<![^,"\n].)(?!(?<=[+-]){_UNSIGNED}(?:[,"\r\n]|$))',
    re.MULTILINE | re.IGNORECASE,
)
_NUMBER = re.compile(rf"[+-]{_UNSIGNED}(?: [^\s=+@|!-]+)?", re.IGNORECASE)
_PASSIVE = frozenset(
    {"text/plain", "text/html", "text/markdown", "text/latex", "image/png",
     "image/jpeg"}
)  # fmt: skip
_ACTIVE = re.compile(
    r"<\s*/?\s*(?:script|iframe|object|embed|svg|link|meta|base|form|style|math)\b"
    r"|<[^>]*\son\w+\s*=|(?:javascript|vbscript)\s*:|data:text/",
    re.IGNORECASE,
)


def check_cells(folder: Path) -> Iterator[Finding]:
    """Name the cells of logs that a spreadsheet would run as formulas."""
    for path in sorted(p for p in folder.glob("*.csv") if p.is_file()):
        text = path.read_text(encoding="utf-8", errors="replace")
        if _HINT.search(text):
            yield from _formulas(path.name, text)


def _formulas(name: str, text: str) -> Iterator[Finding]:
    try:
        for cells in csv.reader(io.StringIO(text)):
            for cell in cells:
                if cell[:1] in tuple("=@+-\t") and not _NUMBER.fullmatch(cell):
                    said = (
                        f"a cell begins like a formula: {cell[:60]!r}. Do not open the "
                        "file in a spreadsheet other than as text"
                    )
                    yield Finding("open", name, cells[0][:40], said)
    except csv.Error:  # reading the log says what is wrong with it
        return


def check_outputs(notebook: Any) -> Iterator[Finding]:
    """Name the outputs of a bundled notebook that hold more than text and pictures."""
    for number, cell in enumerate(notebook.cells, 1):
        for output in cell.get("outputs", []):
            data = output.get("data", {})
            kinds = sorted(set(data) - _PASSIVE)
            if kinds:
                said = f"an output of an active kind: {', '.join(kinds)[:80]}"
                yield Finding("open", NOTEBOOK, f"cell {number}", said)
            if any(_is_active(kind, text) for kind, text in data.items()):
                said = "an output holds markup that could run or fetch something"
                yield Finding("open", NOTEBOOK, f"cell {number}", said)
    if "widgets" in notebook.metadata:
        yield Finding("open", NOTEBOOK, "metadata", "saved widget state")


def _is_active(kind: str, text: Any) -> bool:
    if kind not in ("text/html", "text/markdown"):
        return False
    joined = "".join(map(str, text)) if isinstance(text, list) else str(text)
    return _ACTIVE.search(joined) is not None
