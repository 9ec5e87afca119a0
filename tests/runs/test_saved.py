"""Values of an earlier run, read back with what they have in common."""

import json
import math
import shutil
from pathlib import Path

import numpy as np
import pytest
from uncertainties import correlation_matrix

from benchproof import captures, line_intercept, line_slope, open_case
from benchproof.keeping.runs.results import results_of, save_results, write_json
from benchproof.keeping.runs.saved import open_results
from benchproof.values.errors import FileError, InputError, PendingError

NOTEBOOKS = Path(__file__).parents[2] / "notebooks"


def save(case, **changes):
    path = case.folder / "results.json"
    write_json(path, results_of(case) | changes)
    return path


@pytest.fixture
def two_readings(case):
    """Two voltages on one range: the gain is common, the offsets are not."""
    case.record("V_idle", "12.10 12.12 12.09 V", using="handheld")
    case.record("V_load", "11.60 11.62 11.63 V", using="handheld")
    case.record("V_late", "? V")
    case.record("R_leak", "OL Mohm", using="handheld")
    case.constant("exact", "2 V")

    @case.derive(unit="mV")
    def sag(V_idle, V_load):
        return V_idle - V_load

    return case


@pytest.fixture(scope="module")
def worked_example(tmp_path_factory):
    """The worked case with the published readings, run in this process and saved."""
    folder = tmp_path_factory.mktemp("gum") / "gum-h2"
    shutil.copytree(NOTEBOOKS / "gum-h2", folder)
    (folder / "results.json").unlink(missing_ok=True)
    notebook = json.loads((folder / "investigation.ipynb").read_text(encoding="utf-8"))
    cells = [
        "".join(c["source"]) for c in notebook["cells"] if c["cell_type"] == "code"
    ]
    names = {}
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        for cell in cells:
            if "monte_carlo" not in cell:  # slow, and it leaves nothing to save
                exec(cell, names)
        save_results(str(folder), "2026-01-31T12:00:00Z", "not hashed")
    return open_results(folder)


# JCGM 100:2008, H.2, Tables H.3 and H.4 (read). u(X) of the fifteen readings is
# 0.2956, a last digit more than printed: hence 0.002 there.
@pytest.mark.parametrize(
    ("name", "value", "u", "tolerance"),
    [
        ("R", 127.732, 0.071, 0.001),
        ("X", 219.847, 0.295, 0.002),
        ("Z", 254.260, 0.236, 0.001),
    ],
)
def test_published_values_survive_saving(worked_example, name, value, u, tolerance):
    found = worked_example[name]
    assert str(found.units) == "ohm"
    assert found.magnitude.nominal_value == pytest.approx(value, abs=0.001)
    assert found.magnitude.std_dev == pytest.approx(u, abs=tolerance)


@pytest.mark.parametrize(
    ("first", "second", "r"),
    [("R", "X", -0.588), ("R", "Z", -0.485), ("X", "Z", 0.993)],
)
def test_published_correlations_survive_saving(worked_example, first, second, r):
    assert worked_example.correlation(first, second) == pytest.approx(r, abs=0.001)
    pair = [worked_example[n].magnitude for n in (first, second)]
    assert correlation_matrix(pair)[0, 1] == pytest.approx(r, abs=0.001)


def test_the_impedance_squared_is_that_of_its_two_parts(worked_example):
    # Z² = R² + X² holds for every reading, so nothing uncertain may be left over;
    # 2 R u(R) is 18 Ω², so that 1e-6 of it is rounding.
    R, X, Z = (worked_example[n] for n in "RXZ")
    rest = (Z**2 - R**2 - X**2).magnitude
    assert abs(rest.nominal_value) < 1e-6
    assert rest.std_dev < 2e-5


def test_readings_taken_apart_stay_uncorrelated_after_saving(worked_example):
    assert worked_example.correlation("V_apart", "I_apart") == 0.0
    assert worked_example.correlation("V", "I") == pytest.approx(-0.36, abs=0.005)


def test_a_value_minus_itself_is_exactly_zero(worked_example, two_readings):
    for saved in (worked_example, open_results(save(two_readings))):
        for name in saved.names():
            if saved.quantities[name].value is not None:
                rest = (saved[name] - saved[name]).magnitude
                assert (rest.nominal_value, rest.std_dev) == (0.0, 0.0)


def test_a_shared_gain_cancels_between_saved_readings(two_readings):
    saved = open_results(save(two_readings))
    again = (saved["V_idle"] - saved["V_load"]).to("mV").magnitude
    sag = saved["sag"].magnitude
    assert again.std_dev == pytest.approx(sag.std_dev, rel=1e-9)
    assert (saved["sag"] - saved["V_idle"] + saved["V_load"]).magnitude.std_dev < (
        1e-9 * sag.std_dev
    )


