"""Results by the name of a case, a file, a bundle or a round."""

import zipfile

import pytest
from bundling import make_case
from conftest import INSTRUMENTS

from benchproof import bundle_case, compare_results
from benchproof.keeping.comparisons.namedresults import (
    labels_of,
    named_results,
    names_of,
)
from benchproof.values.errors import FileError, InputError


@pytest.fixture(scope="module")
def ran(tmp_path_factory):
    return make_case(tmp_path_factory.mktemp("named") / "pump", INSTRUMENTS)


def test_a_bundle_is_read_without_being_run(ran):
    bundle = bundle_case(ran)
    assert bundle.suffix == ".zip"
    found = compare_results(ran, bundle)
    assert (found.moves, found.flips) == ((), ())
    assert named_results(f"{bundle}@1")["number"] == 1


def test_a_zip_file_that_is_no_bundle_is_refused(tmp_path):
    path = tmp_path / "else.zip"
    with zipfile.ZipFile(path, "w") as opened:
        opened.writestr("notes.txt", "nothing")
    with pytest.raises(FileError, match="so it is no bundle"):
        named_results(path)
    path.write_bytes(b"no zip at all, whatever it is called")
    with pytest.raises(FileError, match=r"else\.zip"):
        named_results(path)
    with pytest.raises(FileError, match="is not there"):
        named_results(tmp_path / "gone.zip")


def test_a_round_that_does_not_exist_is_named_without_its_folders(ran):
    with pytest.raises(InputError, match="^pump@7: round 7 does not exist"):
        named_results(f"{ran}@7")


def test_labels_say_no_more_of_a_path_than_is_needed(ran):
    assert labels_of(f"{ran}@1", f"{ran}@2") == ("pump@1", "pump@2")
    assert labels_of(ran, ran) == ("pump", "pump")


def test_the_folder_one_stands_in_is_called_by_its_name(ran, monkeypatch):
    monkeypatch.chdir(ran)
    assert labels_of(".", ".@1") == ("pump", "pump@1")


@pytest.mark.parametrize("pair", ["R_a", "=R_b", "R_a=", ""])
def test_a_pair_that_is_none_is_refused(pair):
    with pytest.raises(InputError, match="which name is which"):
        names_of([pair])


def test_a_name_given_twice_is_refused():
    with pytest.raises(InputError, match="given twice"):
        names_of(["a=b", "a=c"])
    with pytest.raises(InputError, match="given twice"):
        names_of(["a=c", "b=c"])
