import csv
from pathlib import Path

import numpy as np
import pytest
from scripts import loaded

from benchproof import captures
from benchproof.keeping.captures.library import Library, declared_captures
from benchproof.keeping.casefile import read_toml
from benchproof.measuring.circuits import infrared_temperature
from benchproof.values.sources import Estimate

SCRIPT = Path(__file__).parents[1] / "notebooks" / "cooked-strip" / "simulate.py"


@pytest.fixture(scope="module")
def sim():
    with loaded(SCRIPT, "simulate_cooked_strip") as module:
        yield module


@pytest.fixture(scope="module")
def solved(sim):
    return sim.adapters()


@pytest.fixture(scope="module")
def scope(sim):
    """The script of the captures, which imports its neighbour by name."""
    path = SCRIPT.with_name("simulate_captures.py")
    with loaded(path, "captures_of_cooked_strip", simulate=sim) as module:
        yield module


@pytest.fixture(scope="module")
def written(scope, tmp_path_factory):
    """A folder of a case whose captures were just written."""
    case = tmp_path_factory.mktemp("cooked-strip")
    kept, scope.FOLDER = scope.FOLDER, case / "captures"
    scope.main()
    scope.FOLDER = kept
    return case


@pytest.fixture(scope="module")
def library(written):
    declared = read_toml(SCRIPT.with_name("case.toml"))["capture"]
    return Library(written, declared_captures(declared))


COARSE = {
    "instrument": "scope",
    "full_screen": "40 V",
    "rails": ["-20 V", "19.84375 V"],
    "accuracy": "3 % of full screen",
}
FINE = {**COARSE, "full_screen": "16 V", "rails": ["-2 V", "13.9375 V"]}
BENCH = Estimate(12.0)  # a meter without any error leaves the scope's own


def output_of(sim, capacitance_f, constant_a=0.0, *, strip=False, step_s=5e-6):
    """Output voltage of one adapter over a settled period, in V."""
    farads, amps = np.array([capacitance_f]), np.array([constant_a])
    return sim.solve(farads, amps, np.array([strip]), step_s)[:, 0]


def test_without_load_the_capacitor_stays_at_the_peak_less_the_diodes(sim):
    output_v = output_of(sim, 1000e-6)
    assert output_v == pytest.approx(np.full_like(output_v, 20.3 - 1.2), abs=1e-9)


def test_a_constant_load_discharges_the_capacitor_at_current_over_capacitance(sim):
    output_v = output_of(sim, 1000e-6, 0.4)
    steepest = np.diff(output_v).min() / sim.STEP_S
    assert steepest == pytest.approx(-0.4 / 1000e-6, rel=1e-6)


def test_hardly_any_capacitor_leaves_the_divider_of_source_and_strip(sim):
    # 2.5 ohm against twelve segments of 180 ohm behind 8.4 V.
    output_v = output_of(sim, 1e-6, strip=True, step_s=1e-6)
    top_v = ((20.3 - 1.2) / 2.5 + 8.4 / 15) / (1 / 2.5 + 1 / 15)
    assert output_v.max() == pytest.approx(top_v, abs=0.01)
    assert output_v.min() == pytest.approx(8.4, abs=0.01)


def test_a_sound_adapter_puts_too_much_on_the_strip_and_hardly_ripples(sim, solved):
    _, sound, _, _ = solved
    assert sound.output_v.mean() == pytest.approx(14.855, abs=0.005)
    assert sound.output_v.min() > 13.5
    assert sound.alternating_v / sound.output_v.mean() < 0.06


def test_the_failed_adapter_pulsates_and_does_not_reverse(sim, solved):
    _, _, failed, _ = solved
    assert failed.output_v.min() == pytest.approx(8.4, abs=0.001)
    assert failed.half_wave_v(-1) == 0.0
    assert failed.half_wave_v() == pytest.approx(
        np.pi / np.sqrt(2) * failed.output_v.mean()
    )


def test_a_capacitor_added_outside_makes_a_sound_adapter_of_the_failed_one(solved):
    _, sound, _, helped = solved
    assert helped.output_v.mean() == pytest.approx(sound.output_v.mean(), abs=0.01)
    assert helped.alternating_v < 1.01 * sound.alternating_v


