"""How an instrument is asked, as it is declared."""

import pytest

from benchproof.measuring.connections import (
    connection_from,
    duration_s,
    for_channel,
)
from benchproof.measuring.instruments import instrument_from
from benchproof.values.errors import InputError, UnitError

RESOURCE = "TCPIP::192.0.2.1::5025::SOCKET"
VOLTS = {"unit": "V", "accuracy": "1 %", "ranges": ["6.000 V"]}


def connection(**table):
    return connection_from({"resource": RESOURCE, **table}, "instruments.toml, meter")


def test_an_instrument_without_a_resource_is_read_by_eye():
    assert connection_from({"DC V": VOLTS}, "here") is None
    assert connection_from({"identity": "INVENTED,BM-1", "DC V": VOLTS}, "here") is None


def test_the_address_is_not_among_the_details_that_are_shown():
    table = {"resource": RESOURCE, "shelf": "3", "DC V": {**VOLTS, "query": "READ?"}}
    meter = instrument_from("meter", table, "here")
    assert meter.details == (("shelf", "3"),)
    assert meter.connection.resource == RESOURCE


def test_what_is_not_declared_has_a_default():
    asked = connection(capture_query="CURV?")
    assert asked.identity_query == "*IDN?"
    assert (asked.timeout_s, asked.line_end, asked.baud_rate) == (2.0, "\n", 0)


def test_everything_declared_is_understood():
    asked = connection(
        identity="INVENTED,BM-1",
        identity_query="ID?",
        timeout="500 ms",
        line_end="\r\n",
        baud_rate=9600,
        visa_library="@py",
        capture_query="CURV?",
        capture_settings=["WFMO?"],
        **{"DC V": {"query": "MEAS?", "range_query": "RANG?"}},
    )
    assert asked.timeout_s == 0.5
    assert asked.line_end == "\r\n"
    assert asked.query_for("DC V", "x").range_text == "RANG?"
    assert asked.sent_texts() == ["ID?", "MEAS?", "RANG?", "WFMO?", "CURV?"]


def test_an_identity_query_can_be_left_out():
    assert connection(identity_query="", capture_query="CURV?").identity_query == ""


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ({}, "nothing to ask"),
        ({"DC V": {"query": "OUTP ON"}}, "asks nothing"),
        ({"DC V": {"query": "READ?;OUTP ON"}}, "asks nothing"),
        ({"DC V": {"query": "READ?\nOUTP ON"}}, "one line"),
        ({"DC V": {"query": "MESSUNG Ω?"}}, "one line"),
        ({"DC V": {"query": 5}}, "text in quotes"),
        ({"DC V": {"range_query": "RANG?"}}, "and no query"),
        ({"capture_query": "CURV?", "timeout": "5 V"}, "no duration"),
        ({"capture_query": "CURV?", "timeout": "0 s"}, "timeout"),
        ({"capture_query": "CURV?", "line_end": "\t"}, "line_end"),
        ({"capture_query": "CURV?", "baud_rate": "fast"}, "baud_rate"),
        ({"capture_query": "CURV?", "baud_rate": True}, "baud_rate"),
        ({"capture_query": "CURV?", "capture_settings": "WFMO?"}, "must be a list"),
        ({"capture_query": "CURV?", "capture_settings": ["HEAD OFF"]}, "asks nothing"),
        ({"capture_query": "CURV?", "resource": ""}, "resource must be a text"),
    ],
)
def test_what_is_not_understood_is_refused_where_it_stands(table, said):
    with pytest.raises(InputError, match=said) as caught:
        connection(**table)
    assert "instruments.toml, meter" in str(caught.value)


@pytest.mark.parametrize("table", [{"timeout": "1 s"}, {"DC V": {"query": "READ?"}}])
def test_a_query_without_a_resource_is_refused(table):
    with pytest.raises(InputError, match="no resource to send it to"):
        connection_from(table, "here")


def test_a_misspelt_key_of_a_function_is_refused():
    table = {"resource": RESOURCE, "DC V": {**VOLTS, "querry": "READ?"}}
    with pytest.raises(InputError, match="'querry' is not one of"):
        instrument_from("meter", table, "here")


def test_commands_in_front_of_a_question_are_listed_for_the_caution():
    asked = connection(capture_query="HEAD OFF;DATA:SOUR {channel};:CURV?")
    assert asked.commands() == ["HEAD OFF", "DATA:SOUR {channel}"]
    assert connection(capture_query="CURV?").commands() == []


def test_a_function_is_named_only_where_several_have_a_query():
    one = connection(**{"DC V": {"query": "A?"}})
    two = connection(**{"DC V": {"query": "A?"}, "Ω": {"query": "B?"}})
    assert one.query_for("", "x").text == "A?"
    assert two.query_for("Ω", "x").text == "B?"
    with pytest.raises(InputError, match="DC V, Ω"):
        two.query_for("", "x")
    with pytest.raises(InputError, match="declare its query"):
        one.query_for("AC V", "x")


@pytest.mark.parametrize("channel", ["CH1;OUTP ON", "", "1\n", "Ω", "a b"])
def test_a_channel_cannot_smuggle_a_command(channel):
    with pytest.raises(InputError, match="letters, digits and underscores"):
        for_channel("CURV? {channel}", channel, "scope")


@pytest.mark.parametrize("text", ["-1 s", "1 s 2 s", ">1 s", "5 V"])
def test_a_duration_is_one_number_of_seconds(text):
    with pytest.raises(InputError):
        duration_s(text, "every")


def test_a_duration_needs_its_unit():
    with pytest.raises(UnitError, match="has no unit"):
        duration_s("5", "every")
