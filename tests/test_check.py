"""What a check finds in a case, without running it and with a run."""

import json
import shutil

import pytest
from bundling import CELLS, edit, edit_results, make_case, save_as_run
from conftest import INSTRUMENTS

from benchproof import cli, new_case, open_case
from benchproof.keeping.capturefiles import save_capture
from benchproof.keeping.checking.check import check_case
from benchproof.keeping.checking.findings import Finding, Findings, sorted_findings
from benchproof.keeping.checking.rerunning import compare_runs
from benchproof.keeping.checking.sums import file_sha256
from benchproof.keeping.runs.results import read_results
from benchproof.values.errors import FileError


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    return make_case(tmp_path_factory.mktemp("check") / "pump", INSTRUMENTS)


@pytest.fixture
def folder(made, tmp_path):
    return shutil.copytree(made, tmp_path / "pump")


def grave(folder, **options):
    return [(f.file, f.row) for f in check_case(folder, **options).of("fault", "open")]


def said(folder, severity):
    return " | ".join(f.statement for f in check_case(folder).of(severity))


def test_a_case_as_it_was_run_has_no_findings(folder):
    found = check_case(folder)
    assert found.of("fault", "open") == []
    assert found.status == 0


def test_a_case_with_nothing_measured_yet_has_no_fault(tmp_path):
    cells = [
        "case = open_case()",
        'case.record("V_rail", "? V", using="handheld", at="rail")',
        '@case.derive(unit="mV")\ndef drop(V_rail):\n    return V_rail / 2',
        'h1 = case.hypothesis("H1", "The supply sags")\n'
        'h1.predicts("it sags", case["V_rail"].below("8.80 V"))\n'
        'h1.predicts("it drops", case["drop"].above("50 mV"))',
    ]
    found = check_case(make_case(tmp_path / "fresh", INSTRUMENTS, cells))
    assert found.of("fault") == []


def test_a_check_writes_nothing_into_the_case(folder):
    before = {p: (p.stat().st_mtime_ns, p.read_bytes()) for p in folder.rglob("*.*")}
    check_case(folder)
    after = {p: (p.stat().st_mtime_ns, p.read_bytes()) for p in folder.rglob("*.*")}
    assert after == before


def test_what_was_recomputed_and_what_was_not_is_said(folder):
    found = check_case(folder)
    assert "4 measurands from 8 readings, 1 derived quantities" in found.recomputed[0]
    assert any(line.startswith("V_left: taken as") for line in found.unchecked)
    assert "Not checked: what only a run can show" in str(found)


def test_without_run_no_code_of_the_notebook_is_executed(folder, tmp_path):
    trace = tmp_path / "executed"
    cells = [*CELLS, f"open({str(trace)!r}, 'w').close()"]
    again = make_case(tmp_path / "other", INSTRUMENTS, cells)
    assert trace.exists()
    trace.unlink()
    check_case(again)
    assert not trace.exists()


# The log ---------------------------------------------------------------------------


def test_an_edited_reading_is_named_with_both_values(folder):
    edit(folder, "readings.csv", ",12.12,", ",12.52,")
    found = check_case(folder)
    assert ("readings.csv", "r-0002") in [(f.file, f.row) for f in found.of("fault")]
    assert "'V_idle 12.12 V handheld socket' at the run" in said(folder, "fault")
    assert "'V_idle 12.52 V handheld socket' now" in said(folder, "fault")


def test_an_edited_reading_moves_the_numbers_that_rest_on_it(folder):
    edit(folder, "readings.csv", ",12.12,", ",12.52,")
    assert {("results.json", "V_idle"), ("results.json", "R_source")} <= set(
        grave(folder)
    )
    assert ("results.json", "I_load") not in grave(folder)


def test_a_row_taken_out_at_the_end_is_a_fault(folder):
    path = folder / "readings.csv"
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    path.write_text("".join(lines[:-1]), encoding="utf-8")
    assert "8 rows were there at the run, 7 are left" in said(folder, "fault")


def test_rows_added_since_the_run_are_open_and_no_edit(folder):
    open_case(folder).record("V_late", "5.00 V", using="handheld")
    found = check_case(folder)
    assert ("readings.csv", "r-0009") in [(f.file, f.row) for f in found.of("open")]
    assert "1 rows were added since the run" in said(folder, "open")


def test_a_torn_last_row_is_open(folder):
    path = folder / "readings.csv"
    path.write_bytes(path.read_bytes() + b"r-0009,reading,1,V_")
    assert ("readings.csv", "") in grave(folder)


# The results -----------------------------------------------------------------------


