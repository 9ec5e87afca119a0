"""Whole files: captures, case.toml, instruments.toml and bundles."""

import copy
import hashlib
import json
import shutil
import zipfile

import pytest
from bundling import make_case
from conftest import INSTRUMENTS
from fuzzing import (
    EDITS,
    Unshown,
    changed,
    changed_bytes,
    edited,
    many,
    pieces,
    tried,
)
from hypothesis import given
from hypothesis import strategies as st

from benchproof import open_case
from benchproof.keeping.captures.csvfile import read_csv
from benchproof.keeping.captures.csvlayout import layout_of
from benchproof.keeping.captures.settings import CaptureSettings
from benchproof.keeping.casefile import read_case_file, read_instruments
from benchproof.keeping.checking.check import check_case
from benchproof.keeping.checking.sums import sums_text
from benchproof.showing.bundle.bundle import bundle_case

# Captures ------------------------------------------------------------------------

HEADS = [
    "Time (s),Rail (V)",
    "Interval;4 ns\nt / µs;Rail / V",
    "Model,invented\nSample Interval,1.0E-6,s\nRecord Length,4\n,CH1\ns,V",
    "sample rate: 250 kSa/s\nindex\tCH1 [mV]\tCH2 [A]",
    "X,CH1,Start,Increment\nSequence,Volt,0.0,2.0e-6",
    "",
]
ROWS = [
    "0.000,1.25\n0.004,1.30\n0.008,1.20\n0.012,1.2\n",
    "0,000;1,25\n0,004;1,30\n0,008;1,20\n",
    "0\t12.5\t1\n1\t12.6\t2\n2\t\t3\n3\tnan\t4\n",
    "0 1 2\n1 2 3\n2 3 4\n",
    "1.5\n1.6\n1.7\n",
    "1,25\n1,30\n",
]
CAPTURES = [f"{head}\n{rows}".lstrip("\n") for head in HEADS for rows in ROWS]
HEAD_WORDS = ["Time", "s", "(V)", "/ mV", "Interval", "Sample rate", "Start", "index",
              "Increment", "1e-6", "Sa/s", ";", "\t", ",", "\n", "\r\n", '"', "nan",
              "--", "-", "1,5", "Hz", "1e-400", "٣", "²"]  # fmt: skip
CAPTURE_BYTES = st.one_of(
    changed(CAPTURES, HEAD_WORDS).map(lambda t: t.encode("utf-8", "replace")),
    changed_bytes([text.encode() for text in CAPTURES]),
    changed_bytes([text.encode("latin-1") for text in CAPTURES]),
    pieces(*HEAD_WORDS).map(lambda t: t.encode("utf-8", "replace")),
)
SAID = st.fixed_dictionaries(
    {},
    optional={
        "delimiter": st.sampled_from([",", ";", "\t", " ", ""]),
        "decimal": st.sampled_from([".", ","]),
        "time": st.sampled_from(["", "1", "Time", "no such"]),
    },
)


@many
@given(CAPTURE_BYTES, st.booleans(), SAID)
def test_the_header_of_a_capture_is_understood_or_refused(data, whole, said):
    layout = tried(layout_of, data, "rail.csv", whole=whole, **said)
    if layout:
        assert layout.channels
        assert layout.interval is None or layout.interval == layout.interval


@pytest.fixture(scope="module")
def work(tmp_path_factory):
    return tmp_path_factory.mktemp("captures")


@many
@given(CAPTURE_BYTES, SAID, st.sampled_from(["pandas", ""]))
def test_a_capture_is_read_or_refused(work, data, said, engine):
    path = work / "rail.csv"
    path.write_bytes(data)
    settings = CaptureSettings(file="rail.csv", **said)
    read = tried(read_csv, path, work, settings, engine=engine)
    if read:
        assert len({len(channel.codes) for channel in read.channels}) == 1
    assert path.read_bytes() == data


# case.toml and instruments.toml --------------------------------------------------

