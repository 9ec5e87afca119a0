import csv
import shutil
import tomllib
from pathlib import Path

import numpy as np
import pytest
from scripts import loaded

CASE = Path(__file__).parents[1] / "notebooks" / "three-week-cell"


@pytest.fixture(scope="module")
def sim():
    with loaded(CASE / "simulate.py", "simulate_three_week_cell") as module:
        yield module


@pytest.fixture(scope="module")
def case_copy(tmp_path_factory):
    """Without write-up and results; running the script may touch nothing else."""
    folder = tmp_path_factory.mktemp("case") / "copy"
    skipped = shutil.ignore_patterns("write-up", "__pycache__", "results.json")
    shutil.copytree(CASE, folder, ignore=skipped)
    return folder


def printed(sim, folder, capsys, **options):
    sim.main(folder, **options)
    return capsys.readouterr().out


# By hand: 3.1 uA asleep, 112.5 uC in 10 s, and each minute 8 reports of 357.6 uC with
# 1.9 s at 11 mA; near, 13 reports in 12 minutes.
def test_the_mean_current_is_charge_over_time(sim):
    rng = np.random.default_rng(1)
    away = sim.mean_current(rng, 20_000, near=False)
    assert away == pytest.approx(410.4e-6, abs=0.5e-6)
    near = sim.mean_current(rng, 20_000, near=True)
    clean = 3.1e-6 + 11.25e-6 + 357.6e-6 / 60
    assert near - clean == pytest.approx(357.6e-6 / 60 / 12, rel=0.1)


def test_without_a_meter_the_beacon_reports_once_and_then_sleeps(sim):
    volts, amps = sim.behind_burden(0.0, 1.5)
    # 38 mA through 14 ohm into 100 uF for 4.2 ms.
    dip_v = 38e-3 * 14 * (1 - np.exp(-4.2e-3 / (14 * 100e-6)))
    assert volts.min() == pytest.approx(3.02 - dip_v, abs=0.005)
    assert amps[-1] == pytest.approx(sim.SLEEP_A, rel=1e-3)


def test_a_hundred_ohm_make_it_reset_and_start_again(sim):
    volts, _ = sim.behind_burden(100.0, 3.0)
    below = volts < sim.RESET_V
    falls = np.flatnonzero(below[1:] & ~below[:-1]) * sim.STEP_S
    assert len(falls) == 5
    # 0.58 s of starting, 3 ms of sending, 2 to 3 ms until it starts again.
    assert np.diff(falls) == pytest.approx(0.586, abs=0.003)


@pytest.mark.parametrize("burden_ohm", [0.03, 1.8, 10.0])
def test_smaller_burdens_leave_it_working(sim, burden_ohm):
    volts, _ = sim.behind_burden(burden_ohm, 0.7)
    assert volts.min() > sim.RESET_V


def test_what_the_meter_shows_is_what_a_start_and_a_report_draw(sim):
    means = sim.looked_at(np.random.default_rng(5))
    assert len(means) == 6
    # Least 0.4 mA less 4 %; most with one report, some 116 uC more, in 0.4 s.
    assert means.min() > 0.38e-3
    assert means.max() < 0.42e-3 + 130e-6 / 0.4


def test_above_full_scale_the_display_shows_over_range(sim):
    meter = sim.Range(np.random.default_rng(1), "uA", 0.1, 0.0, 0.0, 0, 600.0)
    assert meter.text(599.9, 600.2) == "599.9 OL uA"


def test_an_instrument_shows_a_value_inside_its_accuracy_line(sim):
    rng = np.random.default_rng(7)
    for _ in range(50):
        meter = sim.Range(rng, "mV", 0.1, 0.0, 0.005, 3)
        shown_mv = float(meter.text(250.0).removesuffix(" mV"))
        # Half a digit more for the rounding of the display itself.
        assert abs(shown_mv - 250.0) <= 0.005 * 250.0 + 0.3 + 0.05 + 1e-9


def test_a_finger_on_the_board_takes_1_26_ua_more_out_of_the_capacitor(
    sim, case_copy, capsys
):
    lines = printed(sim, case_copy, capsys).splitlines()
    told = dict(line.split(": ", 1) for line in lines if line.startswith("V_drop"))
    asleep = np.mean([float(mv) for mv in told["V_drop"].split()[:-1]])
    finger = float(told["V_drop, finger on the board"].removesuffix(" mV"))
    # 3.02 V through 2.4 megohm, 9 s, 1004 uF; 0.2 mV of noise in the one reading.
    assert finger - asleep == pytest.approx(3.02 / 2.4e6 * 9.0 / 1004e-9, abs=0.6)


def test_halving_the_step_moves_the_ammeter_by_less_than_half_a_microampere(
    sim, case_copy, capsys
):
    steps = (sim.STEP_S, sim.STEP_S / 2)
    texts = [printed(sim, case_copy, capsys, step_s=s).splitlines() for s in steps]
    moved = [(a, b) for a, b in zip(*texts, strict=True) if a != b]
    assert [line.split(":")[0] for line, _ in moved] == ["I_asleep_meter"]
    for whole, half in zip(*(line.split()[1:-1] for line in moved[0]), strict=True):
        if "OL" in (whole, half):
            assert whole == half
        else:
            assert abs(float(whole) - float(half)) < 0.5


def test_main_prints_the_same_twice_and_each_block_says_it_is_invented(
    sim, case_copy, capsys
):
    first = printed(sim, case_copy, capsys)
    assert printed(sim, case_copy, capsys) == first
    blocks = first.strip().split("\n\n")
    assert len(blocks) == 3
    assert all(block.startswith("# Invented data") for block in blocks)


def test_every_reading_of_the_case_is_one_the_simulation_printed(
    sim, case_copy, capsys
):
    words = set(printed(sim, case_copy, capsys).replace(";", " ").split())
    with (CASE / "readings.csv").open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["kind"] == "reading"]
    # The 10 A range shows 0.00, recorded as less than its digits can tell.
    missing = [row["value"] for row in rows if row["value"] not in words]
    assert missing == ["<0.06"]
    assert len(rows) > 80


def test_the_seal_of_the_case_is_that_of_the_helpers_key(sim, case_copy, capsys):
    seal = sim.helpers_key(sim.open_case(case_copy).trials["blind"].spec).seal()
    assert f"blind, seal: {seal}" in printed(sim, case_copy, capsys)
    assert seal in (CASE / "trials.csv").read_text(encoding="utf-8")


def test_the_replications_are_those_the_simulation_printed(sim, case_copy, capsys):
    lines = printed(sim, case_copy, capsys).splitlines()
    told = [line.split(": ")[1] for line in lines if line.startswith("firmware")]
    files = sorted((CASE / "replication").glob("*.toml"))
    results = [tomllib.loads(f.read_text("utf-8"))["result"][0] for f in files]
    assert [f"{r['value']}, U {r['U']}" for r in results] == told