@pytest.mark.parametrize("name", ["V_idle", "R_source", "V_diode"])
def test_a_value_changed_in_the_results_is_a_fault(folder, name):
    edit_results(folder, lambda d: d["quantities"][name].update(value=9.0))
    assert ("results.json", name) in grave(folder)


@pytest.mark.parametrize("name", ["V_idle", "R_source", "V_diode", "V_left"])
def test_an_uncertainty_changed_in_the_results_is_a_fault(folder, name):
    def halve(data):
        data["quantities"][name]["standard_uncertainty"] /= 2

    edit_results(folder, halve)
    assert "does not follow from its contributions" in said(folder, "fault")


def test_u_and_contributions_made_smaller_together_are_a_fault(folder):
    def halve(data):
        entry = data["quantities"]["R_source"]
        entry["standard_uncertainty"] /= 2
        entry["contributions"] = {n: c / 2 for n, c in entry["contributions"].items()}

    edit_results(folder, halve)
    assert ("results.json", "R_source") in grave(folder)


def test_a_text_that_is_not_the_value_is_a_fault(folder):
    edit_results(folder, lambda d: d["quantities"]["R_source"].update(text="9(1) Ω"))
    assert "shows '9(1) Ω'" in said(folder, "fault")


def test_a_change_in_the_last_digits_of_rounding_is_no_finding(folder):
    def nudge(data):
        entry = data["quantities"]["R_source"]
        entry["value"] *= 1 + 1e-13
        entry["standard_uncertainty"] *= 1 + 1e-12

    edit_results(folder, nudge)
    assert grave(folder) == []


def test_a_quantity_missing_from_the_results_is_a_fault(folder):
    edit_results(folder, lambda d: d["quantities"].pop("I_load"))
    assert ("results.json", "I_load") in grave(folder)


def test_a_quantity_that_nobody_recorded_or_declared_is_a_fault(folder):
    def add(data):
        data["quantities"]["V_new"] = data["quantities"]["V_diode"]

    edit_results(folder, add)
    assert ("results.json", "V_new") in grave(folder)


def test_a_constant_that_is_computed_in_the_notebook_is_taken_over(tmp_path):
    cells = [CELLS[0], 'case.constant("a", "10.0(1) " + "V")']
    found = check_case(make_case(tmp_path / "loose", INSTRUMENTS, cells))
    assert found.status == 0
    assert any(line.startswith("a: taken as") for line in found.unchecked)


def test_a_formula_that_is_not_in_the_notebook_is_told(folder):
    def twice(data):
        entry = data["quantities"]["R_source"]
        entry["formula"] = entry["formula"].replace("sag / I_load", "2 * sag / I_load")

    edit_results(folder, twice)
    assert "not in the notebook's code" in said(folder, "open")
    assert ("results.json", "R_source") in grave(folder)


def test_a_verdict_turned_round_is_a_fault(folder):
    edit_results(folder, lambda d: d["verdicts"][0].update(verdict="contradicted"))
    assert "the rules give 'compatible'" in said(folder, "fault")


def test_an_outcome_turned_round_is_a_fault(folder):
    def turn(data):
        data["verdicts"][0]["predictions"][0]["verdict"] = "contradicted"

    edit_results(folder, turn)
    assert ("results.json", "H1: more than 0.1 ohm") in grave(folder)


def test_a_criterion_other_than_the_notebooks_is_a_fault(folder):
    def move(data):
        data["verdicts"][0]["predictions"][0]["criterion"] = "R_source above 0.01 ohm"

    edit_results(folder, move)
    assert "in the notebook 'R_source above 0.1 ohm'" in said(folder, "fault")


def test_a_conclusion_that_says_something_else_is_found_twice(folder):
    edit_results(folder, lambda d: d.update(statements=["H1 is beyond doubt."]))
    assert "no cell shows this conclusion" in said(folder, "open")
    assert "not what log and formulas give" in said(folder, "fault")


# Staleness and answers -------------------------------------------------------------


def test_code_edited_since_the_run_makes_the_prose_stale(folder):
    edit(folder, "investigation.ipynb", "Source resistance.", "Another docstring.")
    assert "its code changed since the run" in said(folder, "open")


@pytest.mark.parametrize("name", ["case.toml", "instruments.toml"])
def test_a_declaration_edited_since_the_run_is_open(folder, name):
    path = folder / name
    path.write_text(path.read_text(encoding="utf-8") + "\n# later\n", encoding="utf-8")
    assert grave(folder) == [(name, "")]


def test_a_better_accuracy_line_is_seen_in_the_numbers(folder):
    edit(folder, "instruments.toml", "±(0.5 % + 3 digits)", "±(0.1 % + 1 digits)")
    assert ("results.json", "V_idle") in grave(folder)


