"""An invented case with contacts, and plans in it."""

import pytest

from benchproof import open_case

CASE = """\
format = 1
title = "An invented mount and its strip"
invented = true
[survey]
states = ["asleep", "awake"]
unpowered = ["pack out"]
reference = "P2"
forbidden = [["P1", "P2", "shorts the pack"]]
[[contact]]
name = "P1"
[[contact]]
name = "P2"
[[contact]]
name = "P3"
"""


@pytest.fixture
def mount(case_folder):
    (case_folder / "case.toml").write_text(CASE, encoding="utf-8")
    return open_case(case_folder)


@pytest.fixture
def again(case_folder):
    """Open the same folder in what stands for another kernel."""
    return lambda: open_case(case_folder)


def power_plan(case, repetitions=20, **more):
    said = {
        "factors": {"supply": ["brick", "bench"], "axes": ["one", "both"]},
        "outcomes": ["lost", "kept"],
        "control": {"supply": "bench", "axes": "one"},
        "stop": f"{repetitions} of each, whatever happens",
        "seed": 1,
    }
    return case.trials.plan("power", repetitions=repetitions, **said | more)


@pytest.fixture
def plan():
    return power_plan


@pytest.fixture
def power(mount):
    return power_plan(mount)


BOTH = "supply=brick; axes=both"


@pytest.fixture
def lost_alignment(power):
    """17 of 20 lost with brick and both axes, none of the other 60."""
    seen, starts = [], 0
    for place in power.spec.places:
        starts += place == BOTH
        hit = place == BOTH and starts not in (4, 11, 17)
        seen.append("l" if hit else "k")
    return power.record(" ".join(seen), sitting="one afternoon")
