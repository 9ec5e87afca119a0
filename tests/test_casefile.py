"""What case.toml and instruments.toml may say, and what is said about mistakes."""

import pytest

from benchproof.keeping.casefile import read_case_file, read_instruments
from benchproof.values.errors import FileError

FULL = """\
format = 1
title = "Pump trips"
invented = true
does_not_show = ["One firmware.", "One afternoon."]
[claim]
text = "It trips"
source = "a neighbour"
date = 2026-01-31
how_often = "9 in 12 h"
[[difference]]
field = "cable"
reported = "2 m"
tested = "1 m"
same = "different"
[[difference]]
field = "firmware"
[hazards]
mains = "unplugged"
heat = ""
"""


def read(tmp_path, text, encoding="utf-8"):
    path = tmp_path / "case.toml"
    path.write_bytes(text.encode(encoding))
    return read_case_file(path)


def refusal(tmp_path, text):
    with pytest.raises(FileError) as caught:
        read(tmp_path, text)
    return str(caught.value)


def test_a_full_case_file_is_read(tmp_path):
    case = read(tmp_path, FULL)
    assert (case.title, case.invented) == ("Pump trips", True)
    assert case.claim.text == "It trips"
    assert case.claim.date == "2026-01-31"
    assert [d.same for d in case.differences] == ["different", "unknown"]
    assert [(h.kind, h.answer) for h in case.hazards] == [
        ("mains", "unplugged"),
        ("heat", ""),
    ]
    assert case.does_not_show == ("One firmware.", "One afternoon.")


def test_an_empty_case_file_is_a_case_without_answers(tmp_path):
    case = read(tmp_path, "")
    assert case.title == "Untitled case"
    assert case.claim.text == ""
    assert case.hazards == ()
    assert not case.invented


def test_a_byte_order_mark_is_no_obstacle(tmp_path):
    assert read(tmp_path, FULL, "utf-8-sig").title == "Pump trips"


def test_a_missing_file_is_named_with_the_way_to_make_one(tmp_path):
    with pytest.raises(FileError, match=r"case.toml is missing from .*benchproof new"):
        read_case_file(tmp_path / "case.toml")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("title = Pump", "line 1"),
        ("format = 2", "newer than this benchproof reads"),
        ('format = "1"', "newer than this benchproof reads"),
        ('claim = "It trips"', "[claim] must be a table"),
        ('hazards = ["mains"]', "[hazards] must be a table"),
        ('[claim]\ntexts = "x"', "'texts' is not one of text, source"),
        ('[difference]\nfield = "x"', "[[difference]]"),
        ('[[difference]]\nreported = "x"', "give field"),
        ('[[difference]]\nfield = "x"\nsame = "yes"', "'same', 'different'"),
    ],
)
def test_a_mistake_in_the_case_file_is_named(tmp_path, text, said):
    message = refusal(tmp_path, text)
    assert message.startswith("case.toml")
    assert said in message


def test_a_text_where_a_list_belongs_is_not_taken_apart(tmp_path):
    assert "does_not_show" in refusal(tmp_path, 'does_not_show = "One unit."')


SURVEYED = """\
[survey]
states = ["asleep", "awake"]
unpowered = ["pack out"]
reference = "P2"
forbidden = [["P1", "P2", "charging current"]]
[[contact]]
name = "P1"
x = "0 mm"
y = "2.54 mm"
[[contact]]
name = "P2"
"""


def test_declared_contacts_are_read(tmp_path):
    plan = read(tmp_path, SURVEYED).survey
    assert plan.names == ("P1", "P2")
    assert plan.contacts[0].place == pytest.approx((0.0, 2.54e-3), rel=1e-12)
    assert plan.forbidden[0].reason == "charging current"


def test_a_case_without_contacts_has_an_empty_survey(tmp_path):
    assert read(tmp_path, FULL).survey.contacts == ()


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('x = "0 mm"', "x = 0", "[[contact]] 'P1': x = 0 has no unit"),
        ('name = "P2"', 'name = "P1"', "name 'P1' stands there 2 times"),
        ('reference = "P2"', "", "reference (the black lead)"),
        ("[[contact]]", "[contact]", "case.toml"),
        ("[survey]", "[[survey]]", "[survey] must be a table"),
        ('[["P1", "P2", "charging current"]]', '"P1"', "forbidden"),
    ],
)
def test_a_mistake_in_the_contacts_is_an_error_of_the_file(tmp_path, old, new, said):
    message = refusal(tmp_path, SURVEYED.replace(old, new))
    assert message.startswith("case.toml")
    assert said in message


CHARGED = """\
[[energy]]
name = "rail capacitor"
kind = "stored charge"
capacitance = "2200 uF"
voltage = "12.1 V"
stop = "above 0.1 V after 5 s"
[[energy]]
name = "axes"
kind = "moving parts"
when = 2026-01-31
"""


def test_declared_energy_sources_are_read(tmp_path):
    rail, axes = read(tmp_path, CHARGED).energies
    assert (rail.name, rail.kind) == ("rail capacitor", "stored charge")
    assert rail.capacitance.highest == pytest.approx(2.2e-3, rel=1e-12)
    assert (rail.stop, rail.check) == ("above 0.1 V after 5 s", "")
    assert (axes.voltage, axes.when) == (None, "2026-01-31")


def test_a_case_may_name_no_energy_source(tmp_path):
    assert read(tmp_path, FULL).energies == ()


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('"2200 uF"', '"2200 V"', "[[energy]] 'rail capacitor', capacitance: 'V'"),
        ('"2200 uF"', '"-2200 uF"', "capacitance: it reaches zero or below. Correct"),
        ('"stored charge"', '"charge"', "kind 'charge'; use one of mains"),
        ('name = "axes"', 'name = "rail capacitor"', "stands there 2 times. Rename"),
        ("stop =", "stops =", "'stops' is not one of name"),
        ("[[energy]]", "[energy]", "case.toml"),
    ],
)
def test_a_mistake_in_an_energy_source_is_an_error_of_the_file(
    tmp_path, old, new, said
):
    message = refusal(tmp_path, CHARGED.replace(old, new))
    assert message.startswith("case.toml")
    assert said in message


def test_a_single_energy_table_is_told_to_use_two_brackets(tmp_path):
    message = refusal(tmp_path, '[energy]\nname = "x"')
    assert "under its own [[energy]] line" in message


def test_a_file_that_is_not_utf8_is_named(tmp_path):
    (tmp_path / "case.toml").write_bytes(b'title = "\xff"')
    with pytest.raises(FileError, match=r"case.toml: .*utf-8"):
        read_case_file(tmp_path / "case.toml")


def test_without_an_instruments_file_no_instrument_is_declared(tmp_path):
    assert read_instruments(tmp_path / "instruments.toml") == {}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('name = "x"', "'name' stands outside an instrument"),
        ("[m]\n", "instrument 'm' has no function"),
        ('[m]\n[m."DC V"]\nunit = "V"\nranges = ["6 V"]', "accuracy is missing"),
        ("[m\n", "line 1"),
    ],
)
def test_a_mistake_in_the_instruments_file_is_named(tmp_path, text, said):
    path = tmp_path / "instruments.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(FileError) as caught:
        read_instruments(path)
    assert str(caught.value).startswith("instruments.toml")
    assert said in str(caught.value)
