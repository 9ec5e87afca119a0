"""Readings and captures taken from an instrument, a loopback one, into a case."""

import csv
import datetime as dt
import json
import tomllib

import nbformat
import pytest
from loopback import HANG_UP, Loopback, block

from benchproof import open_case
from benchproof.keeping.live.instrument import RERUN, LiveInstrument
from benchproof.keeping.runs.rerun import run_case
from benchproof.values.errors import (
    ConnectionFailedError,
    FileError,
    InputError,
    RecordingRefusedError,
)

CASE = 'format = 1\ntitle = "A case for the tests"\ninvented = true\n'
IDENTITY = "INVENTED INSTRUMENTS,BM-1,0001"
VOLTS = "MEAS:VOLT:DC?"
RANGE = "VOLT:DC:RANG?"
CURVE = "DATA:SOUR CH1;:CURV?"

# An invented maker's figures.
INSTRUMENTS = """\
[bench_meter]
description = "invented 6000-count bench meter"
resource = "{resource}"
identity = "INVENTED INSTRUMENTS,BM-1"
timeout = "300 ms"
capture_query = "DATA:SOUR {{channel}};:CURV?"
capture_settings = ["HOR:SCA?"]
[bench_meter."DC V"]
unit = "V"
accuracy = "±(0.5 % + 3 digits)"
ranges = ["600.0 mV", "6.000 V", "60.00 V"]
query = "MEAS:VOLT:DC?"
range_query = "VOLT:DC:RANG?"
[bench_meter."Ω"]
unit = "ohm"
accuracy = "±(0.8 % + 5 digits)"
ranges = ["600.0 ohm", "60.00 Mohm"]
query = "MEAS:RES?"

[by_eye]
[by_eye."DC V"]
unit = "V"
accuracy = "±(0.5 % + 3 digits)"
ranges = ["60.00 V"]
"""


class Bench:
    """A case folder whose instrument is on the loopback, and a clock of its own."""

    def __init__(self, folder, instrument):
        self.folder = folder
        self.instrument = instrument
        self.seconds = 0.0
        (folder / "case.toml").write_text(CASE, encoding="utf-8")
        text = INSTRUMENTS.format(resource=instrument.resource)
        assert tomllib.loads(text)
        (folder / "instruments.toml").write_text(text, encoding="utf-8")
        self.case = open_case(folder, clock=self.now)

    def now(self):
        moment = dt.datetime(2026, 1, 31, 12, 0, tzinfo=dt.UTC)
        return moment + dt.timedelta(seconds=self.seconds)

    def sleep(self, seconds):
        self.seconds += seconds

    def meter(self, *, asking=True, stopwatch=None):
        """Return the meter as in a fresh kernel."""
        self.case = open_case(self.folder, clock=self.now)
        declared = self.case.instruments["bench_meter"]
        return LiveInstrument(
            self.case,
            declared,
            declared.connection,
            sleep=self.sleep,
            stopwatch=stopwatch or (lambda: self.seconds),
            asking=asking,
        )

    def answers(self, *answers, range="60"):  # noqa: A002 - the trade's word
        self.instrument.answers[VOLTS] = [f"{a}\n".encode() for a in answers]
        self.instrument.answers[RANGE] = f"{range}\n".encode()

    def asked(self):
        return self.instrument.heard.count(VOLTS)

    def rows(self, name="readings.csv"):
        if not (self.folder / name).exists():
            return []
        with open(self.folder / name, encoding="utf-8", newline="") as file:
            return list(csv.DictReader(file))

    def values(self):
        return [r["value"] for r in self.rows() if r["kind"] == "reading"]


@pytest.fixture
def bench(tmp_path):
    with Loopback({"*IDN?": IDENTITY.encode() + b",fw 1.2\n"}) as instrument:
        yield Bench(tmp_path, instrument)


def notes(shown):
    return " ".join(shown.table().notes)


# Reading ------------------------------------------------------------------------


