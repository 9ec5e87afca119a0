"""Long work shows how far it is where a person looks, and nowhere else."""

import io
import sys
from types import SimpleNamespace

import nbformat
import pytest
from nbclient import NotebookClient

from benchproof.keeping.runs.waiting import waiting


def seconds(*times):
    left = iter(times)
    return lambda: next(left)


class Screen(io.StringIO):
    def __init__(self, terminal):
        super().__init__()
        self.terminal = terminal

    def isatty(self):
        return self.terminal


@pytest.fixture
def screen(monkeypatch):
    """Put a stream in place of standard error, and no notebook."""

    def put(terminal):
        stream = Screen(terminal)
        monkeypatch.setattr(sys, "stderr", stream)
        monkeypatch.delitem(sys.modules, "IPython", raising=False)
        return stream

    return put


@pytest.fixture
def shown(monkeypatch):
    """Stand in for a notebook's front end; what it was asked to display is kept."""
    said = []
    handle = SimpleNamespace(update=lambda data, raw: said.append(data))

    def display(data, *, raw, display_id):
        said.append("a display")
        handle.update(data, raw)
        return handle

    def front_end(person):
        kernel = SimpleNamespace(_allow_stdin=person)
        fake = SimpleNamespace(get_ipython=lambda: SimpleNamespace(kernel=kernel))
        monkeypatch.setitem(sys.modules, "IPython", fake)
        display_module = SimpleNamespace(display=display)
        monkeypatch.setitem(sys.modules, "IPython.display", display_module)
        return said

    return front_end


def test_work_of_less_than_two_seconds_shows_nothing(screen):
    stream = screen(terminal=True)
    with waiting("reading", clock=seconds(0.0, 0.4, 1.0, 1.6)) as done:
        for share in (0.1, 0.6, 0.99):
            done(share)
    assert stream.getvalue() == ""


def test_a_terminal_has_one_line_that_is_gone_at_the_end(screen):
    stream = screen(terminal=True)
    with waiting("reading rail.csv", clock=seconds(0.0, 1.0, 3.0)) as done:
        done(0.25)
        done(0.75)
    lines = stream.getvalue().split("\r\x1b[K")
    assert lines == [
        "",
        "[#####               ] reading rail.csv: 25 %, about 3 s left",
        "[###############     ] reading rail.csv: 75 %, about 1 s left",
        "",
    ]


def test_the_line_is_gone_also_when_the_work_fails(screen):
    stream = screen(terminal=True)

    def failing():
        with waiting("x", clock=seconds(0, 3)) as done:
            done(1 / 2)
            done(1 / 0)

    with pytest.raises(ZeroDivisionError):
        failing()
    assert stream.getvalue().count("x: 50 %") == 1
    assert stream.getvalue().endswith("\r\x1b[K")


def test_a_line_is_not_written_more_often_than_it_can_be_read(screen):
    stream = screen(terminal=True)
    with waiting("x", clock=seconds(0, *(3 + i / 100 for i in range(50)))) as done:
        for i in range(50):
            done(i / 50)
    assert stream.getvalue().count("\r") == 3 + 1  # 3.0, 3.2 and 3.4 s, and the end


def test_work_of_unknown_length_is_shown_after_two_seconds(screen):
    stream = screen(terminal=True)
    with waiting("x", clock=seconds(0, 1.0, 2.5)) as done:
        done(0.0)
        done(0.0)
    assert stream.getvalue().count("x: 0 %") == 1


def test_a_file_or_a_pipe_gets_nothing(screen):
    stream = screen(terminal=False)
    with waiting("reading", clock=seconds(0.0, 1.0)) as done:
        done(0.1)
    assert stream.getvalue() == ""


def test_a_program_without_standard_error_is_no_problem(monkeypatch, screen):
    screen(terminal=False)
    monkeypatch.setattr(sys, "stderr", None)
    with waiting("reading") as done:
        done(0.1)


def test_a_callback_of_the_caller_takes_the_place_of_the_bar(screen):
    stream, seen = screen(terminal=True), []
    with waiting("reading", seen.append) as done:
        done(0.5)
    assert (seen, stream.getvalue()) == ([0.5], "")


def test_a_notebook_has_one_display_that_is_empty_at_the_end(shown):
    said = shown(person=True)
    with waiting("reading a<b", clock=seconds(0.0, 1.0, 3.0)) as done:
        done(0.25)
        done(0.75)
    assert said.count("a display") == 1
    assert said[0] == "a display"
    assert said[1]["text/plain"] == "reading a<b: 25 %, about 3 s left"
    assert "a&lt;b" in said[1]["text/html"]
    assert said[-1] == {"text/plain": "", "text/html": ""}


def test_a_notebook_without_a_person_shows_nothing(shown):
    said = shown(person=False)
    with waiting("reading", clock=seconds(0.0, 1.0)) as done:
        done(0.25)
    assert said == []


@pytest.mark.parametrize(
    ("person", "kept"), [(True, [{"text/plain": "", "text/html": ""}]), (False, [])]
)
def test_a_headless_run_keeps_no_output_of_it(person, kept):
    cell = nbformat.v4.new_code_cell(
        "from benchproof.keeping.runs.waiting import waiting\n"
        "seconds = iter([0.0, 1.0, 3.0])\n"
        "with waiting('reading', clock=lambda: next(seconds)) as done:\n"
        "    done(0.25)\n"
        "    done(0.75)\n"
    )
    notebook = nbformat.v4.new_notebook(cells=[cell])
    client = NotebookClient(notebook, timeout=60, kernel_name="python3")
    with client.setup_kernel():
        client.kc.allow_stdin = person  # what a front end says of itself
        client.execute_cell(cell, 0)
    assert [output.data for output in cell.outputs] == kept
