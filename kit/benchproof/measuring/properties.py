"""What an instrument does to the circuit, as its maker states it: input and burden."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from benchproof.values.errors import InputError, UnitError
from benchproof.values.quantities import ReadValue, read_values
from benchproof.values.sources import Estimate
from benchproof.values.statements import WORDS, Statement, statement_from
from benchproof.values.units import Unit, require_same_dimension, unit_of

_NUMBER = r"(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?"
_TOLERANCE = re.compile(
    rf"""\s*(?P<value>{_NUMBER}\s*[^\W\d_][^±+(),;]*?)
    \s*(?:±|\+/-|\+-)\s*(?P<half>{_NUMBER})\s*(?P<unit>[^(),;]*?)
    \s*(?:\((?P<words>[^()]*)\))?\s*""",
    re.VERBOSE,
)
_BETWEEN = re.compile(r"±|\+/-|\+-")


@dataclass(frozen=True, slots=True)
class Property:
    """A declared property of an instrument.

    Attributes
    ----------
    value : float
        In SI.
    unit : Unit
        For display.
    stated : Statement or None
        Its uncertainty in `unit`; None if none was stated: it then counts as exact.
    text : str
        As declared.
    """

    value: float
    unit: Unit
    stated: Statement | None
    text: str

    def estimate(self, name: str, instrument: str) -> Estimate:
        """Return its value, with what was stated as one source ``name · stated``."""
        if self.stated is None:
            return Estimate(self.value)
        source = self.stated.source(f"{name} · stated", self.unit, instrument)
        return Estimate(self.value, ((source, 1.0),))


def property_from(text: str, units: tuple[str, ...], where: str) -> Property:
    """Read a property as a data sheet or a certificate states it.

    Parameters
    ----------
    text : str
        ``10 MΩ`` (exact), ``10 MΩ ± 1 %`` or ``10.0 ± 0.1 MΩ`` (limits, unless
        words in brackets say otherwise), ``10 MΩ, U = 0.1 MΩ, k = 2``.
    units : tuple of str
        Of the dimensions it may have.
    where : str
        File, instrument and key, named in error messages.

    Raises
    ------
    InputError
        If it is not one value above 0; UnitError if its unit does not fit.

    Examples
    --------
    >>> found = property_from("10 MΩ ± 1 %", ("ohm",), "meter")
    >>> found.value, round(found.stated.standard_uncertainty, 4)
    (10000000.0, 0.0577)
    """
    match = _TOLERANCE.fullmatch(text)
    value = _one(match["value"] if match else text, text, where)
    unit = unit_of(value.unit)
    fitting = [u for u in units if unit_of(u).dimension == unit.dimension]
    require_same_dimension(unit, unit_of((fitting or list(units))[0]), where)
    stated = value.stated
    if match:
        stated = _tolerance(match, value, unit, where)
    elif stated and _BETWEEN.search(text) and not WORDS.search(text):
        # A data sheet's ± is a limit, as everywhere in instruments.toml.
        stated = statement_from(stated.standard_uncertainty, "limits", where)
    return Property(unit.to_si(value.value), unit, stated, text.strip())


def _one(text: str, whole: str, where: str) -> ReadValue:
    values = read_values(text, where)
    if len(values) != 1 or values[0].bound or values[0].of or not values[0].value > 0:
        raise InputError(
            f"{where}: {whole!r}: write one value above 0, such as '10 MΩ' or "
            "'10 MΩ ± 1 % (limits)'."
        )
    return values[0]


def _tolerance(
    match: re.Match[str], value: ReadValue, unit: Unit, where: str
) -> Statement:
    half, words = float(match["half"]), match["words"] or "limits"
    if not match["unit"]:
        raise UnitError(
            f"{where}: {match[0].strip()!r}: the tolerance has no unit. Write e.g. "
            f"'± {match['half']} %' or '± {match['half']} {unit.symbol}'."
        )
    written = unit_of(match["unit"])
    if not written.dimension:
        return statement_from(half * written.factor * value.value, words, where)
    require_same_dimension(written, unit, where)
    return statement_from(half * written.factor / unit.factor, words, where)


def burden_from(text: str, full_range: float, where: str) -> Property:
    """Read a burden, a resistance or the voltage dropped at full range.

    Parameters
    ----------
    text : str
        ``1.8 ohm``, ``0.2 V``, with a tolerance as for `property_from`.
    full_range : float
        Top of the range, A, > 0.

    Returns
    -------
    Property
        In ohm: a voltage is divided by the range's top.

    Raises
    ------
    InputError
        As for `property_from`.

    Examples
    --------
    >>> round(burden_from("0.2 V", 60e-3, "meter").value, 3)
    3.333
    """
    found = property_from(text, ("ohm", "V"), where)
    if found.unit.dimension == unit_of("ohm").dimension:
        return found
    ohm, step = unit_of("ohm"), found.unit.factor / full_range
    stated = found.stated
    if stated:
        u = stated.standard_uncertainty * step
        stated = replace(stated, standard_uncertainty=u)
    top = f"{full_range:g} A"
    return Property(
        found.value / full_range, ohm, stated, f"{found.text} at full range, {top}"
    )


def states_a_value(text: str) -> bool:
    """Tell a value with its uncertainty from a bare limit.

    Examples
    --------
    >>> states_a_value("0.20 ± 0.05 ohm"), states_a_value("0.2 ohm")
    (True, False)
    >>> states_a_value("U = 0.05 ohm, k = 2"), states_a_value("0.20(3) ohm")
    (False, True)
    """
    value = re.match(rf"\s*{_NUMBER}", text)
    uncertain = rf"{_BETWEEN.pattern}|\d\({_NUMBER}\)|[uU]\s*="
    return bool(value and re.search(uncertain, text))
