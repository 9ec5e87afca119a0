"""What a meter did to a reading: which formula undoes it, and where that holds."""

from __future__ import annotations

import operator
import re
import unicodedata
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from benchproof.measuring.indications import function_of, indication_of
from benchproof.measuring.instruments import Instrument
from benchproof.measuring.properties import Property, burden_from, property_from
from benchproof.measuring.readings import Reading
from benchproof.values.errors import InputError
from benchproof.values.units import unit_of

KindName = Literal["loading", "burden", "leads", "body", "reversal", "gain"]
Declared = Literal["", "input_resistance", "burden", "lead_resistance"]


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of correction.

    Attributes
    ----------
    function : callable
        SI in and out. The formula alone: `refusal` judges the estimates, and a draw
        of Monte Carlo may lie where no estimate could.
    roles : tuple of str
        Of its arguments, in order; the first is the reading.
    units : tuple of str
        Of the roles.
    equation : str
        As shown beside the result.
    expression : str
        The same in plain Python, with the roles in braces.
    """

    function: Callable[..., Any]
    roles: tuple[str, ...]
    units: tuple[str, ...]
    equation: str
    expression: str

    def text(self, name: str, arguments: Sequence[str]) -> str:
        """Write the formula out as a plain function that anybody can run.

        Examples
        --------
        >>> print(KINDS["leads"].text("R_part", ["R", "R_leads"]))
        def R_part(R, R_leads):
            return R - R_leads
        """
        # A role left out at the end is the zero of a scope, which is then exactly 0.
        filled = dict.fromkeys(self.roles, "0") | dict(
            zip(self.roles, arguments, strict=False)
        )
        body = self.expression.format(**filled)
        return f"def {name}({', '.join(arguments)}):\n    return {body}"


KINDS: dict[KindName, Kind] = {
    "loading": Kind(
        lambda v, r, r_in: v * (1 + r / r_in),
        ("reading", "source", "input_resistance"),
        ("V", "ohm", "ohm"),
        "V = Vm (1 + Rs/Rin)",
        "{reading} * (1 + {source} / {input_resistance})",
    ),
    "burden": Kind(
        lambda i, r_b, r: i * (1 + r_b / r),
        ("reading", "burden", "source"),
        ("A", "ohm", "ohm"),
        "I = Im (1 + Rb/Rs)",
        "{reading} * (1 + {burden} / {source})",
    ),
    "leads": Kind(
        operator.sub,
        ("reading", "leads"),
        ("ohm", "ohm"),
        "R = Rm - Rl",
        "{reading} - {leads}",
    ),
    "body": Kind(
        lambda r, body: 1 / (1 / r - 1 / body),
        ("reading", "body"),
        ("ohm", "ohm"),
        "R = 1/(1/Rm - 1/Rbody)",
        "1 / (1 / {reading} - 1 / {body})",
    ),
    "reversal": Kind(
        lambda plus, minus: (plus - minus) / 2,
        ("plus", "minus"),
        ("V", "V"),
        "V = (V₊ - V₋)/2",
        "({plus} - {minus}) / 2",
    ),
    "gain": Kind(
        lambda v, scope, meter, zero=0.0: meter / (scope - zero) * (v - zero),
        ("reading", "scope", "meter", "zero"),
        ("V", "V", "V", "V"),
        "V = Vm (v - v0)/(vs - v0)",
        "{meter} / ({scope} - {zero}) * ({reading} - {zero})",
    ),
}
"""What can be undone, and how."""


def refusal(kind: KindName, values: Mapping[str, float], u_apart: float = 0.0) -> str:
    """Say why a correction does not hold for these values; "" if it does.

    Parameters
    ----------
    kind : str
        One of `KINDS`.
    values : mapping
        By role, in SI.
    u_apart : float
        Of ``body``: standard uncertainty of body less reading, Ω.

    Examples
    --------
    >>> refusal("leads", {"reading": 0.1, "leads": 0.3})
    'no answer: the leads are larger than the reading. Take four wires'
    >>> refusal("body", {"reading": 1.0e6, "body": 2.4e6})
    ''
    """
    if kind == "loading" and values["source"] < 0:
        return "no answer: the source resistance is below 0. Measure it again"
    if kind == "burden" and not values["source"] > 0:
        return "no answer: the source resistance is not above 0. Measure it again"
    if kind == "leads":
        return _leads(values)
    if kind == "body":
        return _body(values, u_apart)
    if kind == "gain" and values["scope"] == values.get("zero", 0.0):
        return (
            "no answer: the steady level lies at the scope's zero. Take a level away "
            "from it"
        )
    return ""


def _leads(values: Mapping[str, float]) -> str:
    if values["leads"] < 0:
        return "no answer: the lead resistance is below 0. Null the meter, read again"
    if values["leads"] > values["reading"]:
        return "no answer: the leads are larger than the reading. Take four wires"
    return ""


def _body(values: Mapping[str, float], u_apart: float) -> str:
    retake = "Retake it with clips instead of fingers"
    if not values["reading"] > 0:
        return f"no answer: the reading is not above 0. {retake}"
    # A difference of 2 u counts as seen, as where results are compared.
    if not values["body"] - values["reading"] > 2 * u_apart:
        return (
            "no answer: the body's resistance is not larger than the reading by more "
            f"than 2 u. {retake}"
        )
    return ""


def cautions(
    kind: KindName, values: Mapping[str, float], largest_ratio: float
) -> tuple[str, ...]:
    """Say what a careful reader should know about a correction that holds.

    Parameters
    ----------
    kind, values
        As for `refusal`.
    largest_ratio : float
        Of correction to reading; beyond it the correction is flagged.

    Examples
    --------
    >>> cautions("leads", {"reading": 0.5, "leads": 0.2}, 0.1)
    ('the correction is 40 % of the reading, above the 10 % allowed for without \
remark',)
    """
    said = []
    ratio = _ratio(kind, values)
    if ratio > largest_ratio:
        said.append(
            f"the correction is {100 * ratio:.2g} % of the reading, above the "
            f"{100 * largest_ratio:g} % allowed for without remark"
        )
    if kind == "burden":
        said.append(
            "holds for a linear source and a device that did the same with the meter "
            "in; see case.valid_only_if"
        )
    return tuple(said)


def _ratio(kind: KindName, values: Mapping[str, float]) -> float:
    """Return the size of the correction over that of the reading."""
    first = values[KINDS[kind].roles[0]]
    if kind == "loading":
        return values["source"] / values["input_resistance"]
    if kind == "burden":
        return values["burden"] / values["source"]
    if kind == "leads":
        return values["leads"] / first if first else 0.0
    if kind == "body":
        return first / (values["body"] - first)
    if kind == "reversal":
        thermal, signal = first + values["minus"], first - values["minus"]
        return abs(thermal / signal) if signal else 0.0
    return 0.0


def declared_property(
    which: Declared,
    readings: Sequence[Reading],
    instruments: Mapping[str, Instrument],
) -> tuple[str, Property]:
    """Find the property of the instrument that readings were taken with.

    Parameters
    ----------
    which : str
        ``input_resistance``, ``burden`` or ``lead_resistance``.
    readings : sequence of Reading
        Of one measurand, one or more.

    Returns
    -------
    str, Property
        Its name as a constant, e.g. ``handheld_input_resistance``, and what it is.

    Raises
    ------
    InputError
        If there is not exactly one, with where to declare it.
    """
    owners = {_owner(which, reading, instruments) for reading in readings}
    if len({owner.text for owner in owners}) > 1:
        listed = ", ".join(sorted(owner.words for owner in owners))
        raise InputError(
            f"the readings were taken with different {which} ({listed}). Record "
            "them apart"
        )
    owner = min(owners, key=lambda o: o.words)
    if not owner.text:
        raise InputError(
            f"{which} of {owner.words} is not declared. Add {which} = '…' below "
            f"{owner.table} in instruments.toml"
        )
    where = f"instruments.toml, {owner.words}, {which}"
    if which == "burden":
        return owner.constant(which), burden_from(owner.text, owner.top, where)
    return owner.constant(which), property_from(owner.text, ("ohm",), where)


@dataclass(frozen=True, slots=True)
class _Owner:
    """What declares a property: an instrument, its function or a range of that."""

    words: str
    text: str
    top: float = 0.0

    @property
    def table(self) -> str:
        """Head of the table in instruments.toml that the property belongs to."""
        name, *function = (
            part if part.isascii() and part.isidentifier() else f'"{part}"'
            for part in self.words.split(" · ")[:2]
        )
        return f"[{'.'.join([name, *function])}]"

    def constant(self, which: str) -> str:
        """Name the property so that a formula can take it."""
        return plain_name(f"{self.words}_{which}")


def plain_name(text: str) -> str:
    """Make a name of a formula's argument from words.

    Examples
    --------
    >>> plain_name("bench meter · DC V_input_resistance")
    'bench_meter_DC_V_input_resistance'
    """
    return re.sub(r"\W+", "_", unicodedata.normalize("NFKC", text))


def _owner(
    which: Declared, reading: Reading, instruments: Mapping[str, Instrument]
) -> _Owner:
    if not reading.instrument:
        raise InputError(
            f"{reading.measurand} names no instrument, so its {which} is not known. "
            "Record it with using='…'"
        )
    instrument, function = function_of(reading, instruments)
    words = f"{instrument.name} · {function.name}"
    if which == "lead_resistance":
        return _Owner(words, function.leads)
    if which == "input_resistance":
        general = dict(instrument.details).get(which, "")
        own = function.input_resistance
        return _Owner(words, own) if own else _Owner(instrument.name, general)
    if reading.value.bound == "OL" and not reading.range:
        raise InputError(
            f"{reading.measurand}: over-range on a range that is not named, so its "
            "burden is not known. Record it with range='…'"
        )
    used = indication_of(reading, instruments).range
    top = unit_of(function.unit).to_si(used.top)
    return _Owner(f"{words} · {used.label}", used.burden, top)
