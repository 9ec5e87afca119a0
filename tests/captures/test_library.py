"""The captures folder: opening, channels, units, parts and what is refused.

The records are invented: a supply rail of about 5 V and the current it gives.
"""

import struct
from contextlib import contextmanager

import numpy as np
import pytest

from benchproof.keeping.captures import library as module
from benchproof.keeping.captures.library import Library, declared_captures
from benchproof.values.errors import FileError, InputError, UnitError

ROWS = "\n".join(f"{i},{4.9 + i % 5 / 10:.1f},{250 + i % 3}" for i in range(200))
TEXT = f"Time (ms),Rail (V),Supply (mA)\n{ROWS}\n"


@pytest.fixture
def library(tmp_path):
    (tmp_path / "captures").mkdir()

    def with_files(tables=(), **files):
        for name, content in files.items():
            ending = "csv" if isinstance(content, str) else name.partition("_")[0]
            path = tmp_path / "captures" / f"{name}.{ending}"
            path.write_bytes(content.encode() if isinstance(content, str) else content)
        return Library(tmp_path, declared_captures(tables))

    return with_files


def wav(codes, rate=48_000, channels=1, stated=None, kind=1):
    data = codes.tobytes()
    bits = codes.dtype.itemsize * 8
    form = struct.pack("<HHIIHH", kind, channels, rate, 0, 0, bits)
    size = len(data) if stated is None else stated
    return (b"RIFF\0\0\0\0WAVEfmt " + struct.pack("<I", 16) + form
            + b"LIST\x03\0\0\0abc\0data" + struct.pack("<I", size) + data)  # fmt: skip


def test_a_channel_opens_in_si_with_its_interval(library):
    trace = library(start=TEXT).open("start.csv", "Supply")
    assert trace.values(0, 3).tolist() == pytest.approx([0.250, 0.251, 0.252])
    assert trace.interval == pytest.approx(1e-3)
    assert trace.name == "start.csv · Supply"
    assert trace.settings.unit.symbol == "mA"
    assert trace.moments().count == 200


def test_a_declared_capture_carries_its_settings(library):
    table = {"name": "rail", "file": "start.csv", "channel": "Rail",
             "instrument": "scope", "coupling": "DC", "bandwidth": "20 MHz",
             "unit": "V", "full_screen": "8 V", "accuracy": "3 % of full screen",
             "time_base": "50 ppm", "bits": 8, "rails": ["0 V", "5.25 V"]}  # fmt: skip
    trace = library([table], start=TEXT).open("rail")
    settings = trace.settings
    assert (settings.instrument, settings.channel) == ("scope", "Rail")
    assert (settings.bandwidth, settings.full_screen) == (20e6, 8.0)
    assert settings.accuracy.of_range == 0.03
    assert settings.time_base == pytest.approx(50e-6)
    assert trace.clipped() == (0, 40)
    assert trace.resolution == pytest.approx(0.1)


def test_a_call_comes_before_the_declaration(library):
    table = {"name": "rail", "file": "start.csv", "channel": "Rail", "coupling": "DC"}
    trace = library([table], start=TEXT).open("rail", coupling="AC", start="2 s")
    assert trace.settings.coupling == "AC"
    assert trace.start == 2.0


def test_a_shunt_s_scale_gives_the_current(library):
    trace = library(start=TEXT).open("start.csv", "Rail", scale="10 A/V")
    assert trace.values(0, 1)[0] == pytest.approx(49.0)
    assert trace.settings.unit.symbol == "A"


def test_a_person_who_waits_is_told_what_is_read_and_how_far(library, monkeypatch):
    titles, seen = [], []

    @contextmanager
    def waiting(title, progress=None):
        titles.append(title)
        yield seen.append

    monkeypatch.setattr(module, "waiting", waiting)
    shelf = library(start=TEXT)
    shelf.open("start.csv", 1)
    assert (seen, seen[-1]) == (sorted(seen), pytest.approx(1))
    shelf.hash("start.csv")
    assert titles == ["reading start.csv", "hashing start.csv"]
    assert seen[-1] == 1.0