def test_a_reading_is_recorded_as_if_it_had_been_typed(bench, tmp_path_factory):
    bench.answers("+1.20998734E+01")
    bench.meter().read("V_idle", function="DC V", at="socket")
    (live,) = bench.rows()
    other = tmp_path_factory.mktemp("typed")
    for name in ("case.toml", "instruments.toml"):
        (other / name).write_bytes((bench.folder / name).read_bytes())
    open_case(other, clock=bench.now).record(
        "V_idle",
        "12.10 V",
        using="bench_meter",
        function="DC V",
        range="60 V",
        at="socket",
    )
    assert (other / "readings.csv").read_bytes() == (
        bench.folder / "readings.csv"
    ).read_bytes()
    assert (live["value"], live["range"], live["at"]) == ("12.10", "60 V", "socket")


def test_what_was_said_is_kept_word_for_word(bench):
    bench.answers("+1.20998734E+01", range="+6.0E+01")
    bench.meter().read("V_idle", function="DC V")
    (said,) = bench.rows("live.csv")
    assert (said["row"], said["measurand"]) == ("r-0001", "V_idle")
    assert said["identity"] == IDENTITY + ",fw 1.2"
    assert (said["query"], said["answer"]) == (VOLTS, "+1.20998734E+01")
    assert (said["range_query"], said["range_answer"]) == (RANGE, "+6.0E+01")
    assert said["time"] == "2026-01-31T12:00:00Z"


def test_the_range_is_the_one_the_instrument_is_on(bench):
    bench.answers("0.31249", range="60")
    bench.meter().read("V_low", function="DC V")
    assert bench.values() == ["0.31"]
    assert bench.rows()[0]["range"] == "60 V"


def test_without_a_range_query_the_smallest_range_that_holds_it_is_taken(bench):
    bench.instrument.answers["MEAS:RES?"] = b"1.2344E+07\n"
    bench.meter().read("R_film", function="Ω")
    (row,) = bench.rows()
    assert (row["value"], row["unit"], row["range"]) == ("1.234E+7", "ohm", "")
    assert bench.case.budget("R_film").value == pytest.approx(12.34e6)


def test_an_over_range_is_recorded_as_one_and_enters_no_mean(bench):
    bench.answers("9.90000000E+37")
    shown = bench.meter().read("V_high", function="DC V")
    assert bench.values() == ["OL"]
    assert not bench.case["V_high"].is_measured
    assert "OL" in str(shown.table())


@pytest.mark.parametrize(
    ("answer", "scale", "said"),
    [
        ("9.91E37", "60", "Look at its display"),
        ("volt", "60", "not one number"),
        ("12.1 A", "60", "the function measures V"),
        ("12.1", "10", "declares 600 mV, 6 V, 60 V"),
        ("12.1", "6", "above the named range"),
        ("612.1", "60", "above the named range"),
    ],
)
def test_what_is_no_reading_of_the_function_is_not_recorded(bench, answer, scale, said):
    bench.answers(answer, range=scale)
    with pytest.raises((ConnectionFailedError, InputError), match=said):
        bench.meter().read("V", function="DC V")
    assert bench.rows() == bench.rows("live.csv") == []


def test_silence_records_nothing(bench):
    with pytest.raises(ConnectionFailedError, match="did not answer"):
        bench.meter().read("V", function="DC V")
    assert bench.rows() == []


def test_another_instrument_than_the_declared_is_not_read(bench):
    bench.instrument.answers["*IDN?"] = b"INVENTED INSTRUMENTS,BM-2,0001\n"
    bench.answers("12.1")
    with pytest.raises(ConnectionFailedError, match="Nothing was read"):
        bench.meter().read("V", function="DC V")
    assert (bench.rows(), bench.asked()) == ([], 0)


def test_only_what_was_declared_is_sent(bench):
    bench.answers("12.1")
    bench.meter().read("V", function="DC V")
    assert bench.instrument.heard == ["*IDN?", VOLTS, RANGE]


def test_a_name_that_cannot_be_recorded_is_refused_before_asking(bench):
    with pytest.raises(InputError, match="cannot be used in a formula"):
        bench.meter().read("V idle", function="DC V")
    assert bench.instrument.heard == []


# Running again ------------------------------------------------------------------


def test_a_cell_run_again_asks_nothing_and_says_so(bench):
    bench.answers("12.10", "12.34")
    assert bench.meter().read("V", function="DC V", at="plug").asked
    before = (bench.folder / "readings.csv").read_bytes()
    again = bench.meter().read("V", function="DC V", at="plug")
    assert not again.asked
    assert again.rows == ("r-0001",)
    assert "was not asked again" in notes(again)
    assert (bench.folder / "readings.csv").read_bytes() == before
    assert bench.asked() == 1


