"""After a change only what depends on it is computed again, and nothing differs."""

import contextlib
import tempfile
from functools import partial
from pathlib import Path

import pytest
from conftest import CASE, standing_clock
from hypothesis import given, settings
from hypothesis import strategies as st

from benchproof import open_case
from benchproof.keeping.state.renewing import stale_between, state_of
from benchproof.reasoning.verdicts import Prediction
from benchproof.values.errors import BenchproofError

METERS = """\
[handheld]
description = "invented 6000-count meter"
input_resistance = "10 MΩ"
[handheld."DC V"]
unit = "V"
accuracy = "±(0.5 % + 3 digits)"
ranges = ["6.000 V", "60.00 V"]
[handheld."Ω"]
unit = "ohm"
accuracy = "±(0.8 % + 5 digits)"
ranges = ["60.00 Mohm"]
[twin]
description = "invented 6000-count meter, a second piece"
[twin."DC V"]
unit = "V"
accuracy = "±(0.5 % + 3 digits)"
ranges = ["6.000 V", "60.00 V"]
"""
VOLTS = ("V_a", "V_b", "V_c", "V_d")
NUMBERS = ("5.031", "5.034", "12.10", "0.000", "-3.21")


def asked(question, *arguments):
    """Give the answer, or the words of the refusal."""
    try:
        return question(*arguments)
    except (BenchproofError, ArithmeticError, KeyError) as problem:
        return f"{type(problem).__name__}: {problem}"


def everything(state_now, predictions):
    """Return all that a state can be asked."""
    state = state_now()
    names = list(state.graph.units)
    graph = state.graph
    questions = (
        *(state.missing, state.budget, state.bound_text, state.warnings),
        *(graph.value, graph.sensitivities, graph.order, graph.parts),
    )
    told = {(n, q.__name__): asked(q, n) for n in names for q in questions}
    judged = [asked(state.judge, prediction, 0.95) for prediction in predictions]
    found = (state.measured, state.constants, state.checked, state.graph.joints)
    return told, judged, found


def afresh(case):
    return state_of(case.book.record, case.instruments, case.defined, case._view)


def predictions_of(case):
    criteria = [case["total"].above("10 V"), case["V_a"].below("5.033 V")]
    criteria += [case["bent"].below("0.001 V**2"), case["V_c"].within("1 V", "2 V")]
    return [Prediction(c.text, c) for c in criteria]


def declared(case):
    """A case with shared inputs, a chain, a group, a bent formula, and one apart."""
    case.record("V_a", "5.031 5.034 5.033 V", using="handheld", at="here")
    case.record("V_b", "5.010 V", using="twin", at="here")
    case.record_together({"V_c": "1.20 1.21 1.19 V", "V_d": "2.41 2.39 2.42 V"})
    case.record("R", ">60 Mohm", using="handheld")
    case.constant("k", "2.0(1)")

    @case.derive(unit="V")
    def total(V_a, V_b):
        return V_a + V_b

    @case.derive(unit="")
    def ratio(total, V_c, V_d):
        return total / (V_c + V_d) ** 2 * (V_c + V_d)

    @case.derive(unit="V")
    def apart(V_d, k):
        return V_d * k

    @case.derive(unit="V**2")
    def bent(V_a, V_b):
        return (V_a - V_b) ** 2

    @case.derive(unit="A")
    def leak(V_a, R):
        return V_a / R

    return case


def reading(case, name, number):
    text = f"{number} {number[:-1]}5 V"
    case.record(name, text, using="handheld", at="here", because="read again")


def one_more(case, name, number):
    case.record(f"{name}_{len(case.book.record.by_measurand)}", f"{number}(5) V")


def group(case, name, number):
    both = {"V_c": f"{number} 1.21 1.22 V", "V_d": f"2.41 {number} 2.42 V"}
    case.record_together(both, because="read again")


def strike(case, name, number):
    rows = [r.row for r in case.book.record.of(name)]
    case.strike(name, rows[len(number) % len(rows)], because="the probe slipped")


def round_(case, name, number):
    case.new_round(because="another day")
    case.record(name, f"{number} V", using="handheld", at="here")


def constant(case, name, number):
    case.constant("k", f"{number}(7)")


