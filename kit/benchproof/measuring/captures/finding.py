"""What a capture says: one value with its sources, or why it cannot be told."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields, replace

from benchproof.measuring.captures.wording import fitting_unit
from benchproof.values.errors import PendingError
from benchproof.values.quantities import shorthand
from benchproof.values.sources import Estimate, Source
from benchproof.values.tables import Table, Tabular, columns
from benchproof.values.units import Unit

Part = tuple[Source, float]
"""A source and the sensitivity to it, in SI."""


@dataclass(frozen=True, slots=True, repr=False)
class Finding(Tabular):
    """One result read from a capture.

    Attributes
    ----------
    name : str
        What it is, e.g. ``mean`` or ``dip 1 · duration``.
    unit : Unit
        For display; `value` is in SI.
    value : float
        NaN if it cannot be told.
    parts : tuple of (Source, float)
        What makes it uncertain; findings that name the same source share its error.
    text : str
        What was computed, and the settings of the record.
    cannot_tell : str
        Why there is no value, and what to do; "" if there is one.
    notes : tuple of str
        What a careful reader should know.

    Examples
    --------
    >>> from benchproof.values.units import unit_of
    >>> source = Source("noise", "A", "normal", 0.02)
    >>> print(Finding("mean", unit_of("V"), 12.1, ((source, 1.0),)))
    mean = 12.100(20) V
    """

    name: str
    unit: Unit
    value: float
    parts: tuple[Part, ...] = ()
    text: str = ""
    cannot_tell: str = ""
    notes: tuple[str, ...] = ()

    @property
    def standard_uncertainty(self) -> float:
        """Root sum of squares of the parts, in SI; NaN if it cannot be told.

        References
        ----------
        JCGM 100:2008, 5.1.2: the sources are independent of one another.
        """
        if self.cannot_tell:
            return math.nan
        return math.hypot(*(c * s.standard_uncertainty for s, c in self.parts))

    @property
    def degrees_of_freedom(self) -> float:
        """Effective ones by Welch and Satterthwaite; infinite without Type A parts.

        References
        ----------
        JCGM 100:2008, G.4.1.
        """
        total = self.standard_uncertainty
        shares = math.fsum(
            (c * s.standard_uncertainty) ** 4 / s.degrees_of_freedom
            for s, c in self.parts
        )
        return total**4 / shares if shares else math.inf

    @property
    def shown_unit(self) -> Unit:
        """The unit it is shown in: ms, kHz … where the unit is s or Hz."""
        largest = max(abs(self.value), self.standard_uncertainty)
        return fitting_unit(largest, self.unit)

    def estimate(self) -> Estimate:
        """Return value and parts for a formula graph.

        Raises
        ------
        PendingError
            If it cannot be told.
        """
        if self.cannot_tell:
            raise PendingError(f"{self.name}: cannot tell: {self.cannot_tell}")
        return Estimate(self.value, self.parts)

    def noted(self, *notes: str) -> Finding:
        """Return the same finding with further notes; empty ones are left out."""
        return replace(self, notes=self.notes + tuple(filter(None, notes)))

    @property
    def result(self) -> str:
        """The value with its uncertainty and unit, or why it cannot be told."""
        if self.cannot_tell:
            return f"cannot tell: {self.cannot_tell}"
        shown = self.shown_unit
        value, u = shown.from_si(self.value), self.standard_uncertainty / shown.factor
        return shorthand(value, u, shown.symbol)

    def __str__(self) -> str:
        return f"{self.name}{':' if self.cannot_tell else ' ='} {self.result}"

    __repr__ = __str__  # a line: they stand in tuples and dicts

    def table(self) -> Table:
        """Return the value, how it was found, and what to know about it."""
        return findings_table((self,))


class Findings(Tabular):
    """Facts with several findings, which a notebook shows as one table."""

    __slots__ = ()

    def table(self) -> Table:
        """Return a row for each finding."""
        own = (getattr(self, f.name) for f in fields(self))  # type: ignore[arg-type]
        return findings_table(v for v in own if isinstance(v, Finding))


class Found(Tabular, dict[str, Finding]):
    """Findings by their names, in a table of their own.

    Examples
    --------
    >>> from benchproof.values.units import unit_of
    >>> Found(mean=Finding("mean", unit_of("V"), 12.1))
    What │ Value  │ How it was read │ Note
    ─────┼────────┼─────────────────┼─────
    mean │ 12.1 V │                 │
    """

    __slots__ = ()

    def table(self) -> Table:
        """Return a row for each finding."""
        return findings_table(self.values())


def findings_table(findings: Iterable[Finding]) -> Table:
    """Return one row for each finding; how all were read alike stands below them."""
    found = list(findings)
    ways = [f.text.split("; ") for f in found]
    alike: list[str] = []
    for ends in zip(*map(reversed, ways), strict=False):
        if len(ways) == 1 or len(set(ends)) > 1:
            break
        alike.insert(0, ends[0])
    rows = tuple(
        (f.name, f.result, "; ".join(way[: len(way) - len(alike)]), "; ".join(f.notes))
        for f, way in zip(found, ways, strict=True)
    )
    heads = columns("What", "Value", "How it was read", "Note")
    return Table("", heads, rows, tuple(filter(None, ["; ".join(alike)])))


def unknown(name: str, unit: Unit, reason: str, text: str = "") -> Finding:
    """Return a finding without a value.

    Examples
    --------
    >>> from benchproof.values.units import unit_of
    >>> print(unknown("mean", unit_of("V"), "the record is AC-coupled."))
    mean: cannot tell: the record is AC-coupled.
    """
    return Finding(name, unit, math.nan, text=text, cannot_tell=reason)


def merged(parts: Iterable[Part]) -> tuple[Part, ...]:
    """Add the sensitivities to each source, so that shared errors cancel or add.

    Examples
    --------
    >>> gain = Source("gain", "B", "rectangular", 0.01)
    >>> merged([(gain, 12.0), (gain, -5.0)])[0][1]
    7.0
    """
    found: dict[str, tuple[Source, float]] = {}
    for source, sensitivity in parts:
        known = found.get(source.name)
        total = sensitivity + (known[1] if known else 0.0)
        found[source.name] = (source, total)
    return tuple(
        (s, c) for s, c in found.values() if c != 0 and s.standard_uncertainty > 0
    )


def scaled(parts: Iterable[Part], factor: float) -> tuple[Part, ...]:
    """Return the parts of `factor` times a quantity."""
    return tuple((source, factor * c) for source, c in parts)


def derived(
    name: str,
    unit: Unit,
    value: float,
    inputs: Sequence[tuple[Finding, float]],
    text: str = "",
) -> Finding:
    """Return a finding computed from others, linear in them near their values.

    Parameters
    ----------
    value : float
        In SI.
    inputs : sequence of (Finding, float)
        Each with the partial derivative of the value with respect to it. If one
        cannot be told, neither can the result.

    Examples
    --------
    >>> from benchproof.values.units import unit_of
    >>> gain, volt = Source("gain", "B", "rectangular", 0.01), unit_of("V")
    >>> peak = Finding("peak", volt, 2.0, ((gain, 2.0),))
    >>> rms = Finding("rms", volt, 1.0, ((gain, 1.0),))
    >>> crest = derived("crest factor", unit_of(""), 2.0, [(peak, 1.0), (rms, -2.0)])
    >>> crest.standard_uncertainty
    0.0
    """
    notes = dict.fromkeys(note for found, _ in inputs for note in found.notes)
    for found, _ in inputs:
        if found.cannot_tell:
            return unknown(name, unit, found.cannot_tell, text)
    parts = merged(p for found, c in inputs for p in scaled(found.parts, c))
    return Finding(name, unit, value, parts, text, notes=tuple(notes))
