"""How the channels were set, as far as the header of an instrument's CSV says it."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from benchproof.keeping.captures.csvheader import apart, known_unit, tells_time
from benchproof.keeping.captures.settings import CaptureSettings
from benchproof.measuring.captures.wording import told
from benchproof.values.units import Unit, unit_of

Said = dict[str, Any]
"""Of one channel: ``coupling``, ``probe_ratio``, ``bandwidth``, ``bits``, ``unit`` and
``per_division``, a number and its unit, "" for the channel's own."""

_PAIR = re.compile(r"\W*([^\W\d][^:=]*?)\s*[:=]\s*(.*)")
_NEXT = re.compile(r"[,;]\s+(?=[^\W\d][\w ./]*[:=])")
_NOT_OURS = re.compile(r"trig|horiz|time|sampl|math|zoom|ext|offset|pos", re.I)
_NUMBERED = re.compile(r"(?<!\w)ch?(?:an)?(?:nel)?\s?(\d+)(?!\w)", re.I)
_SECTION = re.compile(r"channel|source|trace|waveform", re.I)
_NUMBER = r"(\d+(?:\.\d*)?(?:[eE][+-]?\d+)?)"

_CELL = 1000
"""Characters of a cell that is looked into."""

SHORT, LONGEST = 40, 120
"""Characters of a line, and of all lines, that are kept without being understood."""


def settings_in(
    header: Sequence[Sequence[str]],
    beside: Sequence[Sequence[str]],
    names: Sequence[str],
    decimal: str,
) -> tuple[tuple[Said, ...], tuple[str, ...]]:
    """Find what a header says about each channel, in words that instruments use.

    Parameters
    ----------
    header, beside : sequence of rows of cells
        Above the numbers, without their headings, and beside them.
    names : sequence of str
        Of the channels.
    decimal : {".", ","}

    Returns
    -------
    settings : tuple of dict, one for each channel
    notes : tuple of str
        What contradicts itself; and what was not understood, if it is short.

    Examples
    --------
    >>> rows = [["Coupling: DC"], ["Probe", "10x"], ["CH1", "2 V/div"], ["Lot", "7"]]
    >>> settings_in(rows, [], ["CH1"], ".")
    (({'coupling': 'DC', 'probe_ratio': 10.0, 'per_division': (2.0, 'V')},),
    ('its header also says: Lot: 7',))
    """
    found: list[Said] = [{} for _ in names]
    notes, rest = [], []
    among: Sequence[int] = range(len(names))  # whom a section of the header is about
    for place, row in enumerate((*header, *beside)):
        for key, values in _pairs(apart(row, decimal)):
            section = _SECTION.fullmatch(key)
            if section and len(values) == 1:
                among = _channels(values[0], names)[0]
                continue
            channels, word = _channels(key, names)
            channels = [i for i in channels if i in among]
            texts = [v.replace(decimal, ".") for v in values]
            read = [_read(word, text) for text in _shared_out(texts, len(channels))]
            if not any(read) and place < len(header):
                rest += [] if section or tells_time(key) else [_line(key, values)]
            for i, pair in zip(channels, read, strict=bool(read)):
                if pair and found[i].setdefault(*pair) != pair[1]:
                    found[i][pair[0]] = None
                    word = pair[0].replace("_", " ")
                    notes.append(f"its header says two things of {word} for {names[i]}")
    return tuple(found), (*dict.fromkeys(notes), *_kept(rest))


def _line(key: str, values: Sequence[str]) -> str:
    return f"{key}: {' '.join(values)}"


def says_settings(row: Sequence[str], decimal: str) -> bool:
    """Tell a line of settings from one of headings.

    Examples
    --------
    >>> says_settings(["Coupling", "DC"], "."), says_settings(["t (s)", "CH1 (V)"], ".")
    (True, False)
    """
    return any(
        _read(_channels(key, [])[1], values[0].replace(decimal, "."))
        for key, values in _pairs(apart(row, decimal))
    )


