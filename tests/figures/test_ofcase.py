"""Figures say in words what they show, and are the same on every run."""

import re
from html import unescape

import pytest

from benchproof import figure_of_budget, figure_of_predictions
from benchproof.showing.figures.ofcase import (
    figure_of_counts,
    figure_of_coverage,
    figure_of_replications,
    figure_of_rounds,
)


@pytest.fixture
def measured(case):
    case.record("V_idle", "12.10 12.12 12.11 V", using="handheld")
    case.record("V_load", "11.60 11.62 11.61 V", using="handheld")
    case.record("lost", "3 of 20")

    @case.derive(unit="mV")
    def sag(V_idle, V_load):
        return V_idle - V_load

    rival = case.hypothesis("H1", "It sags <b>")
    rival.predicts("more than 0.2 V", case["sag"].above("0.2 V"))
    rival.predicts("less than 0.3 V", case["sag"].below("0.3 V"))
    rival.predicts("often", case["lost"].at_least(0.5), role="expected")
    rival.predicts("later", case["V_later"].above("1 V"), role="expected")
    return case


def bundle(drawing):
    return drawing._repr_mimebundle_()


def test_the_text_of_a_budget_has_the_numbers_of_the_budget(measured):
    budget = measured.budget("sag")
    alt = figure_of_budget(budget).alt
    assert budget.summary() in alt
    largest = max(budget.lines, key=lambda line: line.share)
    assert f"{largest.source.name} with {100 * largest.share:.0f} %" in alt
    assert f"of {len(budget.lines)} sources" in alt


def test_the_text_of_the_predictions_has_every_outcome_and_value(measured):
    alt = figure_of_predictions(measured).alt
    assert "sag above 0.2 V: met" in alt
    assert "sag below 0.3 V: contradicted" in alt
    assert alt.count(measured.budget("sag").result()) == 2


def test_only_predictions_about_measured_values_are_drawn(measured):
    alt = figure_of_predictions(measured).alt
    assert "lost" not in alt
    assert "V_later" not in alt


def test_with_nothing_measured_a_sentence_says_so(case):
    rival = case.hypothesis("H1", "It sags")
    rival.predicts("later", case["V_later"].above("1 V"))
    drawing = figure_of_predictions(case)
    assert drawing.svg == ""
    assert bundle(drawing) == ({"text/plain": drawing.alt}, {})
    assert "measured yet" in drawing.alt


@pytest.mark.parametrize("which", ["budget", "predictions"])
def test_a_figure_has_the_same_bytes_on_every_call(measured, which):
    def draw():
        if which == "budget":
            return figure_of_budget(measured.budget("sag")).svg
        return figure_of_predictions(measured).svg

    first = draw()
    assert first.encode() == draw().encode()
    assert first.startswith("<svg ")
    assert "date" not in first.lower()
    assert "<script" not in first


def test_a_shown_figure_carries_its_text_alternative(measured):
    drawing = figure_of_predictions(measured)
    data, metadata = bundle(drawing)
    (alt,) = re.findall(r'alt="([^"]*)"', data["text/html"])
    assert unescape(alt) == drawing.alt
    assert metadata == {"text/html": {"alt": drawing.alt}}
    assert data["text/plain"] == repr(drawing) == drawing.alt


def test_a_far_value_and_an_exact_one_can_be_drawn(case):
    case.constant("exact", "2 V")
    case.record("V", "5.00(1) V")
    rival = case.hypothesis("H1", "x")
    rival.predicts("exact", case["exact"].above("1 V"))
    rival.predicts("far", case["V"].above("-90 V"))
    assert figure_of_predictions(case).svg
    assert figure_of_budget(case.budget("V")).svg


def test_the_budget_of_an_exact_quantity_can_be_drawn(case):
    case.constant("exact", "2 V")
    assert "exact" in figure_of_budget(case.budget("exact")).alt


def test_the_rounds_of_a_case_are_drawn_from_the_second_on(measured):
    assert figure_of_rounds(measured).svg == ""
    measured.new_round(because="another cable")
    measured.record("V_load", "12.00 12.01 12.02 V", using="handheld")
    drawing = figure_of_rounds(measured)
    assert "H1: contradicted in round 1" in drawing.alt
    assert "another cable" in drawing.svg
    assert drawing.svg.startswith("<svg")


def test_a_plan_is_drawn_with_what_is_left_of_it(measured):
    assert figure_of_coverage(measured).svg == ""
    plan = measured.trials.plan(
        "power", factors={"supply": ["brick", "bench"]}, outcomes=["lost", "kept"],
        control={"supply": "bench"}, repetitions=2, stop="two of each", seed=1,
    )  # fmt: skip
    plan.record("l")
    alt = figure_of_coverage(measured).alt
    assert "1 of 2: 1 left" in alt
    assert "0 of 2: 2 left" in alt


def test_rates_of_a_plan_are_drawn_with_the_counts(measured):
    plan = measured.trials.plan(
        "power", factors={"supply": ["brick", "bench"]}, outcomes=["lost", "kept"],
        control={"supply": "bench"}, repetitions=2, stop="two of each", seed=1,
    )  # fmt: skip
    plan.record("l k l k")
    alt = figure_of_counts(measured).alt
    assert "lost, round 1 (expected H1): 3 of 20" in alt
    assert "power: lost with supply bench, round 1 (control)" in alt


def test_replications_are_drawn_each_device_by_itself(measured):
    assert figure_of_replications(measured, "V_idle").svg == ""
    folder = measured.folder / "replication"
    folder.mkdir()
    (folder / "1.toml").write_text(
        'by = "somebody <else>"\ndevice = "unit 2"\n[[result]]\nquantity = "V_idle"\n'
        'value = 12300\nunit = "mV"\nU = 100\nk = 2\n',
        encoding="utf-8",
    )
    alt = figure_of_replications(measured, "V_idle").alt
    assert "this case: 12.11 ± " in alt
    assert "somebody <else>, unit 2: 12.3 ± 0.1 V, k = 2" in alt
