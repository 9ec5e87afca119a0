"""What formulas demand of their arguments."""

import numpy as np
import pytest

from benchproof.measuring.circuits.limits import (
    demand,
    demand_nonzero,
    demand_not_negative,
    demand_positive,
)
from benchproof.values.errors import InputError


@pytest.mark.parametrize("value", [0.0, -1.0, float("nan"), 0, np.array([1.0, 0.0])])
def test_what_is_not_above_zero_is_refused(value):
    with pytest.raises(InputError, match="hold_up: current is .*; give a value > 0"):
        demand_positive("hold_up: current", value)


@pytest.mark.parametrize("value", [1e-300, 5, float("inf"), 1 + 1e-30j, np.ones(3)])
def test_what_is_above_zero_passes_as_float_step_or_array(value):
    demand_positive("hold_up: current", value)
    demand_not_negative("hold_up: current", value)
    demand_nonzero("hold_up: current", value, "let it flow")


def test_zero_passes_where_only_negatives_are_refused():
    demand_not_negative("lead", 0.0)
    with pytest.raises(InputError, match="lead is -0.2; give a value >= 0"):
        demand_not_negative("lead", -0.2)


@pytest.mark.parametrize("value", [0.0, float("nan")])
def test_zero_and_what_is_no_number_have_no_reciprocal(value):
    with pytest.raises(InputError, match="let it flow"):
        demand_nonzero("current", value, "let it flow")


def test_a_condition_may_have_more_elements_than_the_value_it_is_about():
    with pytest.raises(InputError, match=r"level is 3 \(1 of 2, first at index 1\)"):
        demand(np.array([True, False]), "level", 3.0, "lower it")