def test_an_inverted_channel_is_turned_round(library):
    trace = library(start=TEXT).open("start.csv", "Rail", inverted=True)
    assert trace.values().max() == pytest.approx(-4.9)
    assert trace.moments().greatest == pytest.approx(-4.9)
    up = library().open("start.csv", "Rail").changes(5.0, 5.2)
    down = trace.changes(-5.2, -5.0)
    assert np.array_equal(up.index, down.index)
    assert np.array_equal(up.rising, ~down.rising)
    shown = trace.envelope(10)
    assert (shown.low <= shown.high).all()


@pytest.mark.parametrize(
    ("call", "said"),
    [
        ({"name": "start.csv"}, "no channel named; it has 'Rail', 'Supply'"),
        ({"name": "start.csv", "channel": "Motor"}, "no channel 'Motor'; it has"),
        ({"name": "start.csv", "channel": 1, "part": 2}, "1 part|parts|no part"),
        ({"name": "start.csv", "channel": 1, "coupling": "GND"}, "one of 'DC', 'AC'"),
        ({"name": "start.csv", "channel": 1, "volts": 3}, "'volts' is not one of"),
        ({"name": "../start.csv"}, "without a folder"),
    ],
)
def test_a_wrong_call_is_refused_with_what_there_is(library, call, said):
    with pytest.raises(InputError, match=said):
        library(start=TEXT).open(**call)


def test_a_missing_file_is_refused_with_what_there_is(library):
    with pytest.raises(FileError, match=r"stop.csv is not there.*start.csv"):
        library(start=TEXT).open("stop.csv")


def test_no_interval_and_no_unit_are_asked_for(library):
    shelf = library(bare="1.5\n1.6\n1.7\n")
    with pytest.raises(InputError, match="names no unit"):
        shelf.open("bare.csv")
    with pytest.raises(InputError, match="no interval"):
        shelf.open("bare.csv", unit="V")
    assert shelf.open("bare.csv", unit="V", interval="4 ns").interval == 4e-9


def test_a_record_with_gaps_is_opened_part_by_part(library):
    rows = "\n".join(f"{t},{t % 7}" for t in [*range(500), *range(900, 1000)])
    shelf = library(gap=f"Time (ms),U (V)\n{rows}\n")
    with pytest.raises(InputError, match=r"2 parts with gaps.*500 to 599, from 0\.9 s"):
        shelf.open("gap.csv")
    trace = shelf.open("gap.csv", part=2)
    assert (len(trace), trace.start) == (100, pytest.approx(0.9))
    assert trace.moments().count == 100


def test_a_channel_without_any_value_is_refused(library, tmp_path):
    shelf = library()
    np.save(tmp_path / "captures" / "hole.npy", np.full(9, np.nan))
    with pytest.raises(InputError, match="holds no value at all"):
        shelf.open("hole.npy", unit="V", interval=1.0)


def test_wav_samples_are_fractions_until_a_step_is_stated(library):
    codes = np.array([[0, 100], [16384, -32768], [-16384, 32767]], "<i2")
    shelf = library(wav_line=wav(codes, channels=2))
    trace = shelf.open("wav_line.wav", 1, unit="V")
    assert trace.values().tolist() == [0.0, 0.5, -0.5]
    assert trace.interval == pytest.approx(1 / 48_000)
    volts = shelf.open("wav_line.wav", 2, unit="V", step="1 mV")
    assert volts.values().tolist() == pytest.approx([0.1, -32.768, 32.767])
    assert volts.clipped() == (1, 1)


def test_wav_of_24_and_8_bits_and_floats(library):
    packed = np.array([1, 0, 0, 255, 255, 255, 0, 0, 128], np.uint8)
    deep = bytearray(wav(packed))
    deep[34:36] = struct.pack("<H", 24)
    shelf = library(
        wav_deep=bytes(deep),
        wav_byte=wav(np.array([128, 0], np.uint8)),
        wav_float=wav(np.array([0.25, -1.5], "<f4"), kind=3),
    )
    for _ in range(2):  # read, and from the index
        assert shelf.open("wav_deep.wav", unit="V").codes.tolist() == [1, -1, -(2**23)]
    assert shelf.open("wav_byte.wav", unit="V").values().tolist() == [0.0, -1.0]
    assert shelf.open("wav_float.wav", unit="V").values().tolist() == [0.25, -1.5]