CASE = """\
format = 1
title = "Pump trips"
invented = true
does_not_show = ["Anything about other pumps."]

[claim]
text = "It trips whenever it rains."
source = "invented letter"
date = "2026-10-30"

[[difference]]
field = "pump"
reported = "old"
tested = "new"
same = "different"
touches = ["H1"]

[hazards]
mains = "unplugged"

[sample]
units = 2
device = "pump"

[survey]
states = ["asleep", "awake"]
unpowered = ["pack out"]
reference = "P2"
forbidden = [["P1", "P2", "shorts the pack"]]

[[contact]]
name = "P1"
x = "2.54 mm"
y = "0 mm"
height = "0.3 mm"
confidence = "seen"

[[contact]]
name = "P2"
mates = "2 ms"

[[energy]]
name = "rail"
capacitance = "2200 uF"
voltage = "12 V"

[[capture]]
file = "rail.csv"
interval = "4 ns"
"""
TOML_WORDS = ["=", "[", "]", "[[", "]]", '"', "'", "true", "-1", "1e400", "nan", "{}",
              "[1]", "2026-01-31", "{a = 1}", "\n", "format", "units", '"0 V"',
              '"OL mm"', '"5 of 7"', '"1e400 mm"', "0x1F", "12:00", "[[]]"]  # fmt: skip
TOML_VALUES = ["1", "-1", "1.5", "nan", "inf", "true", '""', '"x"', "[]", "{}", "[[]]",
               "[{}]", "[1]", '["x"]', "2026-01-31", "2026-01-31T12:00:00Z", "12:00:00",
               '"0 V"', '"? V"', '"OL V"', '"1 of 2"', '"-1 V"', '"1 m"', "9" * 40,
               '{x = "y"}', "1979-05-27T07:32:00"]  # fmt: skip


@st.composite
def values_exchanged(draw, sound):
    """Strategy: sound TOML with values of some lines exchanged for other kinds."""
    lines = sound.splitlines()
    with_value = [i for i, line in enumerate(lines) if " = " in line]
    for _ in range(draw(st.integers(1, 3))):
        i = draw(st.sampled_from(with_value))
        key = lines[i].partition(" = ")[0]
        lines[i] = f"{key} = {draw(st.sampled_from(TOML_VALUES))}"
    return "\n".join(lines) + "\n"


def tomls(sound):
    return st.one_of(values_exchanged(sound), changed([sound], TOML_WORDS))


@many
@given(tomls(CASE))
def test_case_toml_is_read_or_refused(work, text):
    path = work / "case.toml"
    path.write_text(text, encoding="utf-8", errors="replace")
    tried(read_case_file, path)


@many
@given(EDITS, st.sampled_from(["case.toml", "instruments.toml"]))
def test_any_bytes_of_a_toml_file_are_read_or_refused(work, edits, name):
    sound = {"case.toml": CASE, "instruments.toml": BOOK}[name]
    path = work / name
    path.write_bytes(edited(sound.encode(), edits))
    tried(read_case_file if name == "case.toml" else read_instruments, path)


BOOK = (
    INSTRUMENTS
    + """
[scope]
description = "invented oscilloscope"
calibrated = 2026-01-31
interval_months = 12
ambient = "31 °C"
resource = "TCPIP::localhost::5025::SOCKET"
[scope."DC V"]
unit = "V"
accuracy = "±(3 % of full scale)"
ranges = ["8.00 V", { range = "80.0 V", accuracy = "±(5 % + 2 digits)" }]
zero_drift = "0.3 mV"
probe_ratio = "2 %"
input_resistance = "10 Mohm"
temperature_coefficient = "0.1 × accuracy / K"
reference_band = "18 °C to 28 °C"
[scope."DC A"]
unit = "A"
accuracy = "±(1 %)"
ranges = [{ range = "6.000 A", burden = "0.2 V" }]
burden = "0.1 ohm"
query = "MEAS?"
[scope."ohm"]
unit = "ohm"
accuracy = "±(1 % + 1 digit)"
ranges = ["600.0 ohm"]
beeps_below = "30 ohm"
lead_resistance = "0.20(5) ohm"
"""
)


@many
@given(tomls(BOOK))
def test_instruments_toml_is_read_or_refused(work, text):
    path = work / "instruments.toml"
    path.write_text(text, encoding="utf-8", errors="replace")
    tried(read_instruments, path)


