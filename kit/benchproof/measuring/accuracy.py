"""Accuracy lines: what a maker promises about one reading."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from benchproof.values.errors import InputError
from benchproof.values.units import require_same_dimension, unit_of

_TERM = re.compile(
    r"""\s*\+?\s*(?P<number>\d+(?:\.\d*)?(?:[eE][+-]?\d+)?|\.\d+)\s*
    (?P<kind>
      (?:%|ppm)\s*(?:of\s+)?(?:the\s+)?(?:full\s*scale|full\s*screen|f\.?\s?s\.?|range)
    | (?:%|ppm)\s*(?:of\s+)?(?:the\s+)?(?:reading|rdg\.?|value)
    | %|ppm
    | (?:digits?|counts?|dgts?|d|lsd)\b
    | [^\d+\s][^+]*
    | (?=\+|$)
    )\s*""",
    re.VERBOSE | re.IGNORECASE,
)
_FULL = re.compile(r"full\s*scale|full\s*screen|f\.?\s?s\.?$|range", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class AccuracyLine:
    """``±(p of the reading + q of the range + n digits + a)``, a limit of error.

    Attributes
    ----------
    of_reading, of_range : float
        Fractions (0.005 for 0.5 %), >= 0.
    digits : float
        Units of the last digit of the range in use.
    absolute : float
        In the unit `absolute_unit`.
    text : str
        As the maker wrote it.

    Examples
    --------
    >>> line = AccuracyLine(of_reading=0.005, digits=3)
    >>> round(line.half_width(12.10, digit=0.01), 4)
    0.0905
    """

    of_reading: float = 0.0
    of_range: float = 0.0
    digits: float = 0.0
    absolute: float = 0.0
    absolute_unit: str = ""
    text: str = ""

    def fixed_half_width(self, range_top: float, digit: float) -> float:
        """Half-width of the part that does not grow with the reading."""
        return self.of_range * range_top + self.digits * digit + self.absolute

    def half_width(
        self, reading: float, range_top: float = 0.0, digit: float = 0.0
    ) -> float:
        """Return the limit of error of one reading.

        Parameters
        ----------
        reading, range_top, digit : float
            The reading, the top of the range in use and one last digit of it, all
            in the same unit; an absolute term counts as being in that unit too.

        Returns
        -------
        float
            Half-width of the interval, same unit.

        Examples
        --------
        >>> line = accuracy_line("±(0.5 % + 3 digits)")
        >>> round(line.half_width(5.034, range_top=6, digit=0.001), 5)
        0.02817
        """
        gain = self.of_reading * abs(reading)
        return gain + self.fixed_half_width(range_top, digit)

    def standard_uncertainty(
        self, reading: float, range_top: float = 0.0, digit: float = 0.0
    ) -> float:
        """Return half-width/√3, the usual figure for one reading taken alone.

        A case keeps the gain and the fixed part as two sources instead, so that
        the gain can be shared by readings of one range.

        References
        ----------
        JCGM 100:2008, 4.3.7.

        Examples
        --------
        >>> line = accuracy_line("±(0.5 % + 3 digits)")
        >>> round(line.standard_uncertainty(5.034, 6, 0.001), 5)
        0.01626
        """
        return self.half_width(reading, range_top, digit) / math.sqrt(3)

    def covers_resolution(self) -> bool:
        """Tell whether the fixed part already includes the display's last digit."""
        return self.digits > 0 or self.of_range > 0 or self.absolute > 0


def accuracy_line(text: str, where: str = "accuracy") -> AccuracyLine:
    """Read an accuracy line as makers print it.

    Parameters
    ----------
    text : str
        ``±(0.5 % + 3 digits)`` · ``0.05 % of reading + 0.01 % of range`` ·
        ``1.5 % + 5 counts`` · ``±0.1 Ω`` · ``3 % of full scale`` · ``50 ppm``.
        A bare percentage is of the reading, a bare number after it is digits.
    where : str
        Named in error messages.

    Raises
    ------
    InputError
        Saying which part was understood and which was not.

    Examples
    --------
    >>> accuracy_line("0.05 % of reading + 0.01 % of range").of_range
    0.0001
    """
    body = text.strip().lstrip("±").replace("+/-", "").strip()
    if body.startswith("(") and body.endswith(")"):
        body = body[1:-1]
    totals = {"of_reading": 0.0, "of_range": 0.0, "digits": 0.0, "absolute": 0.0}
    unit, position = "", 0
    understood: list[str] = []
    while position < len(body):
        match = _TERM.match(body, position)
        kind = _kind(match, bool(understood)) if match else None
        if match is None or kind is None:
            raise _not_understood(text, understood, body[position:], where)
        name, scale, symbol = kind
        unit = _one_unit(unit, symbol, text, where)
        totals[name] += float(match["number"]) * scale
        if not math.isfinite(totals[name]):
            raise _not_understood(text, understood, body[position:], where)
        understood.append(match[0].strip(" +"))
        position = match.end()
    if not understood:
        raise _not_understood(text, understood, body, where)
    return AccuracyLine(**totals, absolute_unit=unit, text=text.strip())


def _kind(match: re.Match[str], later: bool) -> tuple[str, float, str] | None:
    word = match["kind"].strip().lower()
    scale = 1e-6 if word.startswith("ppm") else 0.01
    if word.startswith(("%", "ppm")):
        return ("of_range" if _FULL.search(word) else "of_reading"), scale, ""
    if re.fullmatch(r"digits?|counts?|dgts?|d|lsd", word):
        return "digits", 1.0, ""
    symbol = match["kind"].strip()
    if not symbol:
        # Data sheets print "±(0.5 % + 3)": a bare number after a percentage is digits.
        return ("digits", 1.0, "") if later else None
    try:
        unit_of(symbol)
    except InputError:
        return None
    return "absolute", 1.0, symbol


def _one_unit(unit: str, symbol: str, text: str, where: str) -> str:
    if unit and symbol and unit != symbol:
        raise InputError(
            f"{where}: {text!r} mixes {unit} and {symbol}; write both in one unit."
        )
    return unit or symbol


def _not_understood(
    text: str, understood: list[str], rest: str, where: str
) -> InputError:
    got = f"understood {' + '.join(understood)}, but not" if understood else "not"
    return InputError(
        f"{where}: accuracy {text!r}: {got} {rest.strip()!r}. Write it like "
        "'±(0.5 % + 3 digits)', '0.05 % of reading + 0.01 % of range' or '±0.1 Ω'."
    )


def in_unit(line: AccuracyLine, unit: str, where: str) -> AccuracyLine:
    """Return the line with its absolute term converted to `unit`.

    Raises
    ------
    UnitError
        If the absolute term measures something else.
    """
    if not line.absolute_unit or line.absolute_unit == unit:
        return line
    have, want = unit_of(line.absolute_unit).difference(), unit_of(unit).difference()
    require_same_dimension(have, want, where)
    scaled = line.absolute * have.factor / want.factor
    return AccuracyLine(
        line.of_reading, line.of_range, line.digits, scaled, unit, line.text
    )