def _pairs(row: Sequence[str]) -> Iterator[tuple[str, list[str]]]:
    """Yield words and what stands behind them, in their cell or in the next ones."""
    key, values = "", list[str]()
    short = (whole for whole in row if len(whole) < _CELL)
    for cell in (piece for whole in short for piece in _NEXT.split(whole)):
        match = _PAIR.fullmatch(cell)
        if match is None and (key or not cell):
            values += [cell] if cell else []
            continue
        if key and values:
            yield key, values
        key, value = match.groups() if match else (cell.lstrip("#%* "), "")
        values = [value] if value else []
    if key and values:
        yield key, values


def _channels(key: str, names: Sequence[str]) -> tuple[list[int], str]:
    """Return the channels that a word is about, and the word without their name."""
    for i, name in enumerate(names):
        whole = re.compile(rf"(?<!\w){re.escape(name)}(?!\w)", re.I)
        if whole.search(key):
            return [i], whole.sub("", key).strip(" -_.") or "vertical"
    if match := _NUMBERED.search(key):
        own = [i for i, name in enumerate(names)
               if (n := _NUMBERED.search(name)) and n[1] == match[1]]  # fmt: skip
        return own, _NUMBERED.sub("", key).strip(" -_.") or "vertical"
    return list(range(len(names))), key


def _shared_out(values: Sequence[str], count: int) -> Sequence[str]:
    """Return one value for each channel; a unit may stand in a cell of its own."""
    if len(values) == 2 and re.fullmatch(rf"{_NUMBER} [^\W\d]+", " ".join(values)):
        values = [" ".join(values)]
    return list(values) * count if len(values) == 1 else (
        values if len(values) == count else [])  # fmt: skip


def _read(word: str, text: str) -> tuple[str, Any] | None:
    if _NOT_OURS.search(word):
        return None
    for kind, (known, reader) in _KINDS.items():
        if known.search(word) and (value := reader(text)) is not None:
            return kind, value
    # "CH1: 2 V/div", whatever stands before it.
    division = _per_division(text) if "/div" in text.lower() else None
    return None if division is None else ("per_division", division)


def _coupling(text: str) -> str | None:
    match = re.fullmatch(r"(AC|DC)\W*(\d+\s*[kM]?\s*(Ω|ohms?)?)?", text, re.I)
    return match[1].upper() if match else None


def _ratio(text: str) -> float | None:
    match = re.fullmatch(rf"x?\s*{_NUMBER}\s*(?:x|×|:\s*1)?|1\s*:\s*(\d+)", text, re.I)
    return float(match[1] or match[2]) or None if match else None


def _bandwidth(text: str) -> float | None:
    match = re.fullmatch(rf"{_NUMBER}\s*([kMG]?)(Hz)?", text)
    if match is None:
        return None
    value = float(match[1]) * {"": 1.0, "k": 1e3, "M": 1e6, "G": 1e9}[match[2]]
    # A small number alone may be a choice in a menu.
    return value if value and (match[2] or match[3] or value >= 1e4) else None


def _bits(text: str) -> int | None:
    match = re.fullmatch(r"(\d\d?)\s*-?(?:bits?)?", text, re.I)
    return int(match[1]) if match and 1 <= int(match[1]) <= 32 else None


def _per_division(text: str) -> tuple[float, str] | None:
    match = re.fullmatch(rf"{_NUMBER}\s*([^\W\d]*)\s*(?:/\s*div\w*\.?)?", text, re.I)
    unit = known_unit(match[2]) if match else None
    timed = unit is not None and unit.dimension == unit_of("s").dimension
    if match is None or timed or (match[2] and unit is None) or not float(match[1]):
        return None
    return float(match[1]), match[2]


def _unit(text: str) -> str | None:
    return text if known_unit(text) is not None else None


_KINDS: dict[str, tuple[re.Pattern[str], Callable[[str], Any]]] = {
    kind: (re.compile(words, re.I), reader)
    for kind, words, reader in (
        ("coupling", r"\bcoupling\b", _coupling),
        ("probe_ratio", r"\bprobe\b(?! (type|id|name))|\battenuation\b", _ratio),
        ("bandwidth", r"\bband\s?width\b|\bbw\b", _bandwidth),
        ("bits", r"\bbits?\b|^(vertical |adc )?resolution$", _bits),
        ("unit", r"^(vertical |y[ -]?)?units?$", _unit),
        (
            "per_division",
            r"^(vertical( scale)?|scale|(volts?|v|amps?|a) ?(/|per) ?div\w*)$",
            _per_division,
        ),
    )
}


