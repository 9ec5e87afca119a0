"""What an [[energy]] table may say, and what is said about mistakes."""

import pytest

from benchproof.reasoning.cautions import CAUTIONS
from benchproof.reasoning.energies import QUANTITIES, energy_from
from benchproof.values.errors import InputError, UnitError

RAIL = {"name": "rail", "kind": "stored charge"}


def read(**more):
    return energy_from(RAIL | more, "case.toml")


def refusal(**more):
    with pytest.raises(InputError) as caught:
        read(**more)
    return str(caught.value)


def test_every_quantity_is_read_in_si():
    said = {key: example for key, (_, example) in QUANTITIES.items()}
    energy = read(**said)
    found = {key: getattr(energy, key).highest for key in QUANTITIES}
    assert found == pytest.approx(
        {
            "voltage": 12.1,
            "capacitance": 2200e-6,
            "bleed": 100.0,
            "bleed_to": 0.1,
            "capacity": 7200.0,  # 2 A h
            "current_limit": 0.5,
            "temperature": 328.15,
            "duration": 60.0,
        },
        rel=1e-12,
    )


def test_what_is_not_stated_is_none_and_not_zero():
    energy = read()
    assert [getattr(energy, key) for key in QUANTITIES] == [None] * len(QUANTITIES)
    assert energy.unanswered == ("what was checked", "stop rule")


def test_blank_answers_stay_unanswered():
    assert read(check="  ", stop="smell: stop").unanswered == ("what was checked",)


@pytest.mark.parametrize("kind", CAUTIONS)
def test_each_kind_that_has_a_caution_can_be_named(kind):
    assert energy_from({"name": "x", "kind": kind.upper()}, "case.toml").kind == kind


def test_of_a_negative_rail_the_magnitude_counts():
    amount = read(voltage="-12.0 V").voltage
    assert (amount.text, amount.highest) == ("-12.0 V", 12.0)


def test_a_stated_uncertainty_reaches_two_u_and_limits_their_half_width():
    normal = read(capacitance="2200 ± 100 uF").capacitance
    limits = read(capacitance="2200 ± 440 uF (limits)").capacitance
    assert (normal.lowest, normal.highest) == pytest.approx((2e-3, 2.4e-3), rel=1e-12)
    assert (limits.lowest, limits.highest) == pytest.approx(
        (1.76e-3, 2.64e-3), rel=1e-12
    )


def test_a_stated_uncertainty_of_a_temperature_is_a_difference():
    amount = read(temperature="50 ± 1 degC").temperature
    assert amount.highest - amount.lowest == pytest.approx(4.0, rel=1e-9)


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"name": " "}, "name is missing"),
        ({"kind": "gas"}, "kind 'gas'; use one of mains, lithium cells"),
        ({"kind": ""}, "kind ''"),
        ({"capacitence": "1 F"}, "'capacitence' is not one of name, kind"),
        ({"waveform": "square"}, "waveform 'square'; use 'dc', 'ac rms'"),
        ({"capacitance": 2200}, "2200 has no unit. Write capacitance = '2200 uF'"),
        ({"capacitance": "2200"}, "has no unit"),
        ({"capacitance": "-2200 uF"}, "reaches zero or below"),
        ({"capacitance": "0 uF"}, "reaches zero or below"),
        ({"capacitance": "2200 ± 1200 uF"}, "reaches zero or below"),
        ({"temperature": "-300 degC"}, "absolute zero"),
        ({"voltage": "12 13 V"}, "write one value"),
        ({"voltage": "<60 V"}, "write one value"),
        ({"voltage": "OL V"}, "write one value"),
        ({"voltage": "? V"}, "What is not known is left out"),
        ({"voltage": "3 of 4"}, "write one value"),
        ({"voltage": "1e200 V"}, "Correct number or unit"),
        ({"bleed": "1e-30 ohm"}, "Correct number or unit"),
    ],
)
def test_a_mistake_is_named_with_its_entry_and_a_remedy(more, said):
    message = refusal(**more)
    assert message.startswith("case.toml, [[energy]] ")
    assert said in message


@pytest.mark.parametrize("key", QUANTITIES)
def test_a_quantity_of_another_dimension_is_refused(key):
    with pytest.raises(UnitError, match=f"case.toml, .*'rail', {key}: .*converted"):
        read(**{key: "5 kg"})
