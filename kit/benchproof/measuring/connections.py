"""How an instrument is asked: its address and the queries a person declared."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from benchproof.values.errors import InputError
from benchproof.values.quantities import read_values
from benchproof.values.units import unit_of

CONNECTION_KEYS = (
    "resource",
    "identity",
    "identity_query",
    "timeout",
    "line_end",
    "baud_rate",
    "visa_library",
    "capture_query",
    "capture_settings",
)
QUERY_KEYS = ("query", "range_query")

_CHANNEL = re.compile(r"\w+", re.ASCII)


@dataclass(frozen=True, slots=True)
class Query:
    """What is sent to read one function, and to learn its range ("" if it is not)."""

    function: str
    text: str
    range_text: str = ""


@dataclass(frozen=True, slots=True)
class Connection:
    """The address of an instrument and what may be sent to it.

    Attributes
    ----------
    resource : str
        ``TCPIP::192.0.2.1::5025::SOCKET``, or what VISA calls a resource.
    queries : tuple of Query
        One for each function that can be asked.
    identity : str
        How its answer to `identity_query` must begin; "" accepts any.
    identity_query : str
        "" asks for none.
    timeout_s : float
        For how long it may be silent.
    line_end : str
        Ends what is sent and what is answered.
    baud_rate : int
        Of a serial line; 0 leaves it as it is.
    visa_library : str
        Handed to VISA, e.g. ``@py``; "" is its own choice.
    capture_query, capture_settings : str, tuple of str
        Asks for a waveform, and for what belongs to it; ``{channel}`` is filled in.
    """

    resource: str
    queries: tuple[Query, ...] = ()
    identity: str = ""
    identity_query: str = "*IDN?"
    timeout_s: float = 2.0
    line_end: str = "\n"
    baud_rate: int = 0
    visa_library: str = ""
    capture_query: str = ""
    capture_settings: tuple[str, ...] = ()

    def query_for(self, function: str, where: str) -> Query:
        """Return the query of a function, or the only one there is.

        Raises
        ------
        InputError
            If none or several fit.
        """
        fitting = [q for q in self.queries if function in ("", q.function)]
        if len(fitting) == 1:
            return fitting[0]
        have = ", ".join(q.function for q in self.queries) or "none"
        raise InputError(
            f"{where}: function {function!r}: functions with a query: {have}. Name "
            "one with function='…', or declare its query in instruments.toml."
        )

    def sent_texts(self) -> list[str]:
        """List everything that can be sent, in the order it was declared."""
        asked = [t for q in self.queries for t in (q.text, q.range_text)]
        texts = [self.identity_query, *asked, *self.capture_settings]
        return [t for t in [*texts, self.capture_query] if t]

    def commands(self) -> list[str]:
        """List what is sent that asks nothing, and so may switch something.

        Examples
        --------
        >>> scope = Connection("", capture_query="DATA:SOUR {channel};:CURV?")
        >>> scope.commands()
        ['DATA:SOUR {channel}']
        """
        parts = [p.strip() for text in self.sent_texts() for p in text.split(";")]
        return [p for p in dict.fromkeys(parts) if p and "?" not in p]


def for_channel(text: str, channel: str, where: str) -> str:
    """Fill a channel's name into a query.

    Raises
    ------
    InputError
        If the name holds more than letters, digits and underscores: it is sent.

    Examples
    --------
    >>> for_channel("WAV:DATA? {channel}", "CH1", "scope")
    'WAV:DATA? CH1'
    """
    if not _CHANNEL.fullmatch(channel):
        raise InputError(
            f"{where}: channel {channel!r}: letters, digits and underscores only, "
            "e.g. 'CH1'."
        )
    return text.replace("{channel}", channel)


def connection_from(table: Mapping[str, Any], where: str) -> Connection | None:
    """Read how an instrument is asked from its table in ``instruments.toml``.

    Only what is declared is ever sent. Each text must ask something; a command in
    front of the question, as in ``"DATA:SOUR {channel};:CURV?"``, is sent as well.
    **Caution:** what such a command switches (an output, a range, a relay) is the
    responsibility of the person who declares it: see that nothing on the bench can
    be harmed by running the cell, and by running it again.

    Parameters
    ----------
    table : mapping
        ``resource`` and, in the table of each function, ``query`` and optionally
        ``range_query``. Optional: ``identity`` (the beginning of what it answers to
        ``identity_query``, which is ``*IDN?`` unless given), ``timeout`` (``"2 s"``),
        ``line_end``, ``baud_rate``, ``visa_library``, ``capture_query`` and
        ``capture_settings`` (a list of queries).
    where : str
        File and table, named in error messages.

    Returns
    -------
    Connection or None
        None where no ``resource`` is declared.

    Raises
    ------
    InputError
        If something is not understood, or there is nothing to ask.

    Examples
    --------
    >>> table = {"resource": "ASRL1::INSTR", "DC V": {"query": "MEAS:VOLT:DC?"}}
    >>> connection_from(table, "instruments.toml, meter").query_for("", "").text
    'MEAS:VOLT:DC?'
    """
    queries = tuple(
        _query(name, entry, f"{where}, function {name!r}")
        for name, entry in table.items()
        if isinstance(entry, Mapping) and any(key in entry for key in QUERY_KEYS)
    )
    capture = _question(table, "capture_query", where)
    if "resource" not in table:
        _refuse_orphans(table, queries, where)
        return None
    if not (queries or capture):
        raise InputError(
            f"{where}: resource is given and nothing to ask. Add a query such as "
            'query = "MEAS:VOLT:DC?" to a function, or a capture_query.'
        )
    return Connection(
        _text(table, "resource", where),
        queries,
        _text(table, "identity", where) if "identity" in table else "",
        _question(table, "identity_query", where, "*IDN?"),
        _seconds(table.get("timeout", "2 s"), where),
        _line_end(table.get("line_end", "\n"), where),
        _baud_rate(table.get("baud_rate", 0), where),
        str(table.get("visa_library", "")),
        capture,
        _settings(table.get("capture_settings", []), where),
    )


def _refuse_orphans(
    table: Mapping[str, Any], queries: tuple[Query, ...], where: str
) -> None:
    said = [key for key in CONNECTION_KEYS if key in table]
    said += [f"query of {q.function!r}" for q in queries]
    # An identity may be noted of an instrument that is read by eye.
    if said and said != ["identity"]:
        raise InputError(
            f"{where}: {said[0]} is given, and no resource to send it to. Add e.g. "
            'resource = "TCPIP::192.0.2.1::5025::SOCKET".'
        )


def _query(name: str, entry: Mapping[str, Any], where: str) -> Query:
    if "query" not in entry:
        raise InputError(f"{where}: range_query is given, and no query. Add it.")
    return Query(
        name, _question(entry, "query", where), _question(entry, "range_query", where)
    )


def _question(table: Mapping[str, Any], key: str, where: str, default: str = "") -> str:
    if table.get(key, default) == "":
        return ""
    return _checked(_text({key: default, **table}, key, where), key, where)


def _text(table: Mapping[str, Any], key: str, where: str) -> str:
    value = table[key]
    if not (isinstance(value, str) and value.strip()):
        raise InputError(f'{where}: {key} must be a text in quotes, {key} = "…".')
    return value.strip()


def _checked(text: str, key: str, where: str) -> str:
    """Accept one line of plain characters that asks something."""
    if not (text.isascii() and text.isprintable()):
        raise InputError(
            f"{where}: {key} {text!r}: one line of plain ASCII characters only."
        )
    if "?" not in text.rpartition(";")[2]:
        raise InputError(
            f"{where}: {key} {text!r} asks nothing: a query ends in '?' (and its "
            "arguments). The kit only reads; switch and set at the instrument."
        )
    return text


def _settings(value: Any, where: str) -> tuple[str, ...]:
    if not (isinstance(value, list) and all(isinstance(v, str) for v in value)):
        raise InputError(f'{where}: capture_settings must be a list: ["…?", "…?"].')
    return tuple(_checked(v.strip(), "capture_settings", where) for v in value)


def _seconds(value: Any, where: str) -> float:
    seconds = duration_s(str(value), f"{where}, timeout")
    if not 0 < seconds <= 600:
        raise InputError(f"{where}: timeout {value!r}: give 0 to 600 s, e.g. '2 s'.")
    return seconds


def duration_s(text: str, where: str) -> float:
    """Read one duration such as ``500 ms``, in seconds.

    Raises
    ------
    InputError
        If it is not one number with a unit of time, or negative.

    Examples
    --------
    >>> duration_s("500 ms", "every")
    0.5
    """
    values = read_values(text, where)
    if len(values) != 1 or values[0].bound or not values[0].value >= 0:
        raise InputError(f"{where}: {text!r}: write one duration, e.g. '500 ms'.")
    unit = unit_of(values[0].unit)
    if unit.dimension != unit_of("s").dimension:
        raise InputError(f"{where}: {text!r} is no duration. Write e.g. '500 ms'.")
    return unit.to_si(values[0].value)


def _line_end(value: Any, where: str) -> str:
    if value not in ("\n", "\r\n", "\r"):
        raise InputError(
            f'{where}: line_end {value!r}: one of "\\n", "\\r\\n", "\\r" in quotes.'
        )
    return str(value)


def _baud_rate(value: Any, where: str) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or value < 0:
        raise InputError(f"{where}: baud_rate {value!r}: a whole number, e.g. 9600.")
    return value
