"""Fuzz a reader guided by the branches it takes; needs atheris, which is not ours.

    python -m venv elsewhere && elsewhere/bin/pip install atheris -e .
    elsewhere/bin/python tests/fuzz/guided.py units -runs=100000

An input that ends in anything but our own errors is written to a file ``crash-…``
where it was started. Put it into test_found.py, then mend what it found.
"""

import sys
import tempfile
from contextlib import suppress
from pathlib import Path


def readers():
    """Import what is fuzzed; inside a function, so that it can be instrumented."""
    from benchproof.keeping.captures.csvlayout import layout_of
    from benchproof.keeping.casefile import read_case_file, read_instruments
    from benchproof.keeping.logs.rowformat import RowFormat
    from benchproof.measuring.accuracy import accuracy_line
    from benchproof.measuring.influences import influence_from
    from benchproof.measuring.readings import COLUMNS
    from benchproof.values.quantities import read_values
    from benchproof.values.statements import statement_from
    from benchproof.values.units import unit_of

    place = Path(tempfile.mkdtemp(prefix="guided-"))
    rows = RowFormat("readings.csv", COLUMNS, "r")

    def text(data):
        return data.decode("utf-8", "ignore")

    def kept(data, name):
        (place / name).write_bytes(data)
        return place / name

    return {
        "units": lambda data: unit_of(text(data)),
        "accuracy": lambda data: accuracy_line(text(data)),
        "readings": lambda data: read_values(text(data)),
        "influences": lambda data: influence_from("leads", text(data), "V", "meter"),
        "statements": lambda data: statement_from(1.0, text(data), "certificate"),
        "rows": lambda data: rows.read(data, 0, 0, at_start=True),
        "captures": lambda data: layout_of(data, "rail.csv"),
        "case": lambda data: read_case_file(kept(data, "case.toml")),
        "instruments": lambda data: read_instruments(kept(data, "instruments.toml")),
    }


def main():
    import atheris

    with atheris.instrument_imports(include=["benchproof"]):
        known = readers()
        from benchproof.values.errors import BenchproofError
    name, *options = sys.argv[1:] or [""]
    if name not in known:
        sys.exit(f"which reader? One of {', '.join(known)}.")

    def one(data):
        with suppress(BenchproofError):
            known[name](data)

    atheris.Setup([sys.argv[0], *options], one)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