def _kept(rest: Sequence[str]) -> tuple[str, ...]:
    """Return what was not understood as one note, if it is short and no path."""
    kept: list[str] = []
    for line in dict.fromkeys(rest):
        path = "\\" in line or re.search(r"(^|\s)[~/]|/.*/", line)
        if len(line) <= SHORT and not path and len("; ".join(kept)) <= LONGEST - SHORT:
            kept.append(line)
    return (f"its header also says: {'; '.join(kept)}",) if kept else ()


def with_header(
    settings: CaptureSettings, said: Mapping[str, Any], unit: Unit, factor: float = 1.0
) -> tuple[CaptureSettings, tuple[str, ...]]:
    """Fill settings in from a header; what case.toml or the call says goes first.

    Parameters
    ----------
    said : mapping
        Of the channel, from `settings_in`.
    unit : Unit
        Of the file.
    factor : float
        What the settings' scale multiplies by.

    Returns
    -------
    settings : CaptureSettings
    notes : tuple of str
        What was taken, and where the two contradict each other. No value is rescaled.

    Examples
    --------
    >>> stated = CaptureSettings("rail.csv", coupling="AC")
    >>> said = {"coupling": "DC", "bandwidth": 20e6}
    >>> filled, notes = with_header(stated, said, unit_of("V"))
    >>> filled.coupling, filled.bandwidth, notes[-1]
    ('AC', 20000000.0, 'coupling AC is stated, its header says DC: AC was taken')
    """
    said, changes = dict(said), Said()
    advice = _screen(settings, said, unit, factor)
    taken, notes = [], [advice] if advice else []
    for key, (label, shown) in _SHOWN.items():
        found, own = said.get(key), getattr(settings, key)
        if found is None:
            continue
        if own in (None, ""):
            changes[key] = found
            taken.append(f"{label} {shown(found, unit)}")
        elif found != own and not _close(found, own):
            mine, its = shown(own, unit), shown(found, unit)
            notes.append(
                f"{label} {mine} is stated, its header says {its}: {mine} was taken"
            )
    if changes.get("probe_ratio", 1.0) != 1.0:
        ratio = f"{changes['probe_ratio']:g}"
        notes.append(
            f"no value was multiplied by the probe ratio of its header: if they are "
            f"those at the input, say scale = '{ratio}'"
        )
    first = (f"from its header: {', '.join(taken)}",) if taken else ()
    return replace(settings, **changes), (*first, *notes)


_SHOWN: dict[str, tuple[str, Callable[[Any, Unit], str]]] = {
    "coupling": ("coupling", lambda value, _: str(value)),
    "probe_ratio": ("probe", lambda value, _: f"{value:g}:1"),
    "bandwidth": ("bandwidth", lambda value, _: told(value, "Hz")),
    "bits": ("bits", lambda value, _: str(value)),
    "full_screen": ("full screen", lambda value, unit: told(value, unit.difference())),
}


def _screen(settings: CaptureSettings, said: Said, unit: Unit, factor: float) -> str:
    """Work out the full screen from what a division is; return what is missing."""
    if said.get("per_division") is None:
        return ""
    number, symbol = said["per_division"]
    own = known_unit(symbol) if symbol else unit.difference()
    if own is None or own.dimension != unit.dimension:
        return ""
    each = number * own.factor * abs(factor)
    if settings.divisions:
        said["full_screen"] = each * settings.divisions
        return ""
    shown = told(each, unit.difference()) if factor == 1.0 else f"{number:g} {symbol}"
    if settings.full_screen is None:
        return (
            f"its header says {shown} a division: with divisions = 8, or what the "
            "screen has, its full screen is known"
        )
    count = settings.full_screen / each
    if 4 <= count <= 20 and _close(count, round(count)):
        return ""
    return f"the full screen stated is {count:.3g} divisions of its header's {shown}"


def _close(one: Any, other: Any) -> bool:
    numbers = isinstance(one, int | float) and isinstance(other, int | float)
    return numbers and math.isclose(one, other, rel_tol=1e-3)
