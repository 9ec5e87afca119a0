"""What a CSV's header says about the settings; all records are invented."""

import pytest

from benchproof import captures
from benchproof.keeping.captures.csvlayout import layout_of
from benchproof.keeping.captures.csvsettings import with_header
from benchproof.keeping.captures.library import Library
from benchproof.keeping.captures.settings import CaptureSettings
from benchproof.values.units import unit_of

ONE = "".join(f"{i / 1000:.3f},{5 + i % 3}\n" for i in range(60))
TWO = "".join(f"{i / 1000:.3f},{5 + i % 3},{i % 5}\n" for i in range(60))
ALL = {
    "coupling": "DC",
    "probe_ratio": 10.0,
    "per_division": (2.0, "V"),
    "bandwidth": 20e6,
}


def said(header, rows=ONE):
    return layout_of((header + rows).encode(), "rail.csv").said


@pytest.fixture
def opened(tmp_path):
    folder = tmp_path / "captures"
    folder.mkdir()

    def opening(header, rows=ONE, **settings):
        (folder / "rail.csv").write_text(header + rows)
        return Library(tmp_path).open("rail.csv", **settings)

    return opening


FULL = (
    "Coupling: DC\nProbe: 10x\nVertical: 2 V/div\nBandwidth limit: 20 MHz\n"
    "t (s),CH1 (V)\n"
)


@pytest.mark.parametrize(
    "header",
    [
        FULL,
        FULL.replace(": ", ","),
        FULL.replace(": ", " = "),
        "Coupling: DC, Probe: 10x, Vertical: 2 V/div, Bandwidth limit: 20 MHz\n"
        "t (s),CH1 (V)\n",
        "# CH1 Coupling: DC\n# CH1 Probe: 10:1\n# CH1: 2 V/div\n# CH1 BW limit: 20M\n"
        "t (s),CH1 (V)\n",
        "Channel: CH1\nCoupling: DC 1M\nAttenuation: 1:10\nVolts/div: 2 V\n"
        "Bandwidth: 2.0E+07\nt (s),CH1 (V)\n",
    ],
)
def test_settings_are_read_in_the_forms_that_instruments_write(header):
    assert said(header) == (ALL,)


def test_a_line_with_a_value_for_each_channel_is_shared_out():
    header = (
        "Source,CH1,CH2\nCoupling,DC,AC\nProbe,10,1\nVertical Scale,2.00E+00,5.00E-01\n"
        "Vertical Units,V,A\nBandwidth Limit,OFF,20M\nt (s),CH1,CH2\n"
    )
    layout = layout_of((header + TWO).encode(), "rail.csv")
    assert [c.unit for c in layout.channels] == ["V", "A"]
    first, second = layout.said
    assert first["coupling"] == "DC"
    assert "bandwidth" not in first
    assert second["coupling"] == "AC"
    assert (second["probe_ratio"], second["bandwidth"]) == (1.0, 20e6)
    assert second["per_division"] == (0.5, "")


def test_sections_of_a_header_speak_of_one_channel_each():
    header = "Channel: CH1\nCoupling: DC\nChannel: CH2\nCoupling: AC\nt (s),CH1,CH2\n"
    assert said(header, TWO) == ({"coupling": "DC"}, {"coupling": "AC"})


def test_settings_of_a_channel_that_is_not_in_the_file_are_not_taken():
    assert said("CH2 Coupling: AC\nt (s),CH1 (V)\n") == ({},)


def test_the_trigger_and_the_time_scale_are_no_settings_of_a_channel():
    header = "Trigger coupling: AC\nHorizontal: 2 ms/div\nTimebase: 1 s\nt (s),CH1\n"
    assert said(header) == ({},)


def test_settings_beside_the_first_numbers_are_read():
    cells = ["Coupling,AC", "Probe Atten,10", *[","] * 58]
    rows = [f"{a},{b}" for a, b in zip(cells, ONE.splitlines(), strict=True)]
    assert said("", "\n".join(rows)) == ({"coupling": "AC", "probe_ratio": 10.0},)


