"""Reading a capture's CSV: layouts, gaps, and what cannot be understood.

The records are invented: a supply rail of about 5 V, read by a converter of 8 bits
over 10 V, so that values are multiples of 40 mV.
"""

import importlib.util

import numpy as np
import pytest

from benchproof.keeping.captures import csvblocks
from benchproof.keeping.captures.csvfile import read_csv
from benchproof.keeping.captures.settings import CaptureSettings
from benchproof.values.errors import FileError

ENGINES = [
    pytest.param(
        "pyarrow",
        marks=pytest.mark.skipif(
            importlib.util.find_spec("pyarrow") is None,
            reason="pyarrow (extra captures) is not installed",
        ),
    ),
    "pandas",
]


def rail(count, seed=1):
    codes = np.random.default_rng(seed).integers(115, 135, count)
    return codes, codes * 0.04


@pytest.fixture(params=ENGINES)
def read(tmp_path, request):
    def reading(text, name="rail.csv", encoding="utf-8", **settings):
        path = tmp_path / name
        data = text if isinstance(text, bytes) else text.encode(encoding)
        path.write_bytes(data)
        said = CaptureSettings(file=name, **settings)
        work = tmp_path / "work"
        work.mkdir(exist_ok=True)
        return read_csv(path, work, said, engine=request.param)

    return reading


def values(channel):
    return channel.zero + channel.step * np.asarray(channel.codes, dtype=float)


def lines(header, rows, end="\n"):
    return end.join([*header, *rows]) + end


def test_a_plain_file_gives_the_converter_s_own_codes(read):
    codes, volts = rail(300)
    rows = [f"{i * 4e-9:.9f},{v:.2f}" for i, v in enumerate(volts)]
    (channel,) = read(lines(["Time (s),Rail (V)"], rows)).channels
    assert channel.codes.dtype == np.int16
    assert channel.step == 0.04
    assert np.array_equal(channel.codes, codes)
    assert channel.interval == pytest.approx(4e-9, rel=1e-12)
    assert (channel.name, channel.unit) == ("Rail", "V")


def test_decimal_comma_semicolon_windows_lines_and_a_blank_tail(read):
    _, volts = rail(50)
    rows = [f"{i:d};{v:.2f}".replace(".", ",") for i, v in enumerate(volts)]
    text = (
        lines(["Invented recorder", "Time (µs);U (V)"], rows, "\r\n") + "\r\n \r\n;\r\n"
    )
    (channel,) = read(text, encoding="latin-1").channels
    assert np.allclose(values(channel), volts.round(2), rtol=0, atol=1e-12)
    assert channel.interval == pytest.approx(1e-6)


def test_several_channels_with_units_below_their_names(read):
    rows = [f"{i}\t{i % 3}.5\t{1000 - i}" for i in range(40)]
    one, two = read(lines(["t\tRail\tMotor", "ms\tV\tmA"], rows)).channels
    assert (one.name, one.unit, two.name, two.unit) == ("Rail", "V", "Motor", "mA")
    assert two.codes[0] * two.step == 1000
    assert one.interval == pytest.approx(1e-3)


def test_settings_beside_the_first_rows_are_header_not_data(read):
    _, volts = rail(60)
    beside = ["Record Length,60,Points", "Sample Interval,0.001,s", "Note,x,"]
    beside += [",,"] * 57
    rows = [f"{b},{i * 1e-3 - 0.01:.3f},{v:.2f}"
            for i, (b, v) in enumerate(zip(beside, volts, strict=True))]  # fmt: skip
    (channel,) = read("\n".join(rows)).channels
    assert np.allclose(values(channel), volts.round(2))
    assert channel.interval == pytest.approx(1e-3)
    assert channel.parts == ((0, 60, pytest.approx(-0.01)),)


def test_a_counter_takes_interval_and_start_from_below_their_names(read):
    rows = [f"{i},{i % 5}.24,," for i in range(30)]
    head = ["X,CH1,Start,Increment,", "Sequence,Volt,-1.2e-3,4.0e-6,"]
    (channel,) = read(lines(head, [r + "," if 0 else r for r in rows])).channels
    assert channel.interval == 4e-6
    assert channel.parts[0][2] == pytest.approx(-1.2e-3)


def test_a_sample_rate_in_the_header_gives_the_interval(read):
    head = ["# sample rate: 250 MSa/s", "Rail (mV)"]
    (channel,) = read(lines(head, ["1.5", "1.6", "1.4"])).channels
    assert channel.interval == pytest.approx(4e-9)