def test_a_hazard_without_an_answer_is_open(folder):
    edit(folder, "case.toml", "unplugged, checked dead", " ")
    save_as_run(folder)
    assert grave(folder) == [("case.toml", "hazard mains")]


def test_predictions_without_a_time_stamp_are_noted_and_do_not_count(folder):
    def forget(data):
        for prediction in data["verdicts"][0]["predictions"]:
            prediction.pop("written", None)

    edit_results(folder, forget)
    found = check_case(folder)
    assert "3 predictions carry no time stamp" in said(folder, "note")
    assert found.status == 0


def test_a_capture_changed_since_it_was_taken_is_a_fault(folder):
    save_capture(folder, "rail", b"\x01\x02\x03", {"settings": {}})
    assert check_case(folder).status == 0
    (folder / "captures" / "rail.bin").write_bytes(b"\x01\x02\x04")
    assert grave(folder) == [("captures/rail.bin", "")]


# Rounds, correlations --------------------------------------------------------------


def test_every_round_is_computed_again(tmp_path):
    cells = [
        *CELLS[:-1],
        'case.new_round(because="objection")\n'
        'case.record("V_load", "11.40 11.42 V", using="handheld", at="socket")',
        'case.at_round(1).conclude("Round 1: {R_source}, {H1}.")',
    ]
    folder = make_case(tmp_path / "rounds", INSTRUMENTS, cells)
    assert grave(folder) == []

    def change(data):
        data["rounds"][0]["quantities"]["R_source"]["value"] = 1.0
        data["rounds"][1]["verdicts"][0]["verdict"] = "not tested"

    edit_results(folder, change)
    rows = [row for _, row in grave(folder)]
    assert rows == ["round 1, R_source", "round 2, H1"]


def test_a_declared_correlation_is_read_from_the_notebook(tmp_path):
    cells = [
        CELLS[0],
        'case.constant("a", "10.0(1) V")\ncase.constant("b", "9.0(1) V")\n'
        'case.correlate({("a", "b"): 0.9}, because="one standard")',
        '@case.derive(unit="V")\ndef gap(a, b):\n    return a - b',
    ]
    folder = make_case(tmp_path / "pair", INSTRUMENTS, cells)
    assert check_case(folder).status == 0
    edit(folder, "investigation.ipynb", "0.9}", "0.1}")
    assert ("results.json", "gap") in grave(folder)


def test_a_correction_is_read_from_the_notebook_and_computed_again(tmp_path):
    cells = [
        CELLS[0],
        'case.record("R_shown", "1.20 ohm", using="handheld", function="Ω")\n'
        'case.record("R_leads", "0.30 ohm", using="handheld", function="Ω")',
        'case.corrections.leads("R", reading="R_shown", leads="R_leads")',
        '@case.derive(unit="ohm")\ndef twice(R):\n    return 2 * R',
    ]
    folder = make_case(tmp_path / "leads", INSTRUMENTS, cells)
    assert grave(folder) == []
    edit_results(folder, lambda d: d["quantities"]["R"].update(value=1.2))
    assert ("results.json", "R") in grave(folder)


def test_a_rate_is_judged_again_from_the_ledger(tmp_path):
    cells = [
        CELLS[0],
        'power = case.trials.plan("power", outcomes=["lost", "kept"], '
        'factors={"supply": ["brick", "steady"]}, no_control="invented", '
        'stop="10 of each", repetitions=10, seed=3)\n'
        "for place, condition in enumerate(power.spec.places, 1):\n"
        '    power.outcome("lost" if "brick" in str(condition) else "kept", at=place)',
        'h = case.hypothesis("H1", "the brick")\n'
        'h.predicts("often", power.rate("lost", supply="brick").at_least(0.5))\n'
        'h.predicts("more", power.rate("lost", supply="brick").higher_than('
        'power.rate("lost", supply="steady")))',
    ]
    folder = make_case(tmp_path / "rates", INSTRUMENTS, cells)
    assert grave(folder) == []

    def turn(data):
        data["verdicts"][0]["predictions"][1]["verdict"] = "contradicted"

    edit_results(folder, turn)
    assert ("results.json", "H1: more") in grave(folder)


def test_an_edited_row_of_another_log_is_a_fault(folder):
    def other(data):
        data["predictions"]["sha256"] = "0" * 64

    edit_results(folder, other)
    assert ("predictions.csv", "") in grave(folder)


def test_a_capture_other_than_the_one_that_was_read_is_a_fault(folder):
    (folder / "captures").mkdir()
    (folder / "captures" / "rail.csv").write_text("1\n", encoding="utf-8")
    digest = file_sha256(folder / "captures" / "rail.csv")
    edit_results(folder, lambda d: d.update(captures={"rail.csv": digest}))
    assert grave(folder) == []
    (folder / "captures" / "rail.csv").write_text("2\n", encoding="utf-8")
    assert grave(folder) == [("captures/rail.csv", "")]
    (folder / "captures" / "rail.csv").unlink()
    assert grave(folder) == [("captures/rail.csv", "")]


