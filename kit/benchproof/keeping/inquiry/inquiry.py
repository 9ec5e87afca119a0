"""The half of a case that argues: rivals, verdicts, objections, what to do next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, cast

from benchproof.keeping.inquiry import comparing, objections, signing, timing
from benchproof.keeping.inquiry.foretold import Foretold, foretold_beside
from benchproof.keeping.inquiry.replications import Replications, replications_of
from benchproof.keeping.logs.logbook import LogBook
from benchproof.keeping.measurand import Prose, Rival
from benchproof.keeping.recorder import Recorder
from benchproof.reasoning.decisions.combining import Spread
from benchproof.reasoning.matrix import Matrix
from benchproof.reasoning.nextstep import NextSteps
from benchproof.reasoning.verdicts import (
    Hypothesis,
    Prediction,
    Verdict,
    Verdicts,
    verdict_of,
)
from benchproof.values.errors import InputError
from benchproof.values.tables import Table

if TYPE_CHECKING:
    from benchproof.keeping.case import Case


class Inquiry(Recorder):
    """A case in which rivals are set against each other; `Case` adds the rest."""

    @property
    def _case(self) -> Case:
        return cast("Case", self)

    @property
    def foretold(self) -> Foretold:
        """When each prediction was first written, kept in predictions.csv."""
        return foretold_beside(self.book, self.folder)

    def writable(self) -> LogBook:
        """Return the log to append to; a new case's predictions are kept from here.

        Raises
        ------
        RecordingRefusedError
            If this is a view of an earlier round.
        """
        book = super().writable()
        if not book.rows:
            self.foretold.begin(self._case)
        return book

    def hypothesis(self, name: str, statement: str, *, mechanism: str = "") -> Rival:
        """Declare a rival explanation; add what must be seen with `predicts`.

        Parameters
        ----------
        name : str
            ``H1``, ``H2``, …
        statement : str
            What it says.
        mechanism : str
            How it would come about.
        """
        if not name.isidentifier() or self.defined.taken(name):
            raise InputError(f"{name!r} is taken or no plain name; use H1, H2, …")
        rival = Hypothesis(name, statement, mechanism=mechanism)
        self.defined.hypotheses[name] = rival
        return Rival(rival, self._note)

    def _note(self, hypothesis: Hypothesis, prediction: Prediction) -> None:
        self.foretold.note(self._case, hypothesis, prediction)

    def verdicts(self, *, level: float = 0.95, ended: bool = False) -> Verdicts:
        """Return the verdict on every rival, and the rules that were applied.

        In a view of an earlier round only by what was predicted by then.

        Parameters
        ----------
        level : float
            Of the decision rule.
        ended : bool
            True at the end of a run: predictions on record that the notebook no
            longer holds are then shown as left out.
        """
        self.foretold.rows()  # once, not for each prediction
        scope = "" if self._view is None else f"as of round {self._view}"
        rivals = self.defined.hypotheses.values()
        remarks = objections.open_objections(self._case)
        if not ended and (ahead := self.ahead()):
            remarks.append(ahead)
        return Verdicts(
            tuple(self._verdict(rival, level) for rival in rivals),
            scope,
            level,
            timing.withdrawn_predictions(self._case, ended=ended),
            tuple(remarks),
        )

    def _verdict(self, rival: Hypothesis, level: float) -> Verdict:
        case = self._case
        judged = [
            timing.written_of(case, rival.name, case.trials.judge(p, level))
            for p in timing.standing_predictions(case, rival)
        ]
        return verdict_of(rival, judged)

    def shown(self, name: str) -> str:
        """Return what is shown under a name: a verdict, a rate of a plan, a value.

        Parameters
        ----------
        name : str
            ``H2``, ``power: lost with supply brick, axes both`` or ``V_min``.
        """
        case = self._case
        if name in self.defined.hypotheses:
            words = {v.hypothesis.name: v.word for v in self.verdicts().verdicts}
            return words[name]
        if ":" in name:
            return case.trials.named(name).arm.shown()
        return str(case[name])

    def signed(self, sentence: str, against: Mapping[str, str]) -> Prose:
        """Show a sentence that rests on values or verdicts, as long as they stand.

        Where one of them is shown otherwise, the cell stops, a headless run marks
        the sentence as stale, and `check_case` finds it, until it is rewritten or
        signed again. Other words for the same change nothing.

        Parameters
        ----------
        sentence : str
            Markdown, in your words.
        against : mapping
            What is shown for each name it rests on:
            ``{"V_min": "8.819(60) V", "H2": "contradicted"}``.

        Raises
        ------
        InputError
            If it is stale, names nothing, or a name is not known.
        """
        text = signing.sign(self._case, sentence, against)
        self.defined.statements[sentence] = text
        return Prose(text)

    def matrix(self) -> Matrix:
        """Return what each rival predicts; ``.pairs()`` says what splits them."""
        return comparing.matrix_of(self._case)

    def weights(self) -> Table:
        """Return likelihood ratios where two rivals gave a ``probability`` each."""
        return comparing.weights_table(self._case)

    def next_steps(
        self,
        *,
        minutes: Mapping[str, float] | None = None,
        hazards: Mapping[str, str] | None = None,
        level: float = 0.95,
    ) -> NextSteps:
        """Return what to measure next, what it takes, and what it would change.

        Parameters
        ----------
        minutes : mapping, optional
            By what is measured (as the table names it), the minutes one reading or
            attempt takes you; it is then ranked per minute. Remembered.
        hazards : mapping, optional
            What could hurt; ranked after what has none. Remembered.
        level : float
            Of the decision rule.

        Raises
        ------
        InputError
            If nothing is predicted of a name, or minutes are not above 0.
        """
        comparing.state_prices(self._case, minutes or {}, hazards or {})
        return comparing.next_steps(self._case, level)

    def objection(
        self, text: str, *, by: str = "", date: str = "", touches: Sequence[str] = ()
    ) -> int:
        """Open a round for an objection; running it twice is harmless.

        Parameters
        ----------
        text : str
            Word for word.
        by, date : str
            Who raised it, and when; both are asked for.
        touches : sequence of str
            Rivals whose verdict it could change; all if none is named. They are
            marked until something that bears on them is measured again.

        Returns
        -------
        int
            The number of the round.

        Raises
        ------
        InputError
            If something is not said, or a rival is not known; nothing is opened.
        """
        return objections.raise_objection(self._case, text, by, date, touches).round

    def replications(
        self,
        name: str,
        *,
        firmware: str = "",
        pool: bool = False,
        spread: Spread = "refuse",
    ) -> Replications:
        """Compare what others found for a quantity, from replication/*.toml.

        Parameters
        ----------
        firmware : str
            Only values of this firmware, ours included; all if left out.
        pool : bool
            Combine them; only values of one firmware that agree.
        spread : {"refuse", "birge", "between units"}
            What to do where they disagree; see `combine_values`.

        Notes
        -----
        One file of any name for each person, ``[[result]]`` for each quantity; only
        format, device, firmware, date and n may be left out::

            format = 1
            by = "who measured it"
            device = "revision, serial number"
            firmware = "2.7"
            date = "2026-11-25"

            [[result]]
            quantity = "R_source"
            value = 0.27
            unit = "ohm"
            U = 0.02
            k = 2
            n = 5
        """
        return replications_of(
            self._case, name, firmware=firmware, pool=pool, spread=spread
        )
