"""Known designs hold every pair of levels."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchproof.reasoning.plans import covering_rows, fewest_rows, uniform_design


def holds_every_pair(rows, levels):
    columns = [*zip(*rows, strict=True)]
    return all(
        len({*zip(a, b, strict=True)}) == levels**2
        for a, b in itertools.combinations(columns, 2)
    )


@pytest.mark.parametrize("factors", [2, 3, 4, 5, 10, 11, 15, 16, 35, 80])
def test_two_levels_need_few_rows(factors):
    rows = uniform_design(2, factors)
    assert holds_every_pair(rows, 2)
    assert {len(row) for row in rows} == {factors}


def test_the_sizes_for_two_levels_are_those_of_the_theorem():
    # Kleitman and Spencer: n rows hold C(n - 1, ceil(n/2)) factors; from memory.
    sizes = [len(uniform_design(2, k)) for k in (3, 4, 5, 10, 11, 15, 16, 35, 36)]
    assert sizes == [4, 5, 6, 6, 7, 7, 8, 8, 9]


def test_four_rows_are_too_few_for_four_factors_of_two_levels():
    # A column of four rows must be half 0 and half 1, or it lacks a pair.
    halves = [*itertools.combinations(range(4), 2)]
    columns = [tuple(int(row in half) for row in range(4)) for half in halves]
    for four in itertools.combinations_with_replacement(columns, 4):
        assert not holds_every_pair([*zip(*four, strict=True)], 2)


@pytest.mark.parametrize("levels", [3, 5, 7, 11])
def test_a_prime_number_of_levels_has_every_pair_exactly_once(levels):
    rows = uniform_design(levels, levels + 1)
    assert len(rows) == levels**2
    assert holds_every_pair(rows, levels)


@pytest.mark.parametrize("factors", range(5, 21))
def test_twenty_factors_of_three_levels_fit_in_fifteen_rows(factors):
    rows = uniform_design(3, factors)
    assert len(rows) == 15
    assert holds_every_pair(rows, 3)


@pytest.mark.parametrize(("levels", "factors"), [(3, 21), (4, 5), (5, 7), (1, 3)])
def test_where_no_design_is_known_none_is_given(levels, factors):
    assert uniform_design(levels, factors) == []


@pytest.mark.parametrize(("factors", "levels"), [(3, 2), (4, 2), (5, 3)])
def test_no_plan_is_shorter_than_the_fewest_rows(factors, levels):
    # All plans of one row less, row by row without order: none holds every pair.
    every = list(itertools.product(range(levels), repeat=factors))
    pairs = list(itertools.combinations(range(factors), 2))
    held = [{(i, j, row[i], row[j]) for i, j in pairs} for row in every]
    wanted = len(pairs) * levels**2

    def reaches(found, first, rows):
        if not rows or len(found) + rows * len(pairs) < wanted:
            return len(found) == wanted
        return any(
            reaches(found | held[i], i + 1, rows - 1) for i in range(first, len(every))
        )

    # Levels may be renamed so that the first row is all 0.
    assert not reaches(held[0], 1, fewest_rows([levels] * factors) - 2)


@pytest.mark.parametrize(
    ("counts", "rows"),
    [([3] * 20, 12), ([3] * 5, 10), ([2] * 4, 5), ([2] * 3, 4), ([5, 4, 3], 20),
     ([1, 1], 1), ([4, 3, 3, 3, 3, 3, 3, 3, 3], 12), ([3] * 8, 11)],
)  # fmt: skip
def test_the_fewest_rows_grow_with_the_number_of_factors(counts, rows):
    assert fewest_rows(counts) == rows


@given(st.lists(st.integers(1, 4), min_size=2, max_size=9))
def test_the_fewest_rows_do_not_exceed_a_plan_that_was_found(counts):
    assert fewest_rows(counts) <= len(covering_rows(counts)[0])
