"""What is said of a notebook that stopped; test_rerun has the same with kernels."""

import pytest
from nbformat import v4

from benchproof.keeping.runs.runfailures import (
    cell_failure,
    start_failure,
    stop_message,
)


def failed(source, name, value, *traceback, count=1):
    output = v4.new_output("error", ename=name, evalue=value, traceback=list(traceback))
    return v4.new_code_cell(source, outputs=[output], execution_count=count)


def said(cell, *others):
    return cell_failure([*others, cell], cell, Exception("stopped"), 600)


def test_a_syntax_error_is_told_without_a_file_that_is_nobodys():
    cell = failed("x = = 1", "SyntaxError", "invalid syntax (1234.py, line 1)",
                  "  Cell In[1], line 1\n    x = = 1")  # fmt: skip
    assert said(cell).startswith(
        "cell 1 of 1 ('x = = 1'), line 1 ('x = = 1'): SyntaxError: invalid syntax. "
    )


def test_colours_and_line_ends_of_an_error_do_not_reach_the_message():
    cell = failed("f()", "ValueError", "two\n   lines", "\x1b[0;31m----> 1\x1b[0m f()")
    assert "line 1 ('f()'): ValueError: two lines. Correct it" in said(cell)


def test_an_error_that_says_much_is_cut():
    message = said(failed("f()", "ValueError", "x" * 5000))
    assert "x…" in message
    assert len(message) < 800


def test_an_error_without_a_traceback_names_no_line():
    assert said(failed("f()", "ValueError", "no")).startswith(
        "cell 1 of 1 ('f()'): ValueError: no. "
    )


def test_a_line_that_is_not_there_is_named_by_number_alone():
    cell = failed("f()", "ValueError", "no", "Cell In[1], line 9")
    assert ", line 9: ValueError" in said(cell)


def test_cells_count_as_the_author_counts_them_not_as_the_kernel_does():
    empty, helper = v4.new_code_cell(""), v4.new_code_cell("def f():\n    return g")
    helper.execution_count = 1
    cell = failed("f()", "NameError", "g", "Cell In[2], line 1", "Cell In[1], line 2",
                  count=2)  # fmt: skip
    assert said(cell, empty, helper).startswith(
        "cell 3 of 3 ('f()'), line 1 ('f()'), in cell 2, line 2 ('return g'): "
    )


@pytest.mark.parametrize("kind", ["CellTimeoutError", "DeadKernelError"])
def test_a_cell_without_an_answer_is_named(kind):
    cell = v4.new_code_cell("wait()")
    problem = type(kind, (Exception,), {})("?")
    message = cell_failure([cell], cell, problem, 2.5)
    wanted = {"CellTimeoutError": "longer than the 2.5 s allowed",
              "DeadKernelError": "the kernel died"}  # fmt: skip
    assert message.startswith("cell 1 of 1 ('wait()')")
    assert wanted[kind] in message


def test_a_failure_of_our_own_last_cell_is_no_cell_of_the_author():
    last = failed("save()", "FileError", "Begin with open_case.")
    assert cell_failure([], last, Exception(), 1).startswith(
        "Begin with open_case. Correct the notebook"
    )
    assert stop_message([], last).startswith("stopped after the last cell.")


def test_a_missing_kernel_is_told_apart_from_one_that_does_not_start():
    missing = type("NoSuchKernel", (Exception,), {})()
    assert "pip install ipykernel" in start_failure(missing, "python3")
    assert "did not start" in start_failure(RuntimeError("died"), "python3")
