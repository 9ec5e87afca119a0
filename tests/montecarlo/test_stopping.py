"""When drawing stops, on blocks made for the purpose."""

from itertools import chain, count

import numpy as np
import pytest

from benchproof.reasoning.montecarlo.draws import BLOCK
from benchproof.reasoning.montecarlo.intervals import Control
from benchproof.reasoning.montecarlo.linearsum import LinearSum, Term
from benchproof.reasoning.montecarlo.stopping import (
    MOST_DRAWS,
    draw_fixed,
    draw_until_settled,
    steadied,
)

UNIT_NORMAL = Control(0.0, LinearSum((Term("normal", 1.0),)), 0.95)


def normals(seed=1):
    source = np.random.default_rng(seed)
    while True:
        yield source.standard_normal(BLOCK)


def plain(blocks):
    return ((block, None) for block in blocks)


def until(blocks, digits=2, linear=None, control=None):
    return draw_until_settled(blocks, 0.95, digits, linear, control)


def test_a_fixed_number_is_cut_out_of_whole_blocks():
    one, two = next(normals(1)), next(normals(2))
    outcome, line = draw_fixed(iter([(one, two), (two, one)]), BLOCK + 7)
    assert np.array_equal(outcome, [*one, *two[:7]])
    assert np.array_equal(line, [*two, *one[:7]])


def test_drawing_stops_at_once_where_nothing_varies():
    outcome, line, settled = until(plain(np.full(BLOCK, 3.0) for _ in count()))
    assert (outcome.size, line, settled) == (2 * BLOCK, None, True)


def test_more_digits_take_more_draws():
    sizes = [until(plain(normals()), digits)[0].size for digits in (1, 2, 3)]
    assert sizes == sorted(sizes)
    assert sizes[0] < sizes[2]


def test_a_linear_result_near_the_tolerance_takes_more_draws():
    # u is 3.5, the tolerance 0.05: at 6.86 it is clear, beside it chance decides.
    def draws_for(end, seed):
        blocks = plain(3.5 * block for block in normals(seed))
        return until(blocks, linear=(-end, end))[0].size

    clear, doubtful = (
        np.median([draws_for(end, seed) for seed in range(15)])
        for end in (6.86, 6.86 + 0.05)
    )
    assert clear < doubtful


def test_a_control_settles_digits_with_fewer_draws():
    alone = until(plain(normals()), digits=3)[0].size
    both = until(((x, x) for x in normals()), digits=3, control=UNIT_NORMAL)
    assert both[0].size < alone / 10
    assert both[1].size == both[0].size


def test_a_control_that_the_result_bends_away_from_is_kept():
    blocks = ((np.exp(x), x) for x in normals())
    outcome, line, settled = until(blocks, control=UNIT_NORMAL)
    assert settled
    assert np.array_equal(outcome, np.exp(line))


def test_a_block_without_gain_makes_all_plain():
    blocks, others = normals(1), normals(2)
    first = next(blocks)
    mixed = chain([(first, first)], zip(blocks, others, strict=False))
    outcome, line, settled = until(mixed, control=UNIT_NORMAL)
    assert line is None
    assert settled
    same = until(plain(normals(1)))[0]
    assert np.array_equal(outcome, same)


def test_drawing_gives_up_and_says_so():
    source = np.random.default_rng(3)
    outcome, _, settled = until(plain(source.standard_cauchy(BLOCK) for _ in count()))
    assert outcome.size == MOST_DRAWS
    assert not settled


@pytest.mark.parametrize("level", [0.9999, 0.99999])
def test_too_few_draws_in_the_tails_are_left_alone(level):
    x = next(normals())
    control = Control(0.0, UNIT_NORMAL.exact, level)
    assert steadied(x, x, control) is None
    assert steadied(x, x, UNIT_NORMAL) is not None
    assert steadied(x, None, UNIT_NORMAL) is None
