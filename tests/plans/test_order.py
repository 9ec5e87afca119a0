"""Orders: complete, fair, and the same everywhere for one seed."""

import math
import random
from collections import Counter

from hypothesis import given
from hypothesis import strategies as st

from benchproof.reasoning.plans import shuffled, shuffled_in_blocks, shuffled_places


@given(st.lists(st.integers()), st.integers(0, 2**32))
def test_a_shuffled_order_has_the_same_items(items, seed):
    assert sorted(shuffled(items, seed)) == sorted(items)


def test_a_seed_gives_the_order_written_down_here():
    # Replicators must get it too, whatever their version of Python.
    assert shuffled(range(10), 2026) == (5, 3, 7, 2, 9, 0, 6, 8, 4, 1)


def test_another_seed_gives_another_order():
    assert len({shuffled(range(20), seed) for seed in range(50)}) == 50


def test_all_orders_are_equally_likely():
    source = random.Random(8)
    seen = Counter(tuple(shuffled_places(4, source)) for _ in range(24_000))
    chi_square = sum((n - 1000) ** 2 / 1000 for n in seen.values())
    assert len(seen) == math.factorial(4)
    assert chi_square < 49.7  # 0.1 % point of 23 degrees of freedom


def test_each_block_holds_every_item_once():
    ordered = shuffled_in_blocks("abcde", 4, 3)
    blocks = [
        [item for number, item in ordered if number == block] for block in (1, 2, 3, 4)
    ]
    assert all(sorted(block) == [*"abcde"] for block in blocks)
    assert len({tuple(block) for block in blocks}) > 1
    assert [number for number, _ in ordered] == sorted(number for number, _ in ordered)
