"""A plan in a notebook: what is next, what was seen, what it leaves open."""

from __future__ import annotations

import os
import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Self

from benchproof.keeping.trials import entering
from benchproof.keeping.trials.attempting import Attempting
from benchproof.keeping.trials.blinding import (
    GuessScore,
    drawn_key,
    guess_score,
    key_file_read,
    key_file_text,
    key_of_runs,
    made_after_opening,
    unblinded,
)
from benchproof.keeping.trials.rates import Rate
from benchproof.keeping.trials.trialtables import (
    attempts_table,
    coverage_table,
    due_table,
    not_done_table,
    overview_table,
    progress_table,
    rates_table,
)
from benchproof.reasoning.plans import SALT_CHARACTERS, opens
from benchproof.values.errors import InputError
from benchproof.values.tables import Table, Tabular


@dataclass(frozen=True, slots=True, repr=False)
class Provocation(Attempting, Tabular):
    """One version of a plan, and what is recorded of it in one round.

    A cell says what was seen at certain places of the planned order. What is recorded
    already adds nothing, so running a cell again is harmless; a longer row appends;
    a different outcome is refused, and corrected with `correct`.
    """

    def next(self, count: int = 1) -> Table:
        """Show the next conditions to try, in the planned order."""
        return due_table(self, count)

    # Blind ----------------------------------------------------------------------

    def seal(self, path: str | os.PathLike[str]) -> Self:
        """Draw the key of a blind plan into a file for the helper, and seal it.

        The seal is recorded at once; a key that is sealed already changes nothing.

        Parameters
        ----------
        path : path
            A file outside the case folder, which the one at the bench does not open.

        Raises
        ------
        InputError
            If the plan is not blind, or the file lies in the case folder or exists.
        """
        if entering.key_of(self.rows, self.version):
            return self
        file = Path(path)
        if file.resolve().is_relative_to(self.case.folder.resolve()):
            raise InputError(
                f"{self.name}: {file.name} would lie in the case folder, where it is "
                "read and published. Give a path outside it."
            )
        key = drawn_key(self.spec, secrets.token_hex(SALT_CHARACTERS))
        try:
            with file.open("x", encoding="utf-8", newline="\n") as handle:
                handle.write(key_file_text(key))
        except FileExistsError:
            raise InputError(
                f"{self.name}: {file.name} exists; a key is not overwritten. Give "
                "another name."
            ) from None
        return self.append(lambda target: entering.key_rows(target, key.seal()))

    def sealed(self, seal: str) -> Self:
        """Record the seal of a key that a helper drew elsewhere."""
        opens(seal, "", "0123456789abcdef" * 2)  # refuses what is no seal
        return self.append(lambda target: entering.key_rows(target, seal))

    def unseal(self, path: str | os.PathLike[str], *, because: str = "") -> Self:
        """Open the key; before the last run only with a reason, which is recorded.

        Once opened, the key is in the ledger and the file is not needed again.
        """
        if key_of_runs(self.rows, self.number, None):
            return self
        try:
            text = Path(path).read_text(encoding="utf-8")
        except OSError as problem:
            raise InputError(
                f"{self.name}: the key file cannot be read ({problem.strerror}). Ask "
                "the helper for it."
            ) from None
        key, salt = key_file_read(text)
        return self.append(
            lambda target: entering.opened_rows(target, key, salt, because)
        )

    def score(self) -> GuessScore:
        """Return how many runs were named rightly, and the chance of it by guessing.

        Runs made after the key was opened are left out, and the score says so.

        Raises
        ------
        InputError
            If the key is not opened, or the outcomes are no treatments.
        """
        up_to = self.up_to
        if not key_of_runs(self.rows, self.number, up_to):
            raise InputError(f"{self.name}: open the key first: unseal(…).")
        made = [m for m in unblinded(self.rows, up_to) if m.version == self.number]
        late = made_after_opening(self.rows, self.number, up_to)
        return guess_score(self.spec, [m for m in made if m.row not in late], len(late))

    # What it amounts to ---------------------------------------------------------

    def rate(
        self,
        outcome: str,
        condition: Mapping[str, str] | None = None,
        **factors: str,
    ) -> Rate:
        """Return how often an outcome is seen under one condition.

        Raises
        ------
        InputError
            If outcome or condition is not in the plan.
        """
        if outcome not in self.spec.outcomes:
            raise InputError(
                f"{self.name}: outcome {outcome!r} is not declared. Use one of "
                f"{', '.join(self.spec.outcomes)}."
            )
        said = {**(condition or {}), **factors}
        return Rate(self.case, self.name, outcome, self.condition_said(said))

    def table(self) -> Table:
        """Return the plan, its versions, and how far it is."""
        return overview_table(self)

    def progress(self) -> Table:
        """Return planned, done and left by condition, and what was not done and why."""
        return progress_table(self)

    def ledger(self) -> Table:
        """Return every attempt in order, those corrected or aborted included."""
        return attempts_table(self)

    def coverage(self) -> Table:
        """Return a matrix of what was tried: contacts or factors by the last factor."""
        return coverage_table(self)

    def rates(self) -> Table:
        """Return each condition's count with exact limits, and Fisher against control.

        Fisher's test is two-sided here; a prediction states its side beforehand.
        """
        return rates_table(self)

    def not_done(self) -> Table:
        """Return what was excluded, skipped or left open, with the reasons."""
        return not_done_table(self)