def test_saved_correlations_are_those_of_the_case(two_readings):
    saved = open_results(save(two_readings))
    for pair in [("V_idle", "V_load"), ("V_idle", "sag"), ("V_load", "sag")]:
        r = two_readings.correlation(*pair)
        assert abs(r) > 0.01
        assert saved.correlation(*pair) == pytest.approx(r, rel=1e-9)


def test_an_exact_constant_comes_back_with_an_uncertainty_of_zero(two_readings):
    saved = open_results(save(two_readings))
    exact = saved["exact"].magnitude
    assert (exact.nominal_value, exact.std_dev) == (2.0, 0.0)
    assert saved.correlation("exact", "V_idle") == 0.0
    assert math.isinf(saved.quantities["exact"].degrees_of_freedom)


def test_a_temperature_comes_back_on_its_own_scale(case):
    case.record("T", "20.0(5) °C")
    found = open_results(save(case))["T"]
    assert found.to("K").magnitude.nominal_value == pytest.approx(293.15)
    assert found.magnitude.std_dev == pytest.approx(0.5)


def test_every_quantity_is_listed_with_or_without_a_value(two_readings):
    saved = open_results(save(two_readings))
    assert saved.names() == two_readings.names()
    shown = str(saved.table())
    assert str(two_readings["sag"]) in shown
    assert "(not measured yet)" in shown
    assert "<table" in saved._repr_html_()


def test_a_quantity_without_a_value_says_what_it_was(two_readings):
    saved = open_results(save(two_readings))
    with pytest.raises(PendingError, match=r"V_late was saved .*\(not measured yet\)"):
        saved["V_late"]
    with pytest.raises(PendingError, match="R_leak was saved without a value: > 59"):
        saved.correlation("R_leak", "sag")


def test_an_unknown_name_is_answered_with_the_closest(two_readings):
    saved = open_results(save(two_readings))
    with pytest.raises(InputError, match=r"no quantity 'V_idl'. Did you mean V_idle"):
        saved["V_idl"]


# Two files ------------------------------------------------------------------------


@pytest.fixture
def two_cases(case_folder, tmp_path):
    """Two cases in which a meter called `handheld` reads the same voltage."""
    files = []
    for name in ("first", "second"):
        folder = tmp_path / name
        folder.mkdir()
        for file in ("case.toml", "instruments.toml"):
            shutil.copy(case_folder / file, folder / file)
        case = open_case(folder)
        case.record("V", "12.10 12.12 12.09 V", using="handheld")
        files.append(save(case))
    return files


def test_values_of_two_files_are_independent(two_cases):
    first, second = map(open_results, two_cases)
    r = correlation_matrix([first["V"].magnitude, second["V"].magnitude])[0, 1]
    assert r == 0.0


def test_two_files_of_the_same_meter_share_its_gain_and_nothing_else(two_cases):
    first = open_results(two_cases[0])
    second = open_results(two_cases[1], same_instruments_as=first)
    r = correlation_matrix([first["V"].magnitude, second["V"].magnitude])[0, 1]
    parts = first.quantities["V"].contributions
    (gain,) = (c for name, c in parts.items() if name.endswith("· gain"))
    assert r == pytest.approx(gain**2 / sum(c * c for c in parts.values()))
    assert 0.1 < r < 0.9


# Files that cannot be used --------------------------------------------------------


def changed(case, *keys, to):
    """Save a case, with one entry of the file replaced."""
    path = save(case)
    data = json.loads(path.read_text(encoding="utf-8"))
    holder = data
    for key in keys[:-1]:
        holder = holder[key]
    holder[keys[-1]] = to
    path.write_text(json.dumps(data), encoding="utf-8")
    return path


GAIN = "handheld · DC V · 60 V · gain"


@pytest.mark.parametrize(
    ("keys", "to", "said"),
    [
        (["quantities", "sag", "value"], "12", "sag, value: '12' is not a finite"),
        (["quantities", "sag", "value"], math.nan, "sag, value: nan is not a finite"),
        (["quantities", "sag", "value"], True, "sag, value: True is not a finite"),
        (
            ["quantities", "sag", "unit"],
            "volty",
            "sag, unit: unit 'volty' is not known",
        ),
        (["quantities", "sag", "text"], None, "sag, text: None is not a text"),
        (
            ["quantities", "sag", "standard_uncertainty"],
            1.0,
            "does not follow from its",
        ),
        (
            ["quantities", "sag", "contributions", GAIN],
            99.0,
            "does not follow from its",
        ),
        (["quantities", "sag", "contributions", "other"], 0.0, "'other' is not among"),
        (
            ["quantities", "sag", "degrees_of_freedom"],
            "many",
            "degrees_of_freedom: 'ma",
        ),
        (["quantities", "sag"], 5, "quantities, sag: 5 is not an object"),
        (["sources", GAIN], None, "gain: None is not an object"),
        (["joints"], {}, "joints: {} is not a list"),
        (["joints"], [3], "joints, 0: 3 is not an object"),
    ],
)
def test_a_changed_entry_is_refused_by_file_and_name(two_readings, keys, to, said):
    path = changed(two_readings, *keys, to=to)
    with pytest.raises(FileError) as caught:
        open_results(path)
    assert str(caught.value).startswith("results.json, ")
    assert said in str(caught.value)
    assert str(caught.value).endswith("run the case again.")