def test_a_cell_runs_again_without_the_instrument(bench):
    bench.answers("12.10", "12.11")
    bench.meter().series("V", count=2, function="DC V")
    path = bench.folder / "instruments.toml"
    nobody = path.read_text("utf-8").replace(
        bench.instrument.resource, "TCPIP::127.0.0.1::1::SOCKET"
    )
    path.write_text(nobody, encoding="utf-8")
    shown = bench.meter().series("V", count=2, function="DC V")
    assert shown.rows == ("r-0001", "r-0002")


def test_a_rerun_shows_what_was_not_read_as_missing(bench, monkeypatch):
    monkeypatch.setenv(RERUN, "1")
    meter = bench.case.live("bench_meter")
    shown = meter.read("V", function="DC V")
    assert ("Value", "(not measured yet)") in shown.table().rows
    assert "this is a re-run" in notes(shown)
    assert not meter.download("CH1", "rail").is_there
    assert bench.instrument.heard == []


def test_a_run_from_the_command_line_asks_nothing(bench):
    cells = [
        "from benchproof import open_case",
        "case = open_case()",
        'meter = case.live("bench_meter")',
        'meter.read("V", function="DC V")',
        'meter.download("CH1", "rail")',
    ]
    notebook = nbformat.v4.new_notebook(
        cells=[
            nbformat.v4.new_code_cell(cell, id=f"c{n}") for n, cell in enumerate(cells)
        ]
    )
    nbformat.write(notebook, bench.folder / "investigation.ipynb")
    run_case(bench.folder)
    ran = nbformat.read(bench.folder / "investigation.ipynb", as_version=4)
    said = "".join(o.data["text/plain"] for c in ran.cells for o in c.outputs)
    assert "has recorded nothing yet" in said
    assert "not downloaded yet" in said
    assert bench.instrument.heard == bench.rows() == []


def test_a_cell_of_an_earlier_round_does_not_measure_in_the_new_one(bench):
    bench.answers("12.10", "11.20")
    bench.meter().read("V", function="DC V")
    bench.case.new_round(because="objection: another supply")
    first = bench.meter().read("V", function="DC V")
    assert (first.asked, first.rows) == (False, ("r-0001",))
    assert "say in_round=2" in notes(first)
    second = bench.meter().read("V", function="DC V", in_round=2)
    assert second.asked
    assert bench.values() == ["12.10", "11.20"]
    # From the top once more: both cells find their own.
    assert bench.meter().read("V", function="DC V").rows == ("r-0001",)
    assert bench.meter().read("V", function="DC V", in_round=2).rows == second.rows
    assert bench.asked() == 2


def test_the_same_value_measured_again_in_a_new_round_is_recorded(bench):
    bench.answers("12.10", "12.10")
    bench.meter().read("V", function="DC V")
    bench.case.new_round(because="objection: another supply")
    bench.meter().read("V", function="DC V", in_round=2)
    assert [r["round"] for r in bench.rows() if r["kind"] == "reading"] == ["1", "2"]


@pytest.mark.parametrize("number", [2, 7])
def test_a_round_that_was_not_opened_is_refused_before_asking(bench, number):
    with pytest.raises(RecordingRefusedError, match=r"case\.new_round"):
        bench.meter().read("V", function="DC V", in_round=number)
    assert bench.instrument.heard == []


def test_a_correction_takes_another_reading_once(bench):
    bench.answers("12.10", "12.34", "13.00")
    bench.meter().read("V", function="DC V")
    for _ in range(2):
        bench.meter().read("V", function="DC V", because="probe had slipped")
    assert bench.values() == ["12.10", "12.34"]
    assert bench.case.budget("V").value == pytest.approx(12.34)
    assert bench.meter().read("V", function="DC V").rows == ("r-0001",)


def test_a_correction_of_nothing_is_refused_before_asking(bench):
    with pytest.raises(RecordingRefusedError, match="there are none yet"):
        bench.meter().read("V", function="DC V", because="probe had slipped")
    assert bench.instrument.heard == []