# Bundles -------------------------------------------------------------------------


@pytest.fixture(scope="module")
def good(tmp_path_factory):
    """Return the files of a sound bundle, and itself as ``whole``."""
    folder = make_case(tmp_path_factory.mktemp("sound") / "pump", INSTRUMENTS)
    path = bundle_case(folder)
    with zipfile.ZipFile(path) as archive:
        files = {name: archive.read(name) for name in archive.namelist()}
    return Unshown(files=Unshown(files), whole=path.read_bytes())


def test_the_bundle_that_is_changed_is_sound(good, work):
    rewritten(work / "sound.zip", good["files"])
    assert check_case(work / "sound.zip").status == 0


@many
@given(EDITS)
def test_a_bundle_with_changed_bytes_is_checked_or_refused(good, work, edits):
    path = work / "changed.zip"
    path.write_bytes(edited(good["whole"], edits))
    tried(check_case, path)


def rewritten(path, files):
    """Pack files as a bundle whose hashes agree with them."""
    files = {n: c for n, c in files.items() if n != "SHA256SUMS"}
    hashes = {n: hashlib.sha256(c).hexdigest() for n, c in files.items()}
    files["SHA256SUMS"] = sums_text(hashes).encode()
    with zipfile.ZipFile(path, "w") as archive:
        for name, content in files.items():
            archive.writestr(name, content)


TEXTS = ("case.toml", "instruments.toml", "readings.csv", "results.json",
         "investigation.ipynb", "predictions.csv")  # fmt: skip


def inside(files, name):
    """Return the name that a file of the case has in the bundle."""
    return next((n for n in files if n.rpartition("/")[2] == name), None)


@many
@given(EDITS, st.sampled_from(TEXTS))
def test_a_bundle_with_a_changed_file_is_checked_or_refused(good, work, edits, name):
    files = dict(good["files"])
    place = inside(files, name)
    files[place] = edited(files[place], edits)
    path = work / "changed.zip"
    rewritten(path, files)
    tried(check_case, path)


JSON_VALUES = [None, True, 0, -1, 1e308, 2**70, "", "x", "V", "counts", [], {}, [[]],
               [None], {"x": None}, "9" * 5000, float("nan"), float("inf")]  # fmt: skip


def places_in(value, trail=()):
    """Yield the way to every value inside a JSON value."""
    children = value.items() if isinstance(value, dict) else enumerate(value)
    for key, child in children:
        yield (*trail, key)
        if isinstance(child, dict | list):
            yield from places_in(child, (*trail, key))


def exchanged(content, changes):
    """Exchange values inside a JSON value in place; `...` takes one away."""
    for place, value in changes:
        ways = list(places_in(content))
        *trail, last = ways[place % len(ways)]
        target = content
        for key in trail:
            target = target[key]
        if value is ...:
            del target[last]
        else:
            target[last] = copy.deepcopy(value)
    return content


CHANGES = st.lists(
    st.tuples(st.integers(0, 1 << 20), st.sampled_from([..., *JSON_VALUES])),
    min_size=1,
    max_size=3,
)


@many
@given(CHANGES, st.sampled_from(["results.json", "investigation.ipynb"]))
def test_a_bundle_with_other_values_is_checked_or_refused(good, work, changes, name):
    files = dict(good["files"])
    place = inside(files, name)
    content = exchanged(json.loads(files[place]), changes)
    files[place] = json.dumps(content).encode()
    path = work / "changed.zip"
    rewritten(path, files)
    tried(check_case, path)


@many
@given(tomls(CASE), tomls(INSTRUMENTS))
def test_a_case_whose_declarations_changed_opens_or_is_refused(good, work, said, book):
    folder = work / "opened"
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    files = good["files"]
    for name in ("case.toml", "instruments.toml", "readings.csv"):
        (folder / name).write_bytes(files[inside(files, name)])
    (folder / "case.toml").write_text(said, "utf-8", "replace")
    (folder / "instruments.toml").write_text(book, "utf-8", "replace")
    case = tried(open_case, folder)
    if case:
        tried(lambda: (case.state(), str(case)))