def test_npy_and_npz(library, tmp_path):
    shelf = library()
    place = tmp_path / "captures"
    np.save(place / "two.npy", np.arange(20, dtype=np.int16).reshape(2, 10))
    np.savez_compressed(place / "set.npz", rail=np.arange(5.0), dt=1e-6)
    np.savez(place / "timed.npz", rail=np.arange(5.0), time=np.arange(5) * 2e-6 + 1)
    np.savez(place / "odd.npz", rail=np.arange(5.0), time=np.array([0, 1, 2, 2.5, 3]))
    second = shelf.open("two.npy", 2, unit="V", interval=1e-3)
    assert second.codes.tolist() == list(range(10, 20))
    assert shelf.open("set.npz", unit="V").interval == 1e-6
    timed = shelf.open("timed.npz", unit="V")
    assert (timed.interval, timed.start) == (pytest.approx(2e-6), 1.0)
    with pytest.raises(FileError, match=r"odd.npz, time\[3\]"):
        shelf.open("odd.npz", unit="V")


def test_missing_samples_of_an_array_make_parts(library, tmp_path):
    shelf = library()
    values = np.ones(100, np.float32)
    values[[10, 11]] = np.nan
    np.save(tmp_path / "captures" / "holes.npy", values)
    with pytest.raises(InputError, match="2 parts"):
        shelf.open("holes.npy", unit="V", interval=1.0)
    trace = shelf.open("holes.npy", unit="V", interval=1.0, part=2)
    assert (len(trace), trace.start) == (88, 12.0)


def test_a_block_is_read_with_or_without_its_header(library):
    codes = np.array([1, -2, 10, 2570], ">i2")
    said = {"type": "int16", "byte_order": "big", "step": "2 mV", "unit": "V",
            "interval": "1 us"}  # fmt: skip
    shelf = library(bin_bare=codes.tobytes(), bin_head=b"#18" + codes.tobytes() + b"\n")
    for name in ("bin_bare.bin", "bin_head.bin"):
        trace = shelf.open(name, **said)
        assert trace.values().tolist() == pytest.approx([0.002, -0.004, 0.02, 5.14])


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("bin_cut", b"#3100abcdef", "states 100 bytes, 6 are there"),
        ("bin_odd", b"abc", "3 bytes are no whole number of int16"),
        ("bin_none", b"", "is empty"),
    ],
)
def test_a_block_cut_short_is_refused_with_both_numbers(library, name, content, said):
    shelf = library(**{name: content})
    with pytest.raises(FileError, match=said):
        shelf.open(f"{name}.bin", type="int16", unit="V", interval=1)


def test_other_files_cut_short_are_refused(library, tmp_path):
    shelf = library(wav_cut=wav(np.zeros(9, "<i2"), stated=4000), wav_no=b"RIFX" * 9)
    np.save(tmp_path / "captures" / "cut.npy", np.zeros(1000))
    path = tmp_path / "captures" / "cut.npy"
    path.write_bytes(path.read_bytes()[:700])
    for name, said in (("wav_cut.wav", "states 4000 bytes of samples, 18 are there"),
                       ("wav_no.wav", "is no WAV file"),
                       ("cut.npy", "cannot be read")):  # fmt: skip
        with pytest.raises(FileError, match=said):
            shelf.open(name, unit="V", interval=1)


def test_a_binary_file_asks_what_its_samples_are(library):
    with pytest.raises(FileError, match="say what its samples are: type"):
        library(bin_bare=b"abcd").open("bin_bare.bin", unit="V")


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ({}, "name the file"),
        ({"file": "a.csv", "colour": 1}, r"\[\[capture\]\] 1: 'colour' is not one of"),
        ({"file": "a.csv", "interval": "4 V"}, "interval"),
        ({"file": "a.csv", "interval": "soon"}, "'soon' is no number"),
        ({"file": "a.csv", "interval": 0}, "give a number above 0"),
        ({"file": "a.csv", "bits": "8"}, "bits = '8'; give a whole number"),
        ({"file": "a.csv", "inverted": 1}, "give true or false"),
        ({"file": "a.csv", "rails": "4 V"}, "give two"),
        ({"file": "a.csv", "rails": [4, -4]}, "the lower one first"),
        ({"file": "a.csv", "unit": "volty"}, "volty"),
        ({"file": "a.csv", "skip": -1}, "0 or more"),
    ],
)
def test_a_wrong_table_is_refused_where_it_stands(table, said):
    with pytest.raises((InputError, UnitError), match=said):
        declared_captures([table])