def test_a_correction_that_reads_the_same_says_that_there_is_none(bench):
    bench.answers("12.10", "12.10")
    bench.meter().read("V", function="DC V")
    with pytest.raises(RecordingRefusedError, match="leave because= out"):
        bench.meter().read("V", function="DC V", because="probe had slipped")
    assert bench.values() == ["12.10"]


@pytest.mark.parametrize(
    "typed", [{"using": "by_eye"}, {"using": "bench_meter", "at": "plug"}]
)
def test_readings_taken_otherwise_are_in_the_way_before_asking(bench, typed):
    bench.case.record("V", "12.10 V", **typed)
    with pytest.raises(RecordingRefusedError, match="Nothing was asked"):
        bench.meter().read("V", function="DC V")
    assert bench.instrument.heard == []


# Series -------------------------------------------------------------------------


def test_a_series_is_timed_from_start_to_start(bench):
    bench.answers(*["12.10", "12.11", "12.09", "12.10"])
    shown = bench.meter().series("V", count=4, every="500 ms", function="DC V")
    assert bench.values() == ["12.10", "12.11", "12.09", "12.10"]
    assert [r["after_s"] for r in bench.rows("live.csv")] == [
        "0.000", "0.500", "1.000", "1.500"
    ]  # fmt: skip
    assert len({r["entry"] for r in bench.rows()}) == 1
    assert bench.case.state().measured["V"].repeats.count == 4
    assert bench.instrument.opened == 1
    assert "slower" not in notes(shown)


def test_a_series_that_cannot_keep_time_says_so(bench):
    bench.answers("12.10", "12.11", "12.09")

    def stopwatch():
        bench.seconds += 0.2
        return bench.seconds

    shown = bench.meter(stopwatch=stopwatch).series(
        "V", count=3, every="100 ms", function="DC V"
    )
    assert "slower than every 0.1 s" in notes(shown)


def test_an_interrupted_series_keeps_what_was_read(bench):
    bench.answers("12.10", "12.11")
    bench.instrument.answers[VOLTS].append(HANG_UP)
    with pytest.raises(ConnectionFailedError, match="2 of 5 readings of V are recor"):
        bench.meter().series("V", count=5, function="DC V")
    assert bench.values() == ["12.10", "12.11"]
    shown = bench.meter().series("V", count=5, function="DC V")
    assert "2 readings recorded, 5 asked for" in notes(shown)
    assert not shown.asked


def test_an_interrupted_series_can_be_resumed_once(bench):
    bench.answers("12.10", "", "12.12", "12.13")
    with pytest.raises(ConnectionFailedError, match="empty answer"):
        bench.meter().series("V", count=3, function="DC V")
    for _ in range(2):
        bench.meter().series("V", count=3, function="DC V", resume=True)
    assert bench.values() == ["12.10", "12.12", "12.13"]
    assert len({r["entry"] for r in bench.rows()}) == 1


def test_a_series_of_a_round_that_is_over_is_not_resumed(bench):
    bench.answers("12.10", "")
    with pytest.raises(ConnectionFailedError):
        bench.meter().series("V", count=3, function="DC V")
    bench.case.new_round(because="another supply")
    with pytest.raises(RecordingRefusedError, match="go to round 2 now"):
        bench.meter().series("V", count=3, function="DC V", resume=True)


def test_a_correction_by_a_series_supersedes_as_a_whole(bench):
    bench.answers("11.00", "12.10", "12.11", "12.12")
    bench.meter().read("V", function="DC V")
    bench.meter().series("V", count=3, function="DC V", because="probe had slipped")
    assert bench.case.state().measured["V"].repeats.count == 3
    assert bench.case.budget("V").value == pytest.approx(12.11)


def test_equal_readings_in_a_series_are_all_recorded(bench):
    bench.answers(*["12.10"] * 5)
    bench.meter().series("V", count=5, function="DC V")
    assert bench.values() == ["12.10"] * 5


def test_a_range_that_changes_within_a_series_stops_it(bench):
    bench.answers("5.999", "6.01")
    bench.instrument.answers[RANGE] = [b"6\n", b"60\n"]
    with pytest.raises(ConnectionFailedError, match="range changed from 6 V to 60 V"):
        bench.meter().series("V", count=2, function="DC V")
    assert bench.values() == ["5.999"]