def test_the_failed_adapter_heats_a_resistor_less_and_more_than_its_mean_says(solved):
    _, sound, failed, _ = solved
    from_mean_w = 150.0 * failed.segment_a.mean() ** 2
    assert from_mean_w < failed.resistor_w < sound.resistor_w
    assert failed.resistor_w / from_mean_w == pytest.approx(1.76, abs=0.01)


def test_heat_is_the_mean_of_the_current_squared(solved):
    for adapter in solved[1:]:
        current_a = adapter.segment_a
        expected_w = 150.0 * (current_a.mean() ** 2 + current_a.std() ** 2)
        assert adapter.resistor_w == pytest.approx(expected_w)


def test_the_load_line_falls_all_the_way_and_bends_upwards_at_no_load(sim, solved):
    line_v = solved[0]
    assert (np.diff(line_v) < 0).all()
    slope, start_v = np.polyfit(sim.LOADS_A, line_v, 1)
    assert slope < 0
    assert line_v[0] - start_v == pytest.approx(0.84, abs=0.02)


def test_an_average_responding_meter_is_right_for_a_sine_alone(sim):
    turn = np.linspace(0, 2 * np.pi, 1000, endpoint=False)
    sine = sim.Adapter(12 + 3 * np.sin(turn))
    assert sine.average_responding_v == pytest.approx(3 / np.sqrt(2), rel=1e-5)
    square = sim.Adapter(12 + 3 * np.sign(np.sin(turn + 1e-3)))
    assert square.average_responding_v == pytest.approx(1.1107 * 3, rel=1e-3)


def test_a_warming_starts_at_ambient_and_has_one_time_constant(sim):
    degrees = sim.warming(0.2)
    assert degrees[0] == sim.AMBIENT_C
    early, late = degrees[4] - degrees[3], degrees[5] - degrees[4]  # 10, 15, 20 min
    assert early / late == pytest.approx(np.exp(5 / 7.5))
    assert degrees[5] + late**2 / (early - late) == pytest.approx(24.3 + 46.0)


def test_segments_dim_about_half_the_time_at_15_v_and_hardly_at_12_v(sim):
    rng = np.random.default_rng(3)
    many = 4000
    # Lognormal about a median of 10 %: half lie above it. u of the rate is 0.008.
    assert sim.dimmed(rng, 36e-3, many).mean() == pytest.approx(0.5, abs=0.03)
    assert sim.dimmed(rng, 20e-3, many).mean() < 0.02


def test_an_instrument_shows_a_value_inside_its_accuracy_line(sim):
    rng = np.random.default_rng(7)
    for _ in range(50):
        meter = sim.draw_instrument(rng, "V", 0.01, 0.0, 0.005, 3)
        shown_v = float(meter.show(rng, 14.855).removesuffix(" V"))
        # Half a digit more for the rounding of the display itself.
        assert abs(shown_v - 14.855) <= 0.005 * 14.855 + 0.03 + 0.005 + 1e-9


def test_halving_the_step_prints_the_same_text(sim, capsys):
    sim.main()
    whole = capsys.readouterr().out
    sim.main(sim.STEP_S / 2)
    assert capsys.readouterr().out == whole


def test_a_bare_cap_shows_the_room_where_tape_would_show_the_cap(sim):
    rng = np.random.default_rng(3)
    shown_c = float(sim.infrared(rng, 69.0).split()[0])
    # Stefan-Boltzmann, grey: what is seen is 0.3/0.95 cap and the rest room.
    meant_k = infrared_temperature(shown_c + 273.15, 0.95, 0.30, 24.3 + 273.15)
    assert shown_c < 45
    assert meant_k - 273.15 == pytest.approx(69.0, abs=2.0)


def test_main_prints_the_same_twice_and_each_block_says_it_is_invented(sim, capsys):
    sim.main()
    first = capsys.readouterr().out
    sim.main()
    assert capsys.readouterr().out == first
    blocks = first.strip().split("\n\n")
    assert len(blocks) == 2
    assert all(block.startswith("# Invented data") for block in blocks)


def test_every_reading_of_the_case_is_one_the_simulation_printed(sim, capsys):
    sim.main()
    printed = set(capsys.readouterr().out.replace(";", " ").split())
    with (SCRIPT.parent / "readings.csv").open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["kind"] == "reading"]
    missing = [row["value"] for row in rows if row["value"] not in printed]
    assert len(rows) > 90
    assert missing == []


