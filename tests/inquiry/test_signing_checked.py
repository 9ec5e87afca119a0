"""Signed sentences, and rates in conclusions, as `check` sees them in a run case."""

import pytest
from bundling import CELLS, edit_results, make_case
from conftest import INSTRUMENTS

from benchproof import check_case
from benchproof.keeping.inquiry.signing import STALE

PLAN = """\
power = case.trials.plan(
    "power", outcomes=["lost", "kept"], factors={"supply": ["brick", "bench"]},
    control={"supply": "bench"}, stop="3 of each", repetitions=3, seed=1)
power.record("k k k k k k")
"""
SIGNED = 'case.signed("It trips now and then.", {"trips": "3 of 20"})'
RATE = 'case.conclude("""With the brick: {power: lost with supply brick}.""")'


@pytest.fixture
def ran(tmp_path):
    def run(*more):
        return make_case(tmp_path / "case", INSTRUMENTS, [*CELLS[:-1], *more])

    return run


def faults(folder):
    return [f.statement for f in check_case(folder).of("fault")]


def test_a_signed_sentence_that_stands_is_no_finding(ran):
    assert faults(ran(SIGNED)) == []


def test_a_stale_sentence_fails_the_check(ran):
    folder = ran(SIGNED)
    stale = f"{STALE}It trips now and then. (trips was 3 of 20, is 4 of 20)"
    edit_results(folder, lambda d: d.update(statements=[stale]))
    assert any("trips was 3 of 20, is 4 of 20" in said for said in faults(folder))


def test_a_rate_in_a_conclusion_is_filled_in_again_without_running(ran):
    folder = ran(PLAN, RATE)
    assert faults(folder) == []
    edit_results(folder, lambda d: d.update(statements=["With the brick: none."]))
    assert any("not what log and formulas give" in said for said in faults(folder))