def test_a_file_without_headings_does_not_take_settings_for_them():
    layout = layout_of(("Coupling,DC\nProbe,10x\n" + ONE).encode(), "rail.csv")
    assert [c.name for c in layout.channels] == ["column 2"]
    assert layout.said == ({"coupling": "DC", "probe_ratio": 10.0},)


def test_a_decimal_comma_in_the_header_is_read_as_in_the_numbers():
    rows = ONE.replace(",", ";").replace(".", ",")
    header = "Vertical;0,5 V/div\nt / s;Rail / V\n"
    assert said(header, rows) == ({"per_division": (0.5, "V")},)


def test_a_header_that_contradicts_itself_is_not_taken_and_told(opened):
    trace = opened("Coupling: DC\nCoupling: AC\nt (s),CH1 (V)\n")
    assert trace.settings.coupling == ""
    assert trace.notes == ("its header says two things of coupling for CH1",)


def test_what_is_not_understood_is_kept_if_short_and_no_path(opened):
    header = (
        f"Model: invented 54\nComment: {'long ' * 20}\nFile: C:\\Users\\jo\\a.csv\n"
        "Saved: /media/jo/a.csv\nt (s),CH1 (V)\n"
    )
    assert opened(header).notes == ("its header also says: Model: invented 54",)


def test_the_header_fills_in_what_nobody_stated(opened):
    trace = opened(FULL)
    settings = trace.settings
    assert (settings.coupling, settings.bandwidth) == ("DC", 20e6)
    assert settings.probe_ratio == 10
    assert settings.full_screen is None
    assert "divisions = 8" in " ".join(trace.notes)
    taken = "from its header: coupling DC, probe 10:1, bandwidth 20 MHz"
    assert taken in trace.notes


def test_no_value_is_rescaled_by_a_probe_ratio_of_the_header(opened):
    plain, scaled = opened(FULL), opened(FULL, scale="10")
    assert plain.values(0, 3).tolist() == [5, 6, 7]
    assert any("no value was multiplied" in note for note in plain.notes)
    assert scaled.values(0, 3).tolist() == [50, 60, 70]


def test_what_the_call_says_goes_before_the_header_and_both_are_named(opened):
    trace = opened(FULL, coupling="AC", probe_ratio=1, bandwidth="100 MHz")
    assert trace.settings.coupling == "AC"
    assert trace.settings.bandwidth == 100e6
    assert "coupling AC is stated, its header says DC: AC was taken" in trace.notes
    assert "probe 1:1 is stated, its header says 10:1: 1:1 was taken" in trace.notes


def test_what_agrees_needs_no_word(opened):
    trace = opened(
        FULL, coupling="DC", probe_ratio=10, bandwidth="20 MHz", full_screen="16 V"
    )
    assert trace.notes == ()


def test_divisions_and_the_header_s_volts_per_division_make_the_full_screen(opened):
    trace = opened(FULL, divisions=8, accuracy="3 % of full screen")
    assert trace.settings.full_screen == 16
    u = captures.given_levels(trace, 5, 7)
    assert "16 V" in u.low.text


def test_a_full_screen_of_an_odd_number_of_divisions_is_told():
    stated = CaptureSettings("rail.csv", full_screen=16.0)
    filled, notes = with_header(stated, {"per_division": (0.2, "V")}, unit_of("V"))
    assert filled.full_screen == 16
    assert "80 divisions" in notes[0]


def test_an_index_keeps_what_the_header_says(opened):
    first, again = opened(FULL), opened(FULL)
    assert again.settings == first.settings
    assert again.notes == first.notes


def test_a_heading_is_not_taken_for_a_setting(opened):
    assert opened("t (s),CH1 (V)\n").notes == ()
    assert opened("Time,CH1\ns,V\n").notes == ()
    assert "DC gain" in opened("Coupling loss,DC gain (V)\n", time="Coupling loss").name


@pytest.mark.parametrize("text", ["10Y", "P2", "", "0x", "x"])
def test_a_probe_that_is_no_ratio_is_not_one(text):
    assert said(f"Probe: {text}\nt (s),CH1 (V)\n") == ({},)


def test_a_long_line_of_blanks_takes_no_time():
    assert said("a" + " " * 100_000 + "\nt (s),CH1 (V)\n") == ({},)
