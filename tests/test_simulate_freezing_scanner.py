import shutil
from pathlib import Path

import numpy as np
import pytest
from scripts import loaded

CASE = Path(__file__).parents[1] / "notebooks" / "freezing-scanner"


@pytest.fixture(scope="module")
def sim():
    with loaded(CASE / "simulate.py", "simulate_freezing_scanner") as module:
        yield module


@pytest.fixture
def case_copy(tmp_path):
    """Without write-up and results; running the script may touch nothing else."""
    folder = tmp_path / "copy"
    skipped = shutil.ignore_patterns("write-up", "__pycache__", "results.json")
    shutil.copytree(CASE, folder, ignore=skipped)
    return folder


def test_a_divider_is_solved_as_by_hand(sim):
    volts = sim.solved([("rail", "a", 2e3), ("a", "g", 1e3)], {"rail": 3.0, "g": 0}, {})
    assert volts["a"] == pytest.approx(1.0)


def test_a_current_into_a_node_lifts_it_by_its_resistance(sim):
    volts = sim.solved([("a", "g", 10e6)], {"g": 0.0}, {"a": 2.1e-9})
    assert volts["a"] == pytest.approx(0.021)


def test_the_meter_takes_half_a_percent_of_a_pad_behind_48_kohm(sim):
    volts = sim.strip_voltages("asleep", [("P6", "P2", 10e6)])
    assert volts["P6"] == pytest.approx(3.3 * 10e6 / (10e6 + 48e3))


# By the circuit of the docstring: one current through pull-up, series and bridge.
def test_one_resistor_to_ground_is_critical_at_34_5_kohm(sim):
    critical_ohm = 47e3 * 1.42 / (3.3 - 1.42) - 1e3
    assert sim.freezes("wake in hand", [("P6", "P2", critical_ohm - 50)])
    assert not sim.freezes("wake in hand", [("P6", "P2", critical_ohm + 50)])


@pytest.mark.parametrize(
    ("thickness_m", "kappa", "input_v", "freezes"),
    [
        (50e-6, 3.8, 0.719, True),
        (15e-6, 3.8, 1.586, False),
        (50e-6, 0.05, 3.253, False),
    ],
)
def test_films_put_the_input_where_the_ladder_says(
    sim, thickness_m, kappa, input_v, freezes
):
    wet = sim.film(sim.film_ohm(thickness_m, kappa))
    assert sim.strip_voltages("wake in hand", wet)["in P6"] == pytest.approx(
        input_v, abs=1e-3
    )
    assert sim.freezes("wake in hand", wet) == freezes


def test_the_driven_output_holds_the_chain_up_once_awake(sim):
    wet = sim.film(sim.film_ohm(50e-6))
    assert sim.strip_voltages("awake in hand", wet)["in P6"] > 3.2
    assert not sim.freezes("awake in hand", wet)


def test_the_critical_film_is_looser_on_the_cradle(sim):
    assert sim.critical_ohm("wake in hand") == pytest.approx(4330, abs=5)
    assert sim.critical_ohm("wake in hand", 0.99) == pytest.approx(2470, abs=5)
    assert sim.critical_ohm("wake docked") > 1.45 * sim.critical_ohm("wake in hand")


def test_only_pads_at_ground_freeze_it_at_a_wake(sim):
    pairs = [(a, b) for i, a in enumerate(sim.PADS) for b in sim.PADS[i + 1 :]]
    froze = {
        state: [p for p in pairs if sim.freezes(state, [(*p, 1e3)])]
        for state in ("wake in hand", "wake docked", "awake in hand", "awake docked")
    }
    assert froze == {
        "wake in hand": [("P2", "P6")],
        "wake docked": [("P2", "P6"), ("P3", "P6")],
        "awake in hand": [],
        "awake docked": [],
    }


def test_grounding_det_in_hand_shows_the_dock_icon(sim):
    assert sim.outcome_of_bridge(("P2", "P3"), "wake in hand", 1e3) == "icon"
    assert sim.outcome_of_bridge(("P2", "P3"), "awake docked", 1e3) == "normal"


def test_the_way_between_two_pads_leads_through_the_rail(sim):
    assert sim.unpowered_ohm("P3", "P6") == pytest.approx(101e3 + 48e3)
    assert sim.unpowered_ohm("P6", "P2") == pytest.approx(48e3 + 47e3)
    assert np.isinf(sim.unpowered_ohm("P1", "P2"))
    assert sim.unpowered_ohm("P2", "P1") == pytest.approx(4.9e6)


def test_an_instrument_shows_a_value_inside_its_accuracy_line(sim):
    rng = np.random.default_rng(7)
    for _ in range(50):
        bench = sim.bench_of(rng)
        shown_v = float(bench.volts.text(3.284).removesuffix(" V"))
        assert abs(shown_v - 3.284) <= 0.005 * 3.284 + 0.003 + 1e-9
        shown_kohm = float(bench.ohms.text(148e3).removesuffix(" kohm"))
        assert abs(shown_kohm - 148) <= 0.008 * 148 + 0.5 + 1e-9


def test_above_the_last_range_the_display_shows_over_range(sim):
    assert sim.bench_of(np.random.default_rng(1)).ohms.text(90e6) == "OL Mohm"


def test_main_prints_the_same_twice_and_each_block_says_it_is_invented(
    sim, case_copy, capsys
):
    sim.main(case_copy)
    first = capsys.readouterr().out
    sim.main(case_copy)
    assert capsys.readouterr().out == first
    blocks = first.strip().split("\n\n")
    assert len(blocks) == 3
    assert all(block.startswith("# Invented data") for block in blocks)


def test_the_recorded_outcomes_are_those_the_script_prints(sim, case_copy, capsys):
    sim.main(case_copy)
    printed = capsys.readouterr().out.splitlines()
    trials = sim.open_case(case_copy).trials
    for name in ("bridges", "charging", "drops", "docked"):
        start = f"{name}, in the planned order: "
        row = next(line for line in printed if line.startswith(start))
        made = trials.rows(name).made(None)
        by_place = {m.place: m.outcome for m in made}
        recorded = [by_place[place][0] for place in sorted(by_place)]
        assert row.removeprefix(start) == "".join(recorded)