@pytest.mark.parametrize(("count", "every"), [(0, "1 s"), (-1, "1 s"), (2, "1 V")])
def test_a_series_needs_a_number_and_a_duration(bench, count, every):
    with pytest.raises(InputError):
        bench.meter().series("V", count=count, every=every, function="DC V")
    assert bench.instrument.heard == []


# Captures -----------------------------------------------------------------------


def test_a_capture_is_saved_with_how_it_was_taken(bench):
    content = b"\n\x00\xff" * 100
    bench.instrument.answers |= {CURVE: block(content) + b"\n", "HOR:SCA?": b"1E-3\n"}
    saved = bench.meter().download("CH1", "rail-at-start")
    assert saved.path.read_bytes() == content
    beside = json.loads((bench.folder / "captures" / "rail-at-start.json").read_text())
    assert beside["settings"] == {"HOR:SCA?": "1E-3"}
    assert (beside["channel"], beside["query"]) == ("CH1", CURVE)
    assert beside["identity"].startswith(IDENTITY)
    assert beside["sha256"] == saved.sha256
    assert ("SHA-256", saved.sha256) in saved.table().rows


def test_a_command_before_the_question_is_cautioned_about(bench):
    bench.instrument.answers |= {CURVE: block(b"x"), "HOR:SCA?": b"1E-3\n"}
    assert "DATA:SOUR {channel}" in notes(bench.meter())
    assert "caution" in notes(bench.meter().download("CH1", "rail"))


def test_a_capture_is_downloaded_once(bench):
    bench.instrument.answers |= {CURVE: block(b"first"), "HOR:SCA?": b"1E-3\n"}
    first = bench.meter().download("CH1", "rail")
    bench.instrument.answers[CURVE] = block(b"second")
    again = bench.meter().download("CH1", "rail")
    assert again.sha256 == first.sha256
    assert "not asked again" in notes(again)
    assert bench.instrument.heard.count(CURVE) == 1


def test_a_capture_of_another_channel_needs_another_name(bench):
    bench.instrument.answers |= {CURVE: block(b"first"), "HOR:SCA?": b"1E-3\n"}
    bench.meter().download("CH1", "rail")
    with pytest.raises(InputError, match=r"is of bench_meter, channel CH1"):
        bench.meter().download("CH2", "rail")


@pytest.mark.parametrize(
    "answer",
    [(b"#15he", HANG_UP), (b"#15he",), (block(b"hello", stated=3),), (b"1\n",)],
)
def test_a_capture_that_is_not_whole_is_not_kept(bench, answer):
    bench.instrument.answers |= {CURVE: answer, "HOR:SCA?": b"1E-3\n"}
    with pytest.raises(ConnectionFailedError, match="bench_meter"):
        bench.meter().download("CH1", "rail")
    assert not (bench.folder / "captures").exists()


def test_a_capture_that_was_changed_is_noticed_on_running_again(bench):
    bench.instrument.answers |= {CURVE: block(b"first"), "HOR:SCA?": b"1E-3\n"}
    bench.meter().download("CH1", "rail").path.write_bytes(b"First")
    with pytest.raises(FileError, match="was changed"):
        bench.meter().download("CH1", "rail")


# The case -----------------------------------------------------------------------


def test_a_case_hands_out_its_declared_instruments(bench):
    bench.answers("12.10")
    shown = bench.case.live("bench_meter").read("V", function="DC V")
    assert shown.asked
    assert VOLTS in str(bench.case.live("bench_meter").table())


@pytest.mark.parametrize(
    ("name", "said"),
    [("clamp", "is not in instruments.toml"), ("by_eye", "gives no resource")],
)
def test_an_instrument_that_cannot_be_asked_is_refused_by_name(bench, name, said):
    with pytest.raises(InputError, match=said):
        bench.case.live(name)


def test_the_case_as_it_was_asks_nothing(bench):
    with pytest.raises(RecordingRefusedError, match="record in the case itself"):
        bench.case.at_round(1).live("bench_meter")


def test_the_address_is_in_no_table_of_the_case(bench):
    address = bench.instrument.resource
    assert address not in str(bench.case.report("instruments"))
    assert address not in str(bench.case.live("bench_meter").table())