def formula(case, name, number):
    if len(number) % 2:

        @case.derive(unit="V")
        def total(V_a, V_c):
            return V_a - V_c
    else:

        @case.derive(unit="V")
        def total(V_a, V_b, k):
            return V_a + k * V_b


def correlation(case, name, number):
    because, of = "one reference", ("repeatability", "")
    case.correlate({("V_a", "k"): 0.5}, because=because, of=of)


def condition(case, name, number):
    case.valid_only_if(name, case["total"].above(f"{number} V"))


def correction(case, name, number):
    case.record("R_s", f"{number.strip('-')} ± 0.1 kohm")
    case.corrections.loading(f"{name}_free", reading=name, source="R_s")


def zero(case, name, number):
    case.zero_check("handheld", "DC V", before=f"{number} V")


def pending(case, name, number):
    case.record("V_late", "? V")
    case.record("V_late", f"{number} V", using="handheld")


EDITS = (
    *(reading, one_more, group, strike, round_, constant, formula, correlation),
    *(condition, correction, zero, pending),
)
edits = st.tuples(
    st.sampled_from(EDITS), st.sampled_from(VOLTS), st.sampled_from(NUMBERS)
)


@contextlib.contextmanager
def temporary_case():
    with tempfile.TemporaryDirectory() as name:
        Path(name, "case.toml").write_text(CASE, encoding="utf-8")
        Path(name, "instruments.toml").write_text(METERS, encoding="utf-8")
        yield declared(open_case(name, clock=standing_clock))


@settings(max_examples=25, deadline=None)
@given(st.lists(edits, min_size=1, max_size=8))
def test_after_any_edits_everything_is_as_computed_afresh(made):
    with temporary_case() as case:
        everything(case.state, predictions_of(case))
        for edit, name, number in made:
            with contextlib.suppress(BenchproofError):  # refused: nothing changed
                edit(case, name, number)
            predictions = predictions_of(case)
            kept = asked(everything, case.state, predictions)
            assert kept == asked(everything, partial(afresh, case), predictions)


def lines_of(case):
    state = case.state()
    return {n: state.budget(n).lines for n in state.formulas if not state.missing(n)}


def moved(before, after):
    """Name the budgets that were computed again."""
    return {name for name, lines in after.items() if lines is not before[name]}


@pytest.fixture
def case():
    with temporary_case() as made:
        yield made


def test_a_reading_renews_only_what_depends_on_it(case):
    before = lines_of(case)
    reading(case, "V_b", "5.034")
    assert moved(before, lines_of(case)) == {"total", "ratio", "bent"}


def test_a_reading_renews_the_measurands_it_belongs_to_and_no_other(case):
    before = case.state().measured
    group(case, "", "1.20")
    after = case.state().measured
    assert [n for n in before if after[n] is not before[n]] == ["V_c", "V_d"]


def test_a_constant_renews_only_what_depends_on_it(case):
    before = lines_of(case)
    constant(case, "k", "3.0")
    assert moved(before, lines_of(case)) == {"apart"}


def test_a_correlation_renews_only_what_it_touches(case):
    before = lines_of(case)
    case.correlate({("k", "V_b"): 0.5}, because="one scale", of=("", "offset"))
    assert moved(before, lines_of(case)) == {"total", "ratio", "bent", "apart"}


def test_a_formula_declared_anew_renews_what_depends_on_it(case):
    before = lines_of(case)
    formula(case, "total", "12.10")
    assert moved(before, lines_of(case)) == {"total", "ratio"}


def test_asking_again_after_an_unrelated_reading_calls_no_formula(case):
    calls = []

    @case.derive(unit="V")
    def twice(V_a):
        calls.append(V_a)
        return 2 * V_a

    case.state().budget("twice")
    calls.clear()
    reading(case, "V_b", "5.034")
    case.state().budget("twice")
    assert calls == []


def test_nothing_is_stale_between_a_state_and_itself_computed_afresh(case):
    correlation(case, "", "")
    assert stale_between(case.state(), afresh(case)) == set()


def test_a_view_of_an_earlier_round_does_not_see_what_came_later(case):
    view = case.at_round(1)
    before = view.state().budget("total").value
    round_(case, "V_a", "12.10")
    assert view.state().budget("total").value == before
    assert case.state().budget("total").value != before
