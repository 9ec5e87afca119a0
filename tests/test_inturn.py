"""Work on threads: results in their order, no more of them held than needed."""

import threading

import numpy as np
import pytest

from benchproof.values.inturn import in_turn


def test_results_come_in_the_order_of_their_items():
    slow = threading.Event()

    def work(item):
        if item == 0:
            slow.wait(5)
        if item == 1:
            slow.set()  # the second is done before the first
        return item * item

    assert list(in_turn(work, range(20))) == [n * n for n in range(20)]


def test_items_are_taken_only_a_few_ahead_of_the_results():
    taken = []

    def items():
        for n in range(100):
            taken.append(n)
            yield n

    for result in in_turn(str, items(), threads=2):
        assert len(taken) <= int(result) + 3
    assert len(taken) == 100


def test_what_the_work_raises_comes_in_its_turn():
    found = in_turn(lambda n: 1 // n, [1, 1, 0, 1])
    assert [next(found), next(found)] == [1, 1]
    with pytest.raises(ZeroDivisionError):
        next(found)


def test_no_thread_is_left_behind_when_the_reader_stops_early():
    before = threading.active_count()
    found = in_turn(str, range(1000))
    next(found)
    found.close()
    assert threading.active_count() == before


def test_a_thread_has_the_settings_of_the_one_that_asks():
    with np.errstate(divide="raise"):
        found = in_turn(lambda x: np.float64(1) / x, [np.float64(0)])
        with pytest.raises(FloatingPointError):
            next(found)


def test_one_thread_is_this_one():
    here = threading.get_ident()
    assert set(in_turn(lambda n: threading.get_ident(), range(5), 1)) == {here}
