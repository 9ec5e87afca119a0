"""What a check found, and what it did not look at."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from benchproof.values.tables import Table, Tabular, columns

Severity = Literal["fault", "open", "note"]

SEVERITIES: dict[Severity, str] = {
    "fault": "two things that should agree do not",
    "open": "stale, unanswered or unsafe: someone should look",
    "note": "worth knowing; does not count as a finding for the exit status",
}


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing a check found.

    Attributes
    ----------
    severity : {"fault", "open", "note"}
    file : str
        Name inside the case or bundle.
    row : str
        Where in it: a row id, a line, a quantity; "" for the whole file.
    statement : str
        What is the matter, and what next.
    """

    severity: Severity
    file: str
    row: str
    statement: str


@dataclass(frozen=True, slots=True, repr=False)
class Findings(Tabular):
    """Everything a check found, the gravest first.

    Attributes
    ----------
    what : str
        The case or bundle that was looked at.
    findings : tuple of Finding
    recomputed, compared, unchecked : tuple of str
        In sentences: what was computed again, what was only compared with a hash or
        for consistency, and what could not be looked at without running.

    Examples
    --------
    >>> Findings("demo", (Finding("note", "case.toml", "", "invented"),)).status
    0
    """

    what: str
    findings: tuple[Finding, ...] = ()
    recomputed: tuple[str, ...] = ()
    compared: tuple[str, ...] = ()
    unchecked: tuple[str, ...] = ()

    @property
    def status(self) -> int:
        """Exit status: 0 if there is no fault and nothing open, else 1."""
        return int(any(f.severity != "note" for f in self.findings))

    def of(self, *severities: Severity) -> list[Finding]:
        """Return the findings of these severities."""
        return [f for f in self.findings if f.severity in severities]

    def table(self) -> Table:
        """Return one row per finding, and below what was and was not looked at."""
        rows = tuple((f.severity, f.file, f.row, f.statement) for f in self.findings)
        count = len(self.of("fault", "open"))
        title = f"Check of {self.what}: {count or 'no'} finding{'s'[: count != 1]}"
        notes = (
            *_listed("Computed again", self.recomputed),
            *_listed("Only compared", self.compared),
            *_listed("Not checked", self.unchecked),
        )
        heads = columns("Severity", "File", "Where", "Statement")
        return Table(title, heads, rows, notes)


def _listed(head: str, sentences: Iterable[str]) -> list[str]:
    return [f"{head}: {sentence}" for sentence in sentences]


def sorted_findings(found: Iterable[Finding]) -> tuple[Finding, ...]:
    """Put faults first and drop repetitions; the order is otherwise kept."""
    order = list(SEVERITIES)
    return tuple(sorted(dict.fromkeys(found), key=lambda f: order.index(f.severity)))
