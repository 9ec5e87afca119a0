"""Case folders with invented readings, as long as a timing asks for."""

from __future__ import annotations

import tempfile
from pathlib import Path

CASE = """format = 1
title = "Invented case for timing"
invented = true
[claim]
text = "an invented supply sags"
"""
INSTRUMENTS = """[handheld]
description = "invented 6000-count meter"
[handheld."DC V"]
unit = "V"
accuracy = "±(0.5 % + 3 digits)"
ranges = ["600.0 mV", "6.000 V", "60.00 V"]
"""


def case_folder(folder: Path, count: int) -> Path:
    made = Path(tempfile.mkdtemp(dir=folder))
    (made / "case.toml").write_text(CASE, encoding="utf-8")
    (made / "instruments.toml").write_text(INSTRUMENTS, encoding="utf-8")
    if count:
        (made / "readings.csv").write_bytes(readings(count))
    return made


def readings(count: int) -> bytes:
    from benchproof.measuring.readings import COLUMNS

    lines = [",".join(COLUMNS)]
    for i in range(count):
        cells = {"row": f"r-{i + 1:04d}", **reading(i, each=max(count // 1000, 1))}
        hour, minute, second = i // 3600 % 24, i // 60 % 60, i % 60
        cells["time"] = f"2026-01-31T{hour:02d}:{minute:02d}:{second:02d}Z"
        cells["at"] = f'"{cells["at"]}"'  # its comma asks for quotes
        lines.append(",".join(cells.get(column, "") for column in COLUMNS))
    return ("\n".join(lines) + "\n").encode()


def reading(i: int, each: int = 1) -> dict[str, str]:
    """One invented reading; `each` in a row belong to one measurand."""
    return {
        "kind": "reading",
        "round": "1",
        "measurand": f"V_{i // each}",
        "value": f"{12 + i % 997 / 1000:.3f}",
        "unit": "V",
        "instrument": "handheld",
        "at": "socket, idle",
        "entry": f"e-{i // each * each + 1:04d}",
    }