def test_two_captures_of_one_name_are_refused():
    table = {"file": "a.csv", "name": "rail"}
    with pytest.raises(InputError, match="the name 'rail' is taken"):
        declared_captures([table, table])


def test_two_declared_channels_of_a_file_are_opened_by_their_names(library):
    tables = [{"file": "start.csv", "name": n, "channel": c}
              for n, c in (("rail", "Rail"), ("supply", "Supply"))]  # fmt: skip
    shelf = library(tables, start=TEXT)
    with pytest.raises(InputError, match="declares 'rail', 'supply' of it"):
        shelf.open("start.csv")
    assert shelf.open("supply").settings.channel == "Supply"
    assert shelf.open("start.csv", "Supply").settings.channel == "Supply"


def test_defaults_hold_where_a_capture_does_not_say(library):
    defaults = {"instrument": "scope", "coupling": "DC", "full_screen": "8 V",
                "unit": "V"}  # fmt: skip
    tables = [{"file": "start.csv", "name": "rail", "channel": "Rail"},
              {"file": "start.csv", "name": "supply", "channel": "Supply",
               "coupling": "AC", "unit": "mA", "full_screen": "800 mA"}]  # fmt: skip
    shelf = library(start=TEXT, other=TEXT)
    shelf = Library(shelf.folder, declared_captures(tables, defaults), defaults)
    rail, supply = shelf.open("rail").settings, shelf.open("supply").settings
    assert (rail.instrument, rail.coupling, rail.full_screen) == ("scope", "DC", 8.0)
    assert (supply.instrument, supply.coupling) == ("scope", "AC")
    assert supply.full_screen == pytest.approx(0.8)
    bare = shelf.open("other.csv", "Rail", coupling="AC").settings
    assert (bare.instrument, bare.coupling) == ("scope", "AC")


@pytest.mark.parametrize(
    ("defaults", "said"),
    [
        ({"file": "a.csv"}, r"\[capture_defaults\]: file is of one capture"),
        ({"name": "rail"}, "name is of one capture"),
        ({"colour": 1}, r"\[capture_defaults\]: 'colour' is not one of"),
        ({"bits": "8"}, r"\[capture_defaults\]: bits = '8'; give a whole number"),
    ],
)
def test_defaults_that_no_capture_can_have_are_refused(defaults, said):
    with pytest.raises(InputError, match=said):
        declared_captures([], defaults)


@pytest.mark.parametrize(
    ("header", "scale", "symbol", "first"),
    [("Rail (mV)", "1 A/V", "mA", 4.9e-3), ("Rail (V)", "10 A/V", "A", 49.0),
     ("Rail (mV)", "2 bar/V", "mbar", 980.0), ("Rail (mV)", "10 mA/V", "µA", 49e-6),
     ("Rail", "0.5 kg", "kg", 2.45)],
)  # fmt: skip
def test_a_scale_gives_the_unit_people_write(library, header, scale, symbol, first):
    shelf = library(start=TEXT.replace("Rail (V)", header))
    trace = shelf.open("start.csv", 1, scale=scale)
    assert trace.settings.unit.symbol == symbol
    assert trace.values(0, 1)[0] == pytest.approx(first)


def test_the_table_lists_files_and_what_is_declared(library):
    tables = [{"file": "start.csv", "name": "rail"}, {"file": "gone.csv", "name": "x"}]
    shown = library(tables, start=TEXT, other=TEXT).table()
    assert [row[0] for row in shown.rows] == ["gone.csv", "other.csv", "start.csv"]
    assert shown.rows[0][1:] == ("not there", "x")
    assert shown.rows[1][2] == "not declared"
