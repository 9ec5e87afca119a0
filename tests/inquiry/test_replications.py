"""What others measured: read with care, compared, pooled only when asked."""

import pytest

from benchproof.keeping.inquiry.replications import read_replications
from benchproof.values.errors import FileError, InputError

RESULT = '[[result]]\nquantity = "I"\nvalue = {}\nunit = "{}"\nU = {}\nk = 2\nn = 3\n'


def replicate(case, name, value, expanded, unit="uA", firmware="1.2", more=""):
    folder = case.folder / "replication"
    folder.mkdir(exist_ok=True)
    (folder / f"{name}.toml").write_text(
        f'by = "{name}"\ndevice = "unit of {name}"\nfirmware = "{firmware}"\n'
        + RESULT.format(value, unit, expanded)
        + more,
        encoding="utf-8",
    )


@pytest.fixture
def beacon(case_folder, case):
    (case_folder / "case.toml").write_text(
        'title = "x"\ninvented = true\n[sample]\nfirmware = "1.2"\ndevice = "rev B"\n'
    )
    fresh = type(case)(case_folder, case.book.clock)
    fresh.record("I", "410.0(3.0) uA")
    return fresh


# Four invented replicators and one of another firmware; the chi-square and the Birge
# ratio of the four were worked out beside the kit.
FOUR = {"r1": (411, 9), "r2": (402, 12), "r3": (431, 15), "r4": (398, 10)}


def test_the_scatter_of_four_units_is_found_and_one_firmware_kept_apart(beacon):
    for name, (value, expanded) in FOUR.items():
        replicate(beacon, name, value, expanded)
    replicate(beacon, "r5", 37, 3, firmware="2.0")
    found = beacon.replications("I")
    assert set(found.groups) == {"1.2"}
    assert len(found.groups["1.2"].values) == 5
    assert found.pooled is None
    assert found.refused == ""
    other = next(r for r in found.others if r.by == "r5")
    # |410 - 37| / hypot(6, 3), U at k = 2.
    assert found.e_n(other) == pytest.approx(55.6, abs=0.05)


def test_without_an_own_value_the_others_are_held_against_each_other(case):
    case.record("I", "? uA")
    for name, (value, expanded) in FOUR.items():
        replicate(case, name, value, expanded)
    found = case.replications("I")
    (group,) = found.groups.values()
    assert group.chi_square == pytest.approx(14.85, abs=0.005)
    assert group.birge_ratio == pytest.approx(2.22, abs=0.005)
    assert not group.consistent
    assert "not consistent at 95 %" in found.table().notes[0]
    assert found.own is None
    assert found.table().rows[0][-1] == ""


def test_values_are_converted_and_each_is_shown_as_it_was_given(beacon):
    replicate(beacon, "r1", 0.411, 0.009, unit="mA")
    row = beacon.replications("I").table().rows[1]
    assert row == ("r1", "unit of r1", "1.2", "0.411 mA", "0.009", "2", "3",
                   "411.0(4.5) µA", "0.092")  # fmt: skip


def test_consistent_values_are_pooled_only_when_asked(beacon):
    replicate(beacon, "r1", 411, 6)
    assert beacon.replications("I").pooled is None
    pooled = beacon.replications("I", pool=True).pooled
    # Equal u of 3 µA: the mean of 410 and 411 with u = 3/√2.
    assert pooled.value == pytest.approx(410.5e-6)
    assert pooled.standard_uncertainty == pytest.approx(3e-6 / 2**0.5)


def test_values_that_disagree_are_not_pooled_without_a_declared_spread(beacon):
    replicate(beacon, "r1", 450, 6)
    found = beacon.replications("I", pool=True)
    assert found.pooled is None
    assert "not pooled" in found.refused
    spread = beacon.replications("I", pool=True, spread="between units")
    assert spread.pooled.between_units > 0


def test_another_firmware_is_not_pooled(beacon):
    replicate(beacon, "r1", 411, 6, firmware="2.0")
    found = beacon.replications("I", pool=True)
    assert found.pooled is None
    assert "the firmware differs (1.2, 2.0)" in found.refused


def test_the_report_lists_what_nobody_here_measured_as_such(beacon):
    replicate(beacon, "r1", 411, 6, more=RESULT.format(1, "V", 2).replace('"I"', '"X"'))
    table = beacon.report("replications")
    assert [row[0] for row in table.rows] == ["I", "I"]
    assert "X: replicated, but no quantity of this case." in table.notes


def test_without_files_there_is_nothing_to_report(beacon):
    assert beacon.report("replications").rows == ()
    assert read_replications(beacon.folder) == []


def test_an_unknown_quantity_is_named(beacon):
    with pytest.raises(InputError, match="no quantity 'J'"):
        beacon.replications("J")


def test_a_unit_of_another_dimension_names_the_file(beacon):
    replicate(beacon, "r1", 411, 6, unit="V")
    with pytest.raises(FileError, match=r"replication/r1\.toml, I:"):
        beacon.replications("I")


@pytest.mark.parametrize(
    ("old", "new", "match"),
    [
        ("U = 6", "U = 0", r"r1\.toml, result 1 \(I\).*U above 0"),
        ("k = 2", "k = -2", "k above 0"),
        ("U = 6\n", "", "U is missing"),
        ("value = 411", 'value = "411"', "without quotes"),
        ("value = 411", "value = nan", "value is nan"),
        ("n = 3", "n = 0", "whole number of readings"),
        ('unit = "uA"', "unit = 3", "unit is 3"),
        ('unit = "uA"', 'unit = "parrots"', r"result 1 \(I\).*'parrots' is not known"),
        ("k = 2", "kk = 2", "'kk' is not one of"),
        ('by = "r1"', 'by = ""', "by is empty"),
        ('by = "r1"', 'whose = "r1"', "'whose' is not one of"),
        ('by = "r1"', 'format = 2\nby = "r1"', "newer than this benchproof"),
        ("[[result]]", "[[results]]", "'results' is not one of"),
        ('quantity = "I"', 'quantity = ""', "no quantity"),
        ('by = "r1"', "by = ", r"r1\.toml"),
    ],
)
def test_a_bad_entry_is_refused_with_file_and_entry(beacon, old, new, match):
    replicate(beacon, "r1", 411, 6)
    path = beacon.folder / "replication" / "r1.toml"
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new))
    with pytest.raises(FileError, match=match):
        beacon.replications("I")


def test_values_of_one_firmware_can_be_asked_for(beacon):
    replicate(beacon, "r1", 411, 6)
    replicate(beacon, "r2", 511, 6, firmware="1.3")
    both = beacon.replications("I")
    assert [found.by for found in both.others] == ["r1", "r2"]
    older = beacon.replications("I", firmware="1.3")
    assert [found.by for found in older.values()] == ["r2"]
    ours = both.own.firmware
    assert beacon.replications("I", firmware="1.2").own == (
        both.own if ours == "1.2" else None
    )


def test_a_firmware_nobody_has_is_refused(beacon):
    replicate(beacon, "r1", 411, 6)
    with pytest.raises(InputError, match="nobody has firmware '9'.*1.2"):
        beacon.replications("I", firmware="9")
