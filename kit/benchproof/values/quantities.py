"""Numbers as people write them: readings in, rounded results out."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import lru_cache
from operator import attrgetter
from typing import Literal

from benchproof.values.errors import InputError, UnitError
from benchproof.values.statements import (
    CERTIFICATE,
    WORDS,
    Statement,
    certificate,
    statement_from,
)
from benchproof.values.units import unit_of

Bound = Literal["", ">", "<", "OL"]

_NUMBER = r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?(?![\d.]|/[^\d\s])"
_VALUE = re.compile(
    rf"""\s*(?:
      (?P<count>\d+)\s*(?:of|/)\s*(?P<of>\d+)
    | (?P<ol>OL|0L)(?![A-Za-z])
    | (?P<number>{_NUMBER})(?:\((?P<shorthand>\d+(?:\.\d*)?)\)
        | \s*(?:±|\+/-|\+-)\s*(?P<plusminus>{_NUMBER}))?
    | (?P<sign>[<>])\s*(?P<limit>{_NUMBER})
    | (?P<pending>\?)
    )""",
    re.VERBOSE,
)


@dataclass(frozen=True, slots=True)
class ReadValue:
    """One reading as typed, still in its own unit.

    Attributes
    ----------
    text, unit : str
        What was typed, kept so that trailing zeros survive.
    value : float
        The number; the bound for a censored reading; NaN for ``OL`` and ``?``.
    step : float
        One unit of the last written digit.
    stated : Statement or None
        Its uncertainty, if given with the number (``5.00(5)``, ``5.00 ± 0.05``).
    bound : {"", ">", "<", "OL"}
        Censored readings carry a bound and never enter a mean.
    of : int or None
        For a count such as ``17 of 20``, the number of attempts.
    """

    text: str
    unit: str
    value: float
    step: float = 0.0
    stated: Statement | None = None
    bound: Bound = ""
    of: int | None = None

    def __eq__(self, other: object) -> bool:
        # Python 3.13 compares field by field, where NaN would differ from itself.
        return isinstance(other, ReadValue) and _PARTS(self) == _PARTS(other)

    @property
    def standard_uncertainty(self) -> float | None:
        """What was stated with the number, in its unit; None if nothing was."""
        return self.stated.standard_uncertainty if self.stated else None


_PARTS = attrgetter("text", "unit", "value", "step", "stated", "bound", "of")


def read_values(text: str, where: str = "reading") -> list[ReadValue]:
    """Read one or several values that share a unit, as typed at the bench.

    Parameters
    ----------
    text : str
        ``12.10 12.10 12.09 V`` · ``5.00(5) V`` (standard uncertainty in the last
        digits) · ``5.00 ± 0.05 V`` (the same; with ``(k=2)`` or ``(95 %)`` an
        expanded one, with ``(limits)``, ``(triangular)``, ``(trapezoidal 0.5)`` or
        ``(arcsine)`` a half-width) · ``5.00 V, U = 0.05 V, k = 2`` as certificates
        write · ``OL MΩ`` · ``>60 MΩ`` · ``<0.5 mV`` · ``17 of 20`` · ``? V`` for a
        measurand still to be measured, ``?`` for a count still to be made.
    where : str
        Named in error messages.

    Returns
    -------
    list of ReadValue
        In the order typed; empty for ``? V``.

    Raises
    ------
    InputError
        If a part is not understood; UnitError if the unit is missing or unknown.

    References
    ----------
    JCGM 100:2008, 7.2.2 (the shorthand gives a standard uncertainty).

    Examples
    --------
    >>> [v.value for v in read_values("12.10 12.09 V")]
    [12.1, 12.09]
    >>> read_values("5.00 ± 0.05 V (k=2)")[0].standard_uncertainty
    0.025
    """
    values: list[ReadValue] = []
    for chunk in _chunks(_uncertified(text, where)):
        values += _read_chunk(chunk, where)
    if not values:
        raise InputError(f"{where}: nothing to read in {text!r}. Write e.g. '12.10 V'.")
    shared = values[-1].unit
    values = [v if v.unit or v.of else _with_unit(v, shared) for v in values]
    if not shared and any(v.of is None and v.text != "?" for v in values):
        raise UnitError(
            f"{where}: {text!r} has no unit. Write e.g. '{text.strip()} V'."
        )
    return [v for v in values if v.text != "?"]


_PLAIN = re.compile(r"[+-]?\d+(\.\d*)?")
_LONGEST = 60
"""Characters of a number; no display shows half as many digits."""


@lru_cache(maxsize=1 << 16)  # a meter shows few different numbers
def plain_value(text: str, unit: str) -> ReadValue | None:
    """Read one plain decimal with a known unit; None for anything else.

    Examples
    --------
    >>> plain_value("12.10", "V").step, plain_value("OL", "V")
    (0.01, None)
    """
    if not unit or len(text) > _LONGEST or not _PLAIN.fullmatch(text):
        return None
    try:
        unit_of(unit)
    except UnitError:
        return None
    return ReadValue(text, unit, float(text), last_digit(text))


def declared_unit(text: str, where: str = "reading") -> str:
    """Return the unit of ``? V``, or of any reading text ('' for counts)."""
    chunk = _chunks(text)[-1]
    return _read_chunk(chunk, where)[-1].unit


def _chunks(text: str) -> list[str]:
    cleaned = text.replace("\N{MINUS SIGN}", "-").replace("\N{NO-BREAK SPACE}", " ")
    if re.search(r"\d,\d", cleaned):
        raise InputError(
            f"{text!r} has a comma inside a number. Write a decimal point "
            "(12.10), and separate readings by spaces."
        )
    # A comma inside brackets belongs to the words of an uncertainty.
    parts = re.split(r"[;,]\s*(?![^()]*\))", cleaned.strip())
    return [c for c in parts if c] or [""]


def _uncertified(text: str, where: str) -> str:
    """Rewrite ``10.00 ohm, U = 0.05 ohm, k = 2`` as ``10.00 ± 0.05 (k = 2) ohm``."""
    match = CERTIFICATE.match(text.strip())
    if not match:
        return text
    values = read_values(match["value"], where)
    if len(values) != 1 or values[0].bound or values[0].of or values[0].stated:
        raise InputError(
            f"{where}: {match['value']!r}: give one value before "
            f"{match['which']} = …, e.g. '10.00 ohm, U = 0.05 ohm, k = 2'."
        )
    value = values[0]
    number, words = certificate(match, value.value, unit_of(value.unit), where)
    return f"{value.text} ± {number:.12g} ({words or 'normal'}) {value.unit}"


def _read_chunk(chunk: str, where: str) -> list[ReadValue]:
    rest, words = _strip_words(chunk)
    found: list[re.Match[str]] = []
    position = 0
    while match := _VALUE.match(rest, position):
        found.append(match)
        position = match.end()
    unit = rest[position:].strip()
    if not found or re.match(r"(?!1/)[\d.]", unit):
        raise InputError(
            f"{where}: cannot read {chunk.strip()!r}. Write numbers and then the unit, "
            "e.g. '12.10 12.09 V', '5.00(5) V', 'OL MΩ', '>60 MΩ' or '17 of 20'."
        )
    if unit:
        _known_unit(unit, chunk, where)
    if words and not any(m["shorthand"] or m["plusminus"] for m in found):
        raise InputError(
            f"{where}: {chunk.strip()!r}: ({words}) belongs to an uncertainty, and "
            f"there is none. Write e.g. '5.00 ± 0.05 V ({words})'."
        )
    return [_value(m, unit, words, where) for m in found]


def _known_unit(unit: str, chunk: str, where: str) -> None:
    try:
        unit_of(unit)
    except UnitError as problem:
        raise UnitError(f"{where}: {chunk.strip()!r}: {problem}") from None


def _strip_words(chunk: str) -> tuple[str, str]:
    match = WORDS.search(chunk)
    if not match:
        return chunk, ""
    return f"{chunk[: match.start()]} {chunk[match.end() :]}", re.sub(
        r"\s*=\s*", "=", match[1].strip()
    )


def _value(match: re.Match[str], unit: str, words: str, where: str) -> ReadValue:
    if match["count"]:
        return _count(match["count"], match["of"], where)
    if match["pending"]:
        return ReadValue("?", unit, math.nan)
    if match["ol"]:
        return ReadValue("OL", unit, math.nan, bound="OL")
    if match["sign"]:
        sign: Bound = ">" if match["sign"] == ">" else "<"
        limit = _finite(match["limit"], where)
        return ReadValue(f"{sign}{match['limit']}", unit, limit, bound=sign)
    return _plain(match, unit, words, where)


def _plain(match: re.Match[str], unit: str, words: str, where: str) -> ReadValue:
    number = match["number"]
    value, step = _finite(number, where), last_digit(number)
    stated = _stated(match, step)
    if stated is None:
        return ReadValue(number, unit, value, step)
    statement = statement_from(stated, words, f"{where}, {match[0].strip()!r}")
    text = match[0].strip() + (f" ({words})" if words else "")
    return ReadValue(text, unit, value, step, statement)


def _finite(number: str, where: str) -> float:
    value = float(number)
    if len(number) > _LONGEST or not math.isfinite(value):
        raise InputError(f"{where}: {number[:60]} is too large to be a reading.")
    return value


def _stated(match: re.Match[str], step: float) -> float | None:
    if match["shorthand"]:
        digits = match["shorthand"]
        return float(digits) * (step if "." not in digits else 1.0)
    if match["plusminus"]:
        return float(match["plusminus"])
    return None


def whole_number(text: str) -> int | None:
    """Read a whole number of 1 to 18 plain digits; None for anything else.

    `str.isdigit` lets ``²`` pass, and `int` refuses thousands of digits in its own
    words.

    Examples
    --------
    >>> whole_number("17"), whole_number("²"), whole_number("-1")
    (17, None, None)
    """
    plain = text.isascii() and text.isdigit() and len(text) <= 18
    return int(text) if plain else None


def _count(said: str, attempts: str, where: str) -> ReadValue:
    count, of = whole_number(said), whole_number(attempts)
    if count is None or of is None or of < 1 or count > of:
        raise InputError(
            f"{where}: '{said[:30]} of {attempts[:30]}' is not a count. "
            "Write how often it happened of how many attempts, e.g. '17 of 20'."
        )
    return ReadValue(f"{count} of {of}", "", float(count), of=of)


def _with_unit(value: ReadValue, unit: str) -> ReadValue:
    return ReadValue(
        value.text,
        unit,
        value.value,
        value.step,
        value.stated,
        value.bound,
        value.of,
    )


def last_digit(number: str) -> float:
    """Return one unit of the last written digit.

    Examples
    --------
    >>> last_digit("12.10"), last_digit("600"), last_digit("1.50e3")
    (0.01, 1.0, 10.0)
    """
    mantissa, _, exponent = number.lower().partition("e")
    decimals = len(mantissa.partition(".")[2])
    return float(f"1e{int(exponent or 0) - decimals}")


_PREFIXES = {-12: "p", -9: "n", -6: "µ", -3: "m", 0: "", 3: "k", 6: "M", 9: "G"}
_TAKE_PREFIX = {"V", "A", "Ω", "W", "F", "H", "C", "J", "S", "Hz", "s", "m"}


def engineering(value: float, symbol: str) -> tuple[float, str]:
    """Return the factor and symbol that show a value with one to four digits.

    A value between 0.001 and 100 000 keeps the unit its author chose.

    Examples
    --------
    >>> engineering(0.000012, "A")
    (1000000.0, 'µA')
    >>> engineering(0.268, "Ω")
    (1.0, 'Ω')
    """
    if symbol not in _TAKE_PREFIX or value == 0 or 1e-3 <= abs(value) < 1e5:
        return 1.0, symbol
    power = 3 * math.floor(math.log10(abs(value)) / 3)
    power = min(max(power, -12), 9)
    return float(f"1e{-power}"), _PREFIXES[power] + symbol


def rounded(value: float, uncertainty: float, figures: int = 2) -> tuple[str, str]:
    """Round an uncertainty to `figures` digits and the value to the same place.

    References
    ----------
    JCGM 100:2008, 7.2.6.

    Examples
    --------
    >>> rounded(3.113333, 0.01054)
    ('3.113', '0.011')
    """
    if not (math.isfinite(uncertainty) and uncertainty > 0):
        return f"{value:.6g}", f"{uncertainty:.2g}"
    places = figures - 1 - math.floor(math.log10(uncertainty))
    # 0.0996 rounds to 0.100: one digit fewer keeps two figures.
    if round(uncertainty, places) >= 10.0 ** (figures - places):
        places -= 1
    shown = max(places, 0)
    return (
        f"{round(value, places):.{shown}f}",
        f"{round(uncertainty, places):.{shown}f}",
    )


def two_figures(number: float) -> str:
    """Write an uncertainty with two significant figures.

    Examples
    --------
    >>> two_figures(0.02458), two_figures(0.0996), two_figures(0.0)
    ('0.025', '0.10', '0')
    """
    return rounded(number, number)[1]


def shorthand(value: float, uncertainty: float, symbol: str = "") -> str:
    """Write a result as ``0.268(12) Ω``: the digits in brackets are u.

    Examples
    --------
    >>> shorthand(0.26792, 0.0121, "Ω")
    '0.268(12) Ω'
    >>> shorthand(12346.0, 230.0, "Ω")
    '12350(230) Ω'
    """
    # A value lost in its uncertainty, 1e-17(0.35) V, takes the prefix of that.
    largest = max(abs(value), uncertainty) if math.isfinite(uncertainty) else value
    scale, symbol = engineering(largest, symbol)
    number, digits = rounded(value * scale, uncertainty * scale)
    if not (math.isfinite(uncertainty) and uncertainty > 0):
        return f"{number} {symbol}".rstrip()
    if "." in digits and float(digits) < 1:
        digits = digits.replace(".", "").lstrip("0")
    return f"{number}({digits}) {symbol}".rstrip()