def test_a_prediction_written_after_the_data_is_noted(folder):
    def late(data):
        said = data["verdicts"][0]["predictions"]
        said[0]["written"] = "after the data"
        said[1]["written"] = "before the data"
        said[2]["written"] = "not recorded when"

    edit_results(folder, late)
    assert "1 predictions carry no time stamp" in said(folder, "note")
    assert "written after the data" in said(folder, "note")


def test_what_an_instrument_brings_into_a_correction_is_no_stranger(tmp_path):
    loading = INSTRUMENTS.replace(
        'ranges = ["600.0 mV", "6.000 V"', 'input_resistance = "10.0 ± 0.1 Mohm"\n'
        'ranges = ["600.0 mV", "6.000 V"', 1,
    )  # fmt: skip
    cells = [
        CELLS[0],
        'case.record("V_shown", "3.200 V", using="handheld")\n'
        'case.record("R_node", "400.0(5) kohm")',
        'case.corrections.loading("V_node", reading="V_shown", source="R_node")',
    ]
    folder = make_case(tmp_path / "loading", loading, cells)
    assert "V_node" in read_results(folder)["quantities"]
    assert grave(folder) == []


def test_a_condition_on_readings_is_read_from_the_notebook(tmp_path):
    cells = [
        CELLS[0],
        'case.record("V_dev", "1.50 V", using="handheld")\n'
        'case.record("I_dev", "2.65 A", using="clamp")',
        'case.valid_only_if("I_dev", case["V_dev"].above("2.0 V"))',
    ]
    folder = make_case(tmp_path / "valid", INSTRUMENTS, cells)
    assert "invalid" in read_results(folder)["quantities"]["I_dev"]["text"]
    assert grave(folder) == []


# With a run ------------------------------------------------------------------------


def test_two_equal_runs_have_no_difference(folder):
    results = read_results(folder)
    assert list(compare_runs(results, json.loads(json.dumps(results)))) == []


def test_another_version_is_a_note_and_another_number_a_fault(folder):
    results = read_results(folder)
    other = json.loads(json.dumps(results))
    other["versions"]["numpy"] = "1.0"
    other["quantities"]["R_source"]["value"] *= 1.01
    other["verdicts"][0]["predictions"][0]["verdict"] = "contradicted"
    found = [(f.severity, f.row) for f in compare_runs(results, other)]
    assert found == [
        ("note", "numpy"),
        ("fault", "R_source"),
        ("fault", "H1: more than 0.1 ohm"),
    ]


def test_a_run_finds_what_reading_cannot(folder):
    """V_left has a branch, so only a run computes it; the case stays as it was."""

    def move(data):
        data["quantities"]["V_left"]["value"] += 0.5

    edit_results(folder, move)
    before = (folder / "results.json").read_bytes()
    assert ("results.json", "V_left") not in grave(folder)
    found = check_case(folder, run=True)
    rows = [f.row for f in found.of("fault")]
    assert "V_left" in rows
    assert "R_source" not in rows
    assert (folder / "results.json").read_bytes() == before


# Findings and the command line -----------------------------------------------------


def test_faults_come_first_and_nothing_twice():
    note, fault = Finding("note", "a", "", "n"), Finding("fault", "b", "", "f")
    assert sorted_findings([note, fault, note]) == (fault, note)


def test_findings_show_control_characters_instead_of_sending_them():
    found = Findings("x", (Finding("fault", "a\x1b[31m", "r\x07", "s\x9b2J"),))
    assert not set(str(found)) & {"\x1b", "\x07", "\x9b"}


@pytest.mark.parametrize(
    ("prepare", "status"),
    [
        (lambda folder: None, 0),
        (lambda folder: edit(folder, "readings.csv", ",12.12,", ",12.52,"), 1),
        (lambda folder: (folder / "results.json").unlink(), 2),
    ],
)
def test_the_exit_status_is_0_clean_1_findings_2_cannot_check(
    folder, prepare, status, capsys
):
    prepare(folder)
    assert cli.main(["check", str(folder)]) == status
    assert "Traceback" not in capsys.readouterr().err


def test_what_is_no_case_cannot_be_checked(tmp_path):
    with pytest.raises(FileError, match="is not there"):
        check_case(tmp_path / "nowhere")
    with pytest.raises(FileError, match="has not been run"):
        check_case(new_case("Pump trips", tmp_path))
