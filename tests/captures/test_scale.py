"""Several workers: the same digits as one, or a plain word without dask."""

import importlib.util
import os
from concurrent.futures.process import BrokenProcessPool

import numpy as np
import pytest

from benchproof.keeping.captures import scale
from benchproof.keeping.captures.library import Library
from benchproof.measuring.captures.crossings import changes_of
from benchproof.measuring.captures.summary import BLOCK, summary_of
from benchproof.values.errors import InputError

needs_dask = pytest.mark.skipif(
    importlib.util.find_spec("dask") is None,
    reason="dask (extra scale) is not installed",
)


@pytest.fixture
def codes(tmp_path):
    """An invented record of three channels taken in turn, mapped from a file."""
    rng = np.random.default_rng(9)
    values = np.cumsum(rng.normal(0, 1, (2 * BLOCK + 999, 3)), axis=0)
    np.save(tmp_path / "walk.npy", values)
    return np.load(tmp_path / "walk.npy", mmap_mode="r")[:, 1]


@needs_dask
def test_two_workers_give_the_digits_of_one(codes, monkeypatch):
    monkeypatch.setattr(scale, "LEAST_TASK", BLOCK)
    alone = summary_of(codes)
    changes = changes_of(codes, alone.pyramid, -100, 100)
    for workers in (1, 2):
        found = scale.scaled_summary(codes, workers)
        assert found.moments == alone.moments
        assert np.array_equal(found.histogram.counts, alone.histogram.counts)
        assert np.array_equal(found.pyramid.low, alone.pyramid.low)
        edges = scale.scaled_changes(codes, -100, 100, workers)
        assert np.array_equal(edges.index, changes.index)
        assert np.array_equal(edges.reached, changes.reached)
    assert len(changes)


@needs_dask
def test_no_worker_leaves_it_to_the_scheduler_that_is_set(codes):
    import dask

    alone = summary_of(codes)
    with dask.config.set(scheduler="synchronous"):
        found = scale.scaled_summary(codes, 0)
    assert found.moments == alone.moments
    assert np.array_equal(found.histogram.counts, alone.histogram.counts)


@needs_dask
def test_a_capture_opened_with_workers_is_summarised_alike(tmp_path):
    place = tmp_path / "captures" / "walk.npy"
    place.parent.mkdir()
    walk = np.random.default_rng(3).normal(0, 1, BLOCK + 77).cumsum()
    np.save(place, walk)
    opened = Library(tmp_path).open("walk.npy", unit="V", interval=1e-6, workers=1)
    (place.parent / ".index").rename(tmp_path / "away")
    scaled = Library(tmp_path).open("walk.npy", unit="V", interval=1e-6, workers=2)
    assert scaled.moments() == opened.moments()
    assert np.array_equal(scaled.levels()[1], opened.levels()[1])


@needs_dask
def test_a_worker_that_is_ended_is_said_in_words(codes, monkeypatch):
    def ended(*arguments, **how):
        raise BrokenProcessPool

    import dask

    monkeypatch.setattr(dask, "compute", ended)
    with pytest.raises(InputError, match="a worker ended before its work"):
        scale.scaled_changes(codes, -1, 1, 1)


def test_tasks_cover_a_record_without_overlap_at_borders_of_blocks():
    for count in (1, BLOCK, 40 * BLOCK + 7, 1000 * BLOCK):
        tasks = scale.tasks_of(count, 2)
        assert tasks[0][0] == 0
        assert tasks[-1][1] == count
        assert [a for a, _ in tasks[1:]] == [b for _, b in tasks[:-1]]
        assert all(first % BLOCK == 0 for first, _ in tasks)
    assert len(tasks) == 8


@needs_dask
def test_the_threads_of_this_process_are_left_as_they_were(codes, monkeypatch):
    monkeypatch.setenv("OMP_NUM_THREADS", "7")
    monkeypatch.delenv("MKL_NUM_THREADS", raising=False)
    scale.scaled_changes(codes[:1000], -1, 1, 1)
    assert os.environ["OMP_NUM_THREADS"] == "7"
    assert "MKL_NUM_THREADS" not in os.environ


@needs_dask
def test_a_record_in_memory_only_is_refused():
    with pytest.raises(InputError, match="one of a file"):
        scale.scaled_changes(np.arange(9), 1, 2, 1)


def test_without_dask_it_says_what_to_install(codes, monkeypatch):
    monkeypatch.setattr(scale, "find_spec", lambda name: None)
    with pytest.raises(InputError, match=r"benchproof\[scale\]"):
        scale.scaled_summary(codes, 2)