@pytest.mark.parametrize(
    "matrix",
    [
        [[1.0, 0.5], [0.4, 1.0]],
        [[1.0, 2.0], [2.0, 1.0]],
        [[0.5, 0.5], [0.5, 0.5]],
        [[1.0, 0.5]],
        [[1.0, None], [None, 1.0]],
        "none",
    ],
)
def test_a_matrix_that_is_no_correlation_is_refused(case, matrix):
    case.record_together({"V": "5.00 5.01 5.03 V", "I": "1.0 1.2 1.1 A"})
    path = changed(case, "joints", 0, "correlation", to=matrix)
    with pytest.raises(FileError, match="joints, 0, correlation"):
        open_results(path)


def test_three_coefficients_that_contradict_each_other_are_refused(case):
    case.record_together(
        {"V": "5.00 5.01 5.03 V", "I": "1.0 1.2 1.1 A", "T": "300 301 300 K"}
    )
    matrix = [[1, 0.9, -0.9], [0.9, 1, 0.9], [-0.9, 0.9, 1]]
    path = changed(case, "joints", 0, "correlation", to=matrix)
    with pytest.raises(FileError, match="not a correlation matrix"):
        open_results(path)


@pytest.mark.parametrize("lost", ["sources", "joints"])
def test_an_older_file_asks_for_another_run(two_readings, lost):
    path = save(two_readings)
    data = json.loads(path.read_text(encoding="utf-8"))
    del data[lost]
    path.write_text(json.dumps(data), encoding="utf-8")
    with pytest.raises(FileError, match="Run the case again: benchproof run CASE"):
        open_results(two_readings.folder)


def test_a_missing_file_says_how_to_make_it(tmp_path):
    with pytest.raises(FileError, match="benchproof run CASE"):
        open_results(tmp_path)


def discharge(t, V, tau):
    return V * np.exp(-t / tau)


@pytest.fixture
def two_fits(case):
    """Kept in the case: a model fitted to a capture, and a line through readings."""
    rng = np.random.default_rng(3)
    volts = discharge(np.arange(2000) * 1e-4, 12, 0.05) + rng.normal(0, 0.01, 2000)
    record = captures.Trace(
        "fall.csv",
        volts,
        1e-4,
        captures.Settings("scope", "CH1", accuracy="1 % of reading"),
    )
    fitted = captures.fit_model(record, discharge, {"V": "5 V", "tau": "100 ms"})
    for name, finding in fitted.parameters.items():
        case.captures.keep(f"fit_{name}", finding)
    for i, text in enumerate(("12.10 V", "11.85 V", "11.39 V")):
        case.record(f"V{i}", text, using="handheld")

    @case.derive(unit="V")
    def rise(V0, V1, V2):
        return line_slope([0, 1, 2], [V0, V1, V2])

    @case.derive(unit="V")
    def begin(V0, V1, V2):
        return line_intercept([0, 1, 2], [V0, V1, V2])

    return fitted, save(case)


def test_a_fit_whose_parameters_are_kept_comes_back_with_its_covariance(two_fits):
    fitted, file = two_fits
    saved = open_results(file)
    V, tau = (fitted.parameters[name] for name in ("V", "tau"))
    assert saved["fit_V"].magnitude.nominal_value == pytest.approx(V.value)
    shares = dict((s.name, c * s.standard_uncertainty) for s, c in tau.parts)
    covariance = sum(
        c * s.standard_uncertainty * shares.get(s.name, 0) for s, c in V.parts
    )
    r = covariance / (V.standard_uncertainty * tau.standard_uncertainty)
    assert abs(r) > 0.001
    assert saved.correlation("fit_V", "fit_tau") == pytest.approx(r)


def test_a_line_made_of_formulas_comes_back_with_its_correlation(two_fits):
    saved = open_results(two_fits[1])
    r = saved.correlation("rise", "begin")
    assert -1 < r < -0.1
    both = correlation_matrix([saved["rise"].magnitude, saved["begin"].magnitude])
    assert both[0][1] == pytest.approx(r)
