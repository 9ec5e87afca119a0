"""Formulas on blocks of draws: what each refusal says."""

import math

import numpy as np
import pytest

from benchproof.reasoning.budgets.formulas import formula_from
from benchproof.reasoning.budgets.graph import Graph
from benchproof.reasoning.montecarlo.draws import BLOCK
from benchproof.reasoning.montecarlo.propagation import Propagation
from benchproof.values.errors import FormulaError
from benchproof.values.sources import Estimate, Source
from benchproof.values.units import unit_of

ONE = unit_of("")


def propagation(*functions, value=1.0):
    x = Estimate(value, ((Source("x", "B", "normal", 0.1, ONE), 1.0),))
    formulas = {f.__name__: formula_from(f, ONE) for f in functions}
    units = dict.fromkeys(["x", *formulas], ONE)
    return Propagation(Graph({"x": x}, units, formulas), functions[-1].__name__, 1)


def refused(function, match):
    with pytest.raises(FormulaError, match=match):
        propagation(function).block(0)


def test_a_branch_is_refused_with_the_way_out():
    def cut(x):
        return 2 * x if x > 1 else x

    refused(cut, r"(?s)cut: .*np\.where")


def test_and_between_conditions_is_refused_with_the_way_out():
    def cut(x):
        return np.where((x > 0) and (x < 1), x, 0.0)

    refused(cut, r"(?s)cut: .*np\.where")


def test_math_functions_are_refused_with_the_way_out():
    def root(x):
        return math.sqrt(x)

    refused(root, r"(?s)root: .*np\.sqrt")


def test_the_wrong_number_of_values_is_refused():
    def pair(x):
        return np.stack([x, x])

    refused(pair, rf"pair: .*returned shape \(2, {BLOCK}\).*element by element")


def test_complex_results_are_refused():
    def wave(x):
        return np.exp(1j * x)

    refused(wave, r"wave: .*complex128.*np\.abs")


def test_text_is_refused():
    def words(x):
        return "twelve"

    refused(words, "words: .*Return real numbers")


def test_draws_outside_the_domain_are_counted():
    def half(x):
        return np.where(x > 1, x, np.nan)

    refused(half, r"half: \d+ of 20000 draws are not finite.*measure closer")


def test_changing_an_argument_in_place_is_refused_with_the_way_out():
    def shifted(x):
        x += 1
        return x

    refused(shifted, r"shifted: .*in place.*x = x \+ 1")


def test_a_formula_may_ignore_its_argument():
    def two(x):
        return 2.0

    assert propagation(two).block(0)[0].tolist() == [2.0] * BLOCK


def test_whole_numbers_and_truths_are_taken_as_numbers():
    def above(x):
        return x > 1

    draws, line = propagation(above).block(0)
    assert line is None
    assert set(draws) == {0.0, 1.0}


def test_a_formula_of_a_formula_sees_the_same_draws():
    def double(x):
        return 2 * x

    def rest(double, x):
        return double - 2 * x

    assert not propagation(double, rest).block(0)[0].any()


def test_settings_of_numpy_hold_on_other_threads():
    def root(x):
        return np.where(x > 0, np.sqrt(x), 0.0)

    run = propagation(root, value=0.3)
    with np.errstate(invalid="ignore"):
        blocks = list(run.blocks(22, threads=2))
    assert len(blocks) == 22


def test_blocks_come_in_order_on_any_number_of_threads():
    def itself(x):
        return x

    run = propagation(itself)
    one = [block for block, _ in run.blocks(23, threads=1)]
    three = [block for block, _ in run.blocks(23, threads=3)]
    assert np.array_equal(one, three)
    assert np.array_equal(one[22], run.block(22)[0])