@pytest.mark.parametrize(
    ("line", "decimal", "interval"),
    [
        ("Sample interval,0.001 s", ".", 1e-3),
        ("Sample interval,2,ms", ".", 2e-3),
        ("Sample interval;0,001 s", ",", 1e-3),
        ("Sample interval,0,001 s", ",", 1e-3),
        ("Sample rate;250 kSa/s", ".", 4e-6),
        ("Increment\t4 ns/pt", ".", 4e-9),
        ("Sample interval,2 hands", ".", None),
    ],
)
def test_above_a_single_column_a_fact_may_have_any_mark(read, line, decimal, interval):
    rows = [v.replace(".", decimal) for v in ("1.5", "1.6", "1.4")]
    (channel,) = read(lines([line, "Rail (mV)"], rows), decimal=decimal).channels
    assert channel.interval == (interval and pytest.approx(interval))
    assert values(channel).tolist() == pytest.approx([1.5, 1.6, 1.4])


def test_a_file_is_read_as_blocks_on_threads_in_its_own_order(read, monkeypatch):
    monkeypatch.setattr(csvblocks, "CHUNK", 512)
    rows = [f"{i},{i % 250}" for i in range(4000)]
    (channel,) = read(lines(["Time (ms),U (V)"], rows)).channels
    assert channel.codes.tolist() == [i % 250 for i in range(4000)]


def test_a_line_longer_than_a_block_is_read(read, monkeypatch):
    monkeypatch.setattr(csvblocks, "CHUNK", 64)
    rows = [f"{i},{'0' * 200}1.5" for i in range(20)]
    (channel,) = read(lines(["Time (ms),U (V)"], rows)).channels
    assert values(channel).tolist() == [1.5] * 20


def test_numbers_with_exponents_lose_no_digit(read):
    numbers = ["1.2345E-02", "-9.8765E-05", "+4.0000E+00", "0"]
    rows = [f"{i}E-06,{v}" for i, v in enumerate(numbers)]
    (channel,) = read(lines(["Time (s),U (V)"], rows)).channels
    assert np.allclose(values(channel), [float(v) for v in numbers], rtol=1e-15)


def test_numbers_that_fit_no_32_bits_are_kept_as_they_are(read):
    numbers = ["3.2000002E-01", "1.2345678E-12", "7.1E+03"]
    rows = [f"{i},{v}" for i, v in enumerate(numbers)]
    (channel,) = read(lines(["Time (s),U (V)"], rows)).channels
    assert channel.codes.dtype == np.float64
    assert channel.codes.tolist() == [float(v) for v in numbers]


def test_more_digits_far_down_the_file_are_kept_too(read, monkeypatch):
    monkeypatch.setattr(csvblocks, "CHUNK", 4096)
    rows = [f"{i}e-6,{i % 7}.5" for i in range(20_000)] + ["20000e-6,1.2345678"]
    (channel,) = read(lines(["Time (s),U (V)"], rows)).channels
    assert channel.codes[-1] * channel.step == pytest.approx(1.2345678, rel=1e-15)
    assert channel.codes[5] * channel.step == 5.5


def test_blocks_of_any_size_give_the_same(read, monkeypatch):
    _, volts = rail(5000)
    rows = [f"{i * 1e-6:.6f},{v:.2f}" for i, v in enumerate(volts)]
    text = lines(["Time (s),U (V)"], rows)
    whole = np.array(read(text).channels[0].codes)
    for size in (1 << 12, 997):
        monkeypatch.setattr(csvblocks, "CHUNK", size)
        assert np.array_equal(read(text).channels[0].codes, whole)


def test_a_missing_sample_and_a_jump_in_time_make_parts(read):
    rows = [f"{t},{v}" for t, v in zip(
        [*range(10), *range(50, 60)], ["1.5"] * 4 + [""] + ["1.5"] * 15, strict=True
    )]  # fmt: skip
    (channel,) = read(lines(["Time (ms),U (V)"], rows)).channels
    spans = [(a, b) for a, b, _ in channel.parts]
    assert spans == [(0, 4), (5, 10), (10, 20)]
    assert [t for _, _, t in channel.parts] == pytest.approx([0, 5e-3, 50e-3])


def test_a_single_sample_left_out_is_found_in_whole_milliseconds(read):
    rows = [f"{t},1.5" for t in range(100) if t != 40]
    (channel,) = read(lines(["Time (ms),U (V)"], rows)).channels
    assert [(a, b) for a, b, _ in channel.parts] == [(0, 40), (40, 99)]


