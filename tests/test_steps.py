"""The lines a run tells its cells by."""

import io
import time

import pytest

from benchproof.showing.steps import StepLines


class Terminal(io.StringIO):
    def isatty(self):
        return True


def shown(written):
    """Return the lines a terminal would show at the end."""
    return [line.rpartition("\r\x1b[K")[2] for line in written.split("\n")]


class FailedError(Exception):
    pass


def fail(stream, clock):
    """Begin one cell and fail in it."""
    with StepLines(stream, clock, every=60) as steps:
        steps(1, 1, "1 / 0")
        raise FailedError


def test_a_file_gets_a_line_per_cell_with_its_seconds():
    seconds = iter([10.0, 10.5, 11.0, 14.0])
    stream = io.StringIO()
    with StepLines(stream, clock=lambda: next(seconds)) as steps:
        steps(1, 2, "x = 1")
        assert stream.getvalue() == "[1/2] x = 1", "a cell is told as it starts"
        steps(2, 2, "y = 2")
    assert stream.getvalue() == "[1/2] x = 1  0.5 s\n[2/2] y = 2  3.0 s\n"
    assert "\x1b" not in stream.getvalue()


def test_the_seconds_of_a_cell_that_failed_are_told_too():
    seconds = iter([0.0, 2.0])
    stream = io.StringIO()
    with pytest.raises(FailedError):
        fail(stream, lambda: next(seconds))
    assert stream.getvalue() == "[1/1] 1 / 0  2.0 s\n"


def test_a_run_that_started_no_cell_leaves_no_line():
    stream = io.StringIO()
    with StepLines(stream):
        pass
    assert stream.getvalue() == ""


def test_a_terminal_shows_one_line_that_is_gone_at_the_end():
    stream = Terminal()
    with StepLines(stream, clock=lambda: 0.0, every=60) as steps:
        assert shown(stream.getvalue()) == ["starting the kernel"]
        steps(1, 2, "x = 1")
        steps(2, 2, "y = 2")
        assert shown(stream.getvalue()) == ["[2/2] y = 2  0 s"]
    assert shown(stream.getvalue()) == [""]


def test_a_terminal_keeps_the_line_of_the_cell_that_failed():
    stream = Terminal()
    with pytest.raises(FailedError):
        fail(stream, lambda: 0.0)
    assert shown(stream.getvalue()) == ["[1/1] 1 / 0  0 s", ""]


def test_on_a_terminal_the_seconds_count_up():
    stream = Terminal()
    seconds = iter(range(1000))
    with StepLines(stream, lambda: next(seconds), every=0.01) as steps:
        steps(1, 1, "slow()")
        until = time.monotonic() + 10
        while "slow()  3 s" not in stream.getvalue() and time.monotonic() < until:
            time.sleep(0.01)
    assert "slow()  3 s" in stream.getvalue()


def test_a_long_title_is_cut_to_the_terminal(monkeypatch):
    monkeypatch.setenv("COLUMNS", "40")
    stream = Terminal()
    with StepLines(stream, lambda: 0.0, 60) as steps:
        steps(1, 1, "x" * 200)
        (line,) = shown(stream.getvalue())
    assert len(line) == 39
    assert line.endswith("x…  0 s")


def test_what_was_typed_does_not_steer_the_terminal():
    stream = io.StringIO()
    with StepLines(stream) as steps:
        steps(1, 1, "x = '\x1b[2J'")
    assert "\x1b" not in stream.getvalue()
