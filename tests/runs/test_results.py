"""What a run leaves in results.json, and what is said when it cannot be read."""

import json

import pytest

from benchproof import open_case
from benchproof.keeping.runs.results import (
    code_hash,
    does_not_show,
    read_results,
    results_of,
    save_results,
    write_json,
)
from benchproof.values.errors import FileError, InputError


@pytest.fixture
def results(case):
    case.record("V_idle", "12.10 12.12 V", using="handheld")
    case.record("V_load", "11.60 11.62 V", using="handheld")
    case.record("V_late", "? V")
    case.constant("exact", "2 V")

    @case.derive(unit="mV")
    def sag(V_idle, V_load):
        return V_idle - V_load

    rival = case.hypothesis("H1", "It sags")
    rival.predicts("more than 0.2 V", case["sag"].above("0.2 V"))
    case.conclude("{sag}")
    return results_of(case)


def test_results_are_plain_data(results):
    again = json.loads(json.dumps(results, allow_nan=False))
    assert again == results


def test_a_quantity_keeps_its_value_in_its_own_unit(case, results):
    kept = results["quantities"]["sag"]
    assert kept["unit"] == "mV"
    assert kept["value"] == pytest.approx(500)
    assert kept["standard_uncertainty"] == pytest.approx(
        case["sag"].standard_uncertainty
    )
    assert "return V_idle - V_load" in kept["formula"]
    assert kept["text"] == str(case["sag"])


def test_contributions_add_up_to_the_standard_uncertainty(results):
    kept = results["quantities"]["sag"]
    squares = sum(c * c for c in kept["contributions"].values())
    assert squares**0.5 == pytest.approx(kept["standard_uncertainty"])


def test_every_source_is_described_once_with_what_monte_carlo_would_need(results):
    named = {
        n for q in results["quantities"].values() for n in q.get("contributions", {})
    }
    assert set(results["sources"]) == named
    assert results["sources"]["handheld · DC V · 60 V · gain"] == {
        "evaluation": "B",
        "distribution": "rectangular",
        "shape": 0.0,
        "unit": "%",
        "standard_uncertainty": pytest.approx(0.5 / 3**0.5),
        "degrees_of_freedom": None,
        "instrument": "handheld",
    }
    scatter = results["sources"]["V_idle · repeatability"]
    assert (scatter["evaluation"], scatter["degrees_of_freedom"]) == ("A", 1)
    assert results["joints"] == []


def test_what_was_read_together_is_kept_with_its_correlation(case):
    case.record_together({"V": "5.00 5.01 5.03 V", "R": "10.0 10.2 10.1 ohm"})
    (joint,) = results_of(case)["joints"]
    assert joint["names"] == ["V · repeatability", "R · repeatability"]
    assert joint["correlation"][0][1] == pytest.approx(case.correlation("V", "R"))
    assert joint["degrees_of_freedom"] == 2


def test_a_quantity_not_measured_has_a_text_and_no_value(results):
    assert results["quantities"]["V_late"] == {"text": "(not measured yet)"}


def test_infinite_degrees_of_freedom_are_kept_as_null(results):
    assert results["quantities"]["exact"]["degrees_of_freedom"] is None


def test_results_name_the_readings_they_rest_on(case, results):
    count, digest = case.book.fingerprint()
    assert (
        results["readings"]
        == {"rows": count, "sha256": digest}
        == {
            "rows": 4,
            "sha256": digest,
        }
    )
    case.record("V_more", "1.00 V", using="handheld")
    assert case.book.fingerprint() != (count, digest)


def test_results_name_the_versions_of_what_computed_them(results):
    assert {"python", "benchproof", "numpy", "pint"} <= set(results["versions"])


def test_what_is_not_shown_names_gaps_of_sample_and_hazards(case_folder):
    (case_folder / "case.toml").write_text(
        'does_not_show = ["One afternoon."]\n[hazards]\nheat = ""\nlasers = "none"\n'
        '[[difference]]\nfield = "cable"\n[[difference]]\nfield = "unit"\n'
        'same = "same"\n',
        encoding="utf-8",
    )
    said = does_not_show(open_case(case_folder))
    assert said[0] == "One afternoon."
    assert said[1].startswith("1 unit was tested: up to 95 % of the others")
    assert said[2].startswith("A cause that is sufficient on a bench need not be")
    assert "nknown between" in said[3]
    assert "cable" in said[3]
    assert said[4] == "Hazard questions without an answer: heat."
    assert len(said) == 5


def test_saving_writes_the_results_of_the_case_of_that_folder(case):
    case.record("V", "5.00 V", using="handheld")
    save_results(str(case.folder), "2026-01-31T12:00:00Z", "abc")
    saved = read_results(case.folder)
    assert (saved["ran_at"], saved["code_sha256"]) == ("2026-01-31T12:00:00Z", "abc")
    assert saved["quantities"]["V"]["text"] == str(case["V"])


def test_saving_without_an_open_case_says_how_to_begin(tmp_path):
    with pytest.raises(InputError, match="Begin the notebook with"):
        save_results(str(tmp_path), "2026-01-31T12:00:00Z", "abc")


def test_writing_that_fails_leaves_the_old_file(tmp_path):
    path = tmp_path / "results.json"
    write_json(path, {"a": 1})
    with pytest.raises(ValueError, match="not JSON compliant"):
        write_json(path, {"a": float("nan")})
    assert json.loads(path.read_text(encoding="utf-8")) == {"a": 1}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (None, "benchproof run"),
        ("{", "Run the case again"),
        ("[]", "not a results file of format 1"),
        ('{"format": 2}', "not a results file of format 1"),
    ],
)
def test_results_that_cannot_be_read_are_named(tmp_path, text, said):
    if text is not None:
        (tmp_path / "results.json").write_text(text, encoding="utf-8")
    with pytest.raises(FileError, match=said) as caught:
        read_results(tmp_path)
    assert str(caught.value).startswith("results.json")


def test_the_hash_of_code_sees_where_a_cell_ends():
    assert code_hash(["ab", "c"]) != code_hash(["a", "bc"])
    assert code_hash(["a"]) == code_hash(["a"])


def test_a_source_of_energy_without_a_check_is_among_what_is_not_shown(case_folder):
    text = (case_folder / "case.toml").read_text(encoding="utf-8")
    energy = '\n[[energy]]\nname = "bulk capacitor"\nkind = "stored charge"\n'
    (case_folder / "case.toml").write_text(text + energy, encoding="utf-8")
    said = does_not_show(open_case(case_folder))
    assert any("bulk capacitor" in sentence for sentence in said)