def test_an_orderly_file_is_never_read_line_by_line(read, monkeypatch):
    monkeypatch.setattr(csvblocks, "CHUNK", 4096)
    monkeypatch.setattr(csvblocks, "_by_hand", None)
    rows = [f"{i},1.5,{'' if i % 9 else 2}" for i in range(3000)]
    one, two = read(lines(["Time (ms),A (V),B (V)"], rows)).channels
    assert (len(one.codes), len(two.parts)) == (3000, 334)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "rail.csv is empty"),
        ("\n\n \n", "rail.csv is empty"),
        ("made by hand\nno numbers\n", "no lines of numbers"),
        ("Time (s),U (V)\n0,1.5\n", "line 2: a single sample"),
        ("Time (s),U (V)\n0,1\n1,2\n2,abc\n3,4\n4,5\n5,6\n", "line 4, cell 2: 'abc'"),
        ("Time (s),U (V)\n0,1\n1,2\n2,3\n3\n4,5\n5,6\n", "line 5: '3' has 1 cells"),
        ("Time (s),U (V)\n0,1\n1,2\n2,3\n1.5,4\n4,5\n", "line 5: the time runs back"),
        ("Time (s),U (V)\n0,1\n1,2\n2,3\n2.5,4\n3,5\n", "line 5: the time advances"),
        ("Time (s),U (V)\n0,1\n0,2\n0,3\n", "line 3: the times do not rise"),
        ("Time (s),U (V)\n0,1\n1,2\n,3\n3,4\n4,1\n", "line 4: its time is missing"),
        ("Interval: 1 ms\nU (V)\n1\n2\n3\n\n4\n5\n6\n", "line 6 is blank"),
        ("Time (V),T (s)\n", "no lines of numbers"),
        ("1,25\n1,30\n1,28\n1,31\n", "decimal comma"),
        (b"\xff\xfeT\0i\0m\0e\0", "not plain text"),
    ],
)
def test_what_cannot_be_understood_is_said_with_its_line(read, text, said):
    with pytest.raises(FileError, match=said):
        read(text)


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("bad", [5, 700, 1999])
def test_a_fault_is_named_by_its_line_whichever_block_it_is_in(
    read, monkeypatch, end, bad
):
    monkeypatch.setattr(csvblocks, "CHUNK", 2000)
    rows = [f"{i},1.5" for i in range(2000)]
    rows[bad] = f"{bad},x"
    with pytest.raises(FileError, match=f"line {bad + 2}, cell 2: 'x' is no number"):
        read(lines(["Time (ms),U (V)"], rows, end))


def test_blank_lines_before_a_fault_are_counted(read):
    text = "Time (s),U (V)\n0,1\n1,2\n\n\n2,3\n1.5,4\n4,5\n"
    with pytest.raises(FileError, match="line 7: the time runs backwards"):
        read(text)


def test_a_last_line_cut_short_is_left_out_and_said(read):
    found = read("Time (s),A (V),B (V)\n0,1,2\n1,2,3\n2,3,4\n3,4")
    assert len(found.channels[0].codes) == 3
    assert found.notes == ("line 5, the last, is incomplete and was left out",)


def test_irregular_times_are_refused_as_no_equal_steps(read):
    times = np.cumsum(np.random.default_rng(2).uniform(0.5, 4, 500))
    rows = [f"{t:.4f},1.5" for t in times]
    with pytest.raises(FileError, match="equal steps"):
        read(lines(["Time (s),U (V)"], rows))


def test_times_with_too_few_digits_still_give_the_interval(read):
    rows = [f"{i * 1e-6:.5f},1.5" for i in range(5000)]  # ten samples share a time
    (channel,) = read(lines(["Time (s),U (V)"], rows)).channels
    assert channel.interval == pytest.approx(1e-6, rel=0.01)
    assert len(channel.parts) == 1


def test_an_interval_that_drifts_is_refused(read):
    times = np.cumsum(np.linspace(1e-3, 1.04e-3, 4000))
    rows = [f"{t:.7f},1.5" for t in times]
    with pytest.raises(FileError, match="changes slowly"):
        read(lines(["Time (s),U (V)"], rows))


def test_the_stated_decimal_settles_what_is_ambiguous(read):
    (channel,) = read("1,25\n1,30\n1,28\n", decimal=",").channels
    assert values(channel).tolist() == pytest.approx([1.25, 1.30, 1.28])


def test_a_temperature_called_t_is_no_time(read):
    rows = [f"{20 + i % 3},{i}" for i in range(9)]
    one, two = read("T (°C),n\n" + "\n".join(rows)).channels
    assert (one.unit, two.name) == ("°C", "n")
    assert one.interval is None


def test_progress_ends_at_the_whole_file(tmp_path):
    path = tmp_path / "rail.csv"
    path.write_text("Time (s),U (V)\n0,1\n1,2\n2,3\n", encoding="utf-8")
    seen = []
    read_csv(path, tmp_path, CaptureSettings(file="rail.csv"), seen.append)
    assert seen[-1] == 1.0
