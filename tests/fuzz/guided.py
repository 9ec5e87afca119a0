"""Fuzz a reader guided by the branches it takes; needs atheris, which is not ours.

    python -m venv elsewhere && elsewhere/bin/pip install atheris -e .
    elsewhere/bin/python tests/fuzz/guided.py units -runs=100000

It starts from sound inputs, so that it gets past the first line of a file. An input
that ends in anything but our own errors is written to a file ``crash-…`` where it was
started. Put it into test_found.py, then mend what it found.
"""

import io
import sys
import tempfile
import zipfile
from contextlib import suppress
from pathlib import Path

CASES = Path(__file__).resolve().parent.parent.parent / "notebooks"
TEXTS = {
    "units": ["mV", "kohm", "°C", "m/s**2", "%"],
    "accuracy": ["±(0.5 % + 3 digits)", "±(1.0 % of range + 20 mA)", "5 ppm"],
    "readings": ["12.10 12.09 V", "5.00(5) V", "17 of 20", "OL MΩ", "<0.5 mV",
                 "5.00 ± 0.05 V (k=2)", "10.00 ohm, U = 0.05 ohm, k = 2"],
    "influences": ["0.20(5) ohm", "2 %", "0.3 mV (triangular)"],
    "statements": ["k=2", "95 %", "limits", "trapezoidal 0.5", "arcsine"],
    "captures": ["Time (s),Rail (V)\n0.000,1.25\n0.004,1.30\n",
                 "Interval;4 ns\nt / µs;Rail / V\n0,000;1,25\n0,004;1,30\n"],
}  # fmt: skip
FILES = {"rows": "readings.csv", "cut": "readings.csv", "case": "case.toml",
         "instruments": "instruments.toml"}  # fmt: skip


def sound(name):
    """Return sound inputs of a reader."""
    if name == "bundles":
        packed = io.BytesIO()
        with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr("case.toml", "format = 1")
            archive.writestr("captures/rail.csv", "t,V\n0,1\n")
        return [packed.getvalue()]
    if name in FILES:
        return [path.read_bytes() for path in CASES.glob(f"*/{FILES[name]}")]
    return [text.encode() for text in TEXTS[name]]


def readers():
    """Import what is fuzzed; inside a function, so that it can be instrumented."""
    from benchproof.keeping.captures.csvlayout import layout_of
    from benchproof.keeping.casefile import read_case_file, read_instruments
    from benchproof.keeping.checking.unpacking import unpack_bundle
    from benchproof.keeping.logs.cutting import cut_rows
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

    def cut(data):
        found = cut_rows(data, rows.places, "r")
        if found is not None:  # it must be what reading row by row gives
            one_by_one = rows.read(data[: found.size], 0, 0, at_start=True)
            assert [found.row(i) for i in range(len(found))] == one_by_one.rows
            assert list(found) == one_by_one.rows

    def unpack(data):
        with tempfile.TemporaryDirectory(dir=place) as folder:
            unpack_bundle(kept(data, "case.zip"), Path(folder))

    return {
        "units": lambda data: unit_of(text(data)),
        "accuracy": lambda data: accuracy_line(text(data)),
        "readings": lambda data: read_values(text(data)),
        "influences": lambda data: influence_from("leads", text(data), "V", "meter"),
        "statements": lambda data: statement_from(1.0, text(data), "certificate"),
        "rows": lambda data: rows.read(data, 0, 0, at_start=True),
        "cut": cut,
        "bundles": unpack,
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

    seeds = tempfile.mkdtemp(prefix="guided-seeds-")
    for number, data in enumerate(sound(name)):
        Path(seeds, f"{number}").write_bytes(data)
    atheris.Setup([sys.argv[0], *options, seeds], one)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