def test_the_captures_of_the_case_are_those_the_script_writes(written):
    kept = SCRIPT.parent / "captures"
    names = sorted(path.name for path in kept.glob("*.csv"))
    assert names == sorted(path.name for path in (written / "captures").iterdir())
    for name in names:
        record = (kept / name).read_bytes()
        assert record == (written / "captures" / name).read_bytes()
        assert record.startswith(b"# Invented data")
        assert len(record) < 60_000


def test_an_ac_coupled_input_takes_the_mean_away_and_little_of_a_ripple(scope, sim):
    turn = 2 * np.pi * 100 * sim.STEP_S * np.arange(round(sim.PERIOD_S / sim.STEP_S))
    passed_v = scope.high_passed(15.0 + np.sin(turn))
    # First order: 1 / sqrt(1 + (8/100)^2), and no mean.
    assert passed_v.mean() == pytest.approx(0.0, abs=1e-3)
    assert np.ptp(passed_v) / 2 == pytest.approx(0.9968, abs=1e-3)


def test_no_record_of_a_full_screen_is_clipped(library):
    for name in ("r1-output", "r1-output-ac", "r2-output", "r2-output-ac"):
        assert library.open(name, **COARSE).clipped() == (0, 0)
    for name in ("r1-resistor", "r2-resistor"):
        assert library.open(name, **FINE).clipped() == (0, 0)


def test_the_menu_at_1x_is_flagged_against_the_meter_as_a_factor_of_ten(library):
    first_try = captures.amplitudes_of(library.open("r1-output-1x", instrument="scope"))
    again = captures.amplitudes_of(library.open("r1-output", **COARSE))
    meter = Estimate(14.89)
    assert captures.ratio_slip(first_try["mean"], meter).factor == 10
    assert captures.ratio_slip(again["mean"], meter).factor == 1


@pytest.mark.parametrize("number", ["r1", "r2"])
def test_an_output_does_not_reverse_and_its_ac_coupled_record_cannot_tell(
    library, number
):
    coupled = library.open(f"{number}-output-ac", **COARSE)
    assert coupled.moments().least < 0  # it does go below zero
    assert captures.polarity_of(coupled).reverses is None
    output = library.open(f"{number}-output", **COARSE)
    assert captures.polarity_of(output).reverses is False


@pytest.mark.parametrize(("number", "place"), [("r1", 1), ("r2", 2)])
def test_levels_and_ripple_of_an_output_are_those_of_the_circuit(
    library, solved, number, place
):
    output_v = solved[place].output_v
    gain = captures.levels_of(library.open("r1-gain", **COARSE))
    trace = library.open(f"{number}-output", **COARSE)
    seen = captures.amplitudes_of(trace)
    levels = {"minimum": output_v.min(), "maximum": output_v.max()}
    levels["mean"] = output_v.mean()
    for name, true_v in levels.items():
        found = captures.transferred(trace, seen[name], gain.high, BENCH, gain.low)
        assert found.standard_uncertainty < 0.15
        assert abs(found.value - true_v) < 3 * found.standard_uncertainty
    scale = 12.0 / gain.amplitude.value
    assert scale * seen["ac rms"].value == pytest.approx(output_v.std(), rel=0.01)
    average_v = scale * seen["average-responding meter"].value
    assert average_v == pytest.approx(solved[place].average_responding_v, rel=0.01)
    # A bridge passes both half waves of 50 Hz.
    pace = seen["ripple frequency"]
    assert abs(pace.value - 100.0) < 3 * pace.standard_uncertainty


@pytest.mark.parametrize(("number", "place"), [("r1", 1), ("r2", 2)])
def test_the_mean_square_across_a_resistor_is_the_heat_of_the_circuit(
    library, solved, number, place
):
    gain = captures.levels_of(library.open("r1-gain-fine", **FINE))
    trace = library.open(f"{number}-resistor", **FINE)
    seen = captures.amplitudes_of(trace)
    mean = captures.transferred(trace, seen["mean"], gain.high, BENCH, gain.low)
    ripple_v = 12.0 / gain.amplitude.value * seen["ac rms"].value
    heat_w = (mean.value**2 + ripple_v**2) / 150.0
    assert heat_w == pytest.approx(solved[place].resistor_w, rel=0.015)
