"""Cases of the first version open; files of a newer one are refused and left alone.

``tests/old_cases/first`` is a worked case (invented data) as the first version kept
it, and ``computed.json`` the value and u, in SI, which that version computed from it.
"""

import json
import shutil
from pathlib import Path

import pytest

from benchproof import open_case
from benchproof.keeping.runs.results import FORMAT, read_results
from benchproof.values.errors import FileError

FIRST = Path(__file__).parents[1] / "old_cases" / "first"


@pytest.fixture
def old(tmp_path):
    return Path(shutil.copytree(FIRST, tmp_path / "old"))


def everything(folder):
    return {p.name: p.read_bytes() for p in sorted(folder.iterdir())}


def found_in(view):
    """Return what a case amounts to, in the form of computed.json."""
    found = {}
    for name, measured in view.state().measured.items():
        if measured.count:
            found[name] = list(measured.count)
        elif measured.estimate is None:
            found[name] = measured.status
        else:
            budget = view.budget(name)
            found[name] = [budget.value, budget.standard_uncertainty]
    budget = view.budget("R_source")
    found["R_source"] = [budget.value, budget.standard_uncertainty]
    return found


@pytest.mark.parametrize("number", [1, 2])
def test_a_case_of_the_first_version_gives_the_numbers_it_gave_then(old, number):
    case = open_case(old)

    @case.derive(unit="ohm")
    def R_source(V_idle, V_slew, I_slew):  # noqa: N802 - as its notebook names it
        return (V_idle - V_slew) / I_slew

    then = json.loads((old / "computed.json").read_text(encoding="utf-8"))
    now = found_in(case.at_round(number))
    assert now.keys() == then[f"round {number}"].keys()
    for name, was in then[f"round {number}"].items():
        if isinstance(was, str):
            assert now[name] == was
        else:
            # Nine digits were kept.
            assert now[name] == pytest.approx(was, rel=1e-8), name


def test_opening_and_looking_at_an_old_case_changes_no_byte_of_it(old):
    before = everything(old)
    case = open_case(old)
    assert "Lost alignment" in str(case)
    assert len(case.book.record.readings) == 42
    assert everything(old) == before


def test_an_old_case_is_gone_on_with(old):
    before = (old / "readings.csv").read_bytes()
    case = open_case(old)
    case.new_round(because="years later")
    case.record("V_idle", "12.05 V", using="handheld")
    rival = case.hypothesis("H1", "the socket")
    rival.predicts("it sags", case["V_idle"].below("12 V"))
    after = open_case(old)
    assert (old / "readings.csv").read_bytes().startswith(before)
    assert after.book.record.current_round == 3
    assert after.at_round(1).book.record.of("V_idle", 1)[0].value.text == "12.07"


# Newer ---------------------------------------------------------------------------


def edit(path, old, new):
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def refused(act, folder):
    before = everything(folder)
    with pytest.raises(FileError) as caught:
        act(folder)
    assert everything(folder) == before
    return str(caught.value)


@pytest.mark.parametrize("version", ["2", "17", "2.5", '"next"'])
def test_a_newer_case_is_refused_and_left_as_it_is(old, version):
    edit(old / "case.toml", "format = 1", f"format = {version}")
    said = refused(open_case, old)
    assert said.startswith("case.toml: format ")
    assert "Install a newer one; nothing was changed." in said


def test_a_log_with_a_column_of_a_newer_version_is_refused(old):
    edit(old / "readings.csv", "because,time", "because,mood,time")
    said = refused(open_case, old)
    assert said.startswith("readings.csv line 1: the header should read")
    assert "not expected: 'mood'" in said


def test_a_row_of_a_newer_kind_is_refused(old):
    edit(old / "readings.csv", "r-0002,reading,", "r-0002,feeling,")
    said = refused(open_case, old)
    assert said.startswith("readings.csv line 3, column 'kind': 'feeling'")
    assert "written by a newer benchproof?" in said


def test_results_of_a_newer_version_are_refused(old):
    (old / "results.json").write_text(f'{{"format": {FORMAT + 1}}}', encoding="utf-8")
    said = refused(read_results, old)
    assert "install a newer benchproof" in said


def test_an_instrument_with_a_property_of_a_newer_version_is_refused(old):
    edit(old / "instruments.toml", "\nunit = ", "\nmood = 3\nunit = ")
    said = refused(open_case, old)
    assert said.startswith("instruments.toml, ")
    assert "'mood' is not one of" in said
