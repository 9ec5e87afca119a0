"""The captures of a case: opened, hashed, and what was read from them kept by name."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from benchproof.keeping.captures.library import Library, declared_captures
from benchproof.keeping.measurand import Measurand
from benchproof.measuring.captures.finding import Finding
from benchproof.measuring.captures.trace import Trace
from benchproof.values.errors import InputError
from benchproof.values.inturn import Progress
from benchproof.values.sources import Estimate, Source
from benchproof.values.tables import Table, Tabular, columns

if TYPE_CHECKING:
    from benchproof.keeping.case import Case


class CaseCaptures(Tabular):
    """The folder ``captures/`` of a case, and what its notebook reads from it.

    Examples
    --------
    In a notebook::

        rail = case.captures.open("rail")
        case.captures.keep("V_min", captures.residual(rail, threshold=8.80))
    """

    def __init__(self, case: Case) -> None:
        self.case = case
        tables, defaults = case.file.captures, case.file.capture_defaults
        declared = declared_captures(tables, defaults)
        self.library = Library(case.folder, declared, defaults)

    def open(
        self,
        name: str,
        channel: str | int = "",
        *,
        progress: Progress | None = None,
        workers: int = 1,
        **settings: Any,
    ) -> Trace:
        """Open one channel of a capture; the file is only read.

        Parameters
        ----------
        name : str
            Of a [[capture]] table of case.toml, or of a file in ``captures/``.
        channel : str or int
            Needed if the file has several.
        progress, workers
            As for `Library.open`.
        **settings
            What case.toml does not say: see `CaptureSettings`.

        Raises
        ------
        FileError, InputError
            If the file or a setting cannot be used.
        """
        trace = self.library.open(
            name, channel, progress=progress, workers=workers, **settings
        )
        self.case.defined.opened_captures.add(self.library.file_of(name))
        return trace

    def keep(
        self, name: str, finding: Finding, *, in_round: int | None = None
    ) -> Measurand:
        """Make what was read from a capture a measurand like any other.

        Parameters
        ----------
        name : str
            A Python name, e.g. ``V_min``.
        finding : Finding
            From a function of `benchproof.captures`; where it cannot tell, the
            measurand has no value and says why.
        in_round : int, optional
            The round the capture was taken in; the first if not given.

        Raises
        ------
        InputError
            If the name is taken, if there is no such round, if the first round
            would change while there are later ones and no round is named, or if it
            rests on a reading of a later round that its own round has too.
        """
        record, defined = self.case.book.record, self.case.defined
        defined.check_kind(name, "captured quantity", record)
        if in_round is None:
            self._check_unchanged(name, finding)
            in_round = 1
        if not 1 <= in_round <= record.current_round:
            raise InputError(
                f"{name}: in_round={in_round}, and there are {record.current_round} "
                "rounds. Open one first: case.new_round(because='…')."
            )
        self._check_round(name, finding, in_round)
        if self.case._view is None:
            self.case.foretold.captured(self.case, name, in_round)
        defined.keep_finding(name, in_round, finding)
        return self.case[name]

    def _check_unchanged(self, name: str, finding: Finding) -> None:
        """Refuse another finding where nobody said which round it belongs to."""
        last = self.case.book.record.current_round
        kept = self.case.defined.findings.get(name, {}).get(1)
        if last > 1 and kept is not None and kept != finding:
            raise InputError(
                f"{name} is {kept.result} in round 1, and this is {finding.result}. A "
                f"capture of a later round: in_round={last}. The first was read "
                "wrongly: in_round=1. Nothing was changed."
            )

    def _check_round(self, name: str, finding: Finding, number: int) -> None:
        """Refuse readings of a later round: the notebook would give another value.

        ``case["V_idle"]`` is the latest one; run again after a new round, a cell that
        took it for a capture of round 1 would silently take another.
        """
        record = self.case.book.record
        used: dict[str, set[Source]] = {}
        for source, _ in finding.parts:
            owner = source.name.partition(" · ")[0]
            if owner in record.by_measurand and number < record.current_round:
                used.setdefault(owner, set()).add(source)
        for owner, sources in used.items():
            now = self.case.state().measured[owner].estimate
            then = self.case.at_round(number).state().measured[owner].estimate
            if now and then and _rests_on(sources, now) > _rests_on(sources, then):
                raise InputError(
                    f"{name} is of round {number}, and rests on {owner} as it was "
                    f"taken again later. Take that of its round: "
                    f"case.at_round({number})[{owner!r}].estimate."
                )

    def table(self) -> Table:
        """Return the files, and below them what was read from each."""
        return self.library.table()

    def findings_table(self) -> Table:
        """Return what was read from captures, with the settings it depends on."""
        rows = tuple(
            (name, str(number), str(found).partition(" = ")[2] or "cannot tell",
             found.cannot_tell or found.text, "; ".join(found.notes))
            for name, rounds in self.case.defined.findings.items()
            for number, found in sorted(rounds.items())
        )  # fmt: skip
        heads = columns("Quantity", "Round>", "Value>", "How it was read", "Note")
        return Table("Read from captures", heads, rows)

    def hashes(self) -> dict[str, str]:
        """Return the SHA-256 of every file that was opened."""
        files = sorted(self.case.defined.opened_captures)
        return {name: self.library.hash(name) for name in files}


def _rests_on(sources: set[Source], estimate: Estimate) -> bool:
    return sources <= {source for source, _ in estimate.parts}
