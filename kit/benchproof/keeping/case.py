"""The case: one folder, its readings, and everything computed from them."""

from __future__ import annotations

import copy
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from benchproof.keeping.callouts import Callout
from benchproof.keeping.corrections import Corrections
from benchproof.keeping.inquiry.inquiry import Inquiry
from benchproof.keeping.logs.logbook import Clock
from benchproof.keeping.measurand import Measurand, Prose, filled
from benchproof.keeping.photos import Photo, photo_of
from benchproof.keeping.recorder import utc_now
from benchproof.keeping.reports.report import REPORTS
from benchproof.keeping.runs.waiting import waiting
from benchproof.keeping.state.constants import constant_from
from benchproof.keeping.state.declaring import declare_correlations
from benchproof.keeping.state.renewing import state_of
from benchproof.keeping.state.state import State
from benchproof.keeping.state.validity import declare_condition
from benchproof.keeping.survey import Survey
from benchproof.keeping.zerochecks import record_zero_check
from benchproof.reasoning.budgets.budget import Budget
from benchproof.reasoning.budgets.covariation import (
    correlation_of,
    correlation_table,
    covariance,
)
from benchproof.reasoning.budgets.formulas import formula_from
from benchproof.reasoning.budgets.graph import order
from benchproof.reasoning.budgets.sharing import Sharing, sharing
from benchproof.reasoning.decisions.combining import Combined, Spread, combine_values
from benchproof.reasoning.decisions.rule import Criterion
from benchproof.reasoning.montecarlo.runs import SEED, MonteCarlo, monte_carlo_of
from benchproof.values.errors import InputError
from benchproof.values.tables import Table, Tabular
from benchproof.values.units import require_same_dimension, unit_of

if TYPE_CHECKING:
    from benchproof.keeping.captures.casecaptures import CaseCaptures
    from benchproof.keeping.entry.panel import Panel
    from benchproof.keeping.trials.casetrials import Trials


class Case(Inquiry, Tabular):
    """One investigation: what was recorded, and what follows. See `open_case`.

    Attributes
    ----------
    folder : pathlib.Path
    file : CaseFile
        What case.toml says.
    instruments : dict
        By name, from instruments.toml.
    book : LogBook
        The readings on disk.
    defined : Definitions
        What the notebook's cells declared.

    Examples
    --------
    >>> import tempfile
    >>> from benchproof import new_case
    >>> with tempfile.TemporaryDirectory() as bench:
    ...     case = Case(new_case("Fan hums", bench))
    ...     print(case.record("V_fan", "12.10(2) V", at="socket"))
    12.100(20) V
    """

    def __init__(self, folder: Path, clock: Clock = utc_now) -> None:
        super().__init__(folder, clock)
        self._state: tuple[Any, State] | None = None

    # Declaring ------------------------------------------------------------------

    def constant(
        self, name: str, text: str, *, dof: float | None = None, source: str = ""
    ) -> Measurand:
        """Declare a constant, exact or with its uncertainty.

        Parameters
        ----------
        text : str
            ``0.40 V`` (exact), ``10.00(5) ohm``, ``10.00 ± 0.10 ohm (k=2)``,
            ``10.00 ohm, U = 0.10 ohm, k = 2``, ``0 ± 0.02 V (limits)``; for more
            see `read_values`.
        dof : float, optional
            Degrees of freedom of its uncertainty; infinite if not given.
        source : str
            Where the number comes from.
        """
        self.defined.check_kind(name, "constant", self.book.record)
        self.defined.constants[name] = constant_from(name, text, dof, source)
        self.defined.version += 1
        return self[name]

    def correlate(
        self,
        pairs: Mapping[tuple[str, str], float],
        *,
        because: str,
        of: tuple[str, str] = ("", ""),
    ) -> None:
        """Declare that the errors of measurands or constants are related.

        What they share through an instrument, or because they were read together,
        is known already and needs no declaration.

        Parameters
        ----------
        pairs : mapping
            Correlation coefficient of each pair of names, from -1 to 1; those of
            three or more quantities at once, since they bear on each other.
        because : str
            Where it comes from.
        of : (str, str)
            Where a quantity has several sources of its own, the end of the name of
            the one that is meant, e.g. ``("stated", "repeatability")``.

        Raises
        ------
        InputError
            If they cannot hold beside each other and those declared before.
        """
        declare_correlations(self, pairs, because, of)

    def derive(self, *, unit: str) -> Callable[[Callable[..., Any]], Measurand]:
        """Make a plain function a derived quantity; its arguments name quantities.

        Parameters
        ----------
        unit : str
            Of the result. Inside, numbers are in SI.

        Raises
        ------
        FormulaError
            For an unknown argument, a cycle, or units that do not fit.
        """
        shown = unit_of(unit)

        def decorate(function: Callable[..., Any]) -> Measurand:
            formula = formula_from(function, shown)
            self.defined.check_kind(formula.name, "derived quantity", self.book.record)
            trial = {**self.defined.formulas, formula.name: formula}
            order(trial, self.defined.units(self.book.record), formula.name)
            self.defined.add_formula(formula)
            if not self.state().missing(formula.name):
                self.state().graph_for(formula.name)
            return self[formula.name]

        return decorate

    def valid_only_if(self, measurand: str, criterion: Criterion) -> Measurand:
        """Count a measurand's readings only while a condition holds.

        Where it is contradicted or undetermined they are invalid: still shown, but
        not corrected, and nothing is computed from them. While something it needs is
        not measured, they count with a warning.

        Parameters
        ----------
        criterion : Criterion
            Judged by the readings as they are, e.g. on a derived quantity that takes
            the raw reading: ``case["V_at_device"].above("2.0 V")``.
        """
        return declare_condition(self, measurand, criterion)

    def zero_check(
        self,
        instrument: str,
        function: str,
        *,
        before: str = "",
        after: str = "",
        at: str = "",
        because: str = "",
        in_round: int | None = None,
    ) -> Table:
        """Record what a function showed of nothing, and count it as zero drift.

        Parameters
        ----------
        before, after : str
            ``0.2 ohm`` before and after the readings of this round, or ``? ohm``;
            recorded as ``zero_handheld_Ω_before`` and so on.
        at, because, in_round
            As for `record`.
        """
        said = {"before": before, "after": after}
        record_zero_check(
            self, instrument, function, said, at=at, because=because, in_round=in_round
        )
        return self.report("zeros")

    # Asking ---------------------------------------------------------------------

    def photo(
        self,
        name: str,
        *,
        caption: str,
        alt: str,
        callouts: Sequence[Callout] = (),
    ) -> Photo:
        """Show a photograph of the case: upright, small, telling nothing else.

        Parameters
        ----------
        name : str
            ``photos/board.jpg``; the original is only read and stays in the case.
        caption : str
            What the reader should know about it.
        alt : str
            What is to be seen, for a reader who cannot see it.
        callouts : sequence of (float, float, str)
            Where from left and top, as fractions 0 to 1 of the picture, and a label.
        """
        return photo_of(self.folder, name, caption=caption, alt=alt, callouts=callouts)

    def state(self) -> State:
        """Return everything evaluated; what changed is computed again when asked."""
        self.book.refresh()
        key = (self.book.rows, self.defined.version, self._view)
        if self._state is None or self._state[0] != key:
            before = self._state[1] if self._state else None
            fresh = state_of(
                self.book.record, self.instruments, self.defined, self._view, before
            )
            self._state = (key, fresh)
        return self._state[1]

    def __getitem__(self, name: str) -> Measurand:
        """Return a quantity by name; it may still have to be recorded."""
        if not isinstance(name, str) or not name.isidentifier():
            raise InputError(f"{name!r} is no quantity's name. Use a name like V_idle.")
        return Measurand(self, name)

    def budget(self, name: str, *, level: float = 0.95) -> Budget:
        """Return the uncertainty budget of a quantity.

        Raises
        ------
        PendingError
            If something it needs is not measured yet.
        """
        return self.state().budget(name, level)

    def monte_carlo(
        self,
        name: str,
        *,
        level: float = 0.95,
        digits: int = 2,
        draws: int | None = None,
        seed: int = SEED,
        contributions: bool = False,
    ) -> MonteCarlo:
        """Propagate distributions; for the options see `monte_carlo_of`."""
        with waiting(f"drawing {name}") as progress:
            return monte_carlo_of(
                self.state().graph_for(name),
                name,
                level=level,
                digits=digits,
                draws=draws,
                seed=seed,
                contributions=contributions,
                progress=progress,
            )

    def correlation(self, first: str, second: str) -> float:
        """Return the correlation coefficient of two quantities."""
        return correlation_of(self.state().graph_for(first, second), first, second)

    def correlations(self, *names: str) -> Table:
        """Return the correlation coefficients of several quantities."""
        return correlation_table(self.state().graph_for(*names), names)

    def sharing(self, name: str) -> Sharing:
        """Compare u if offsets were shared, and if nothing was, with u as declared."""
        return sharing(self.state().graph_for(name), name)

    def combine(self, *names: str, spread: Spread = "refuse") -> Combined:
        """Combine several quantities that should be one; what they share counts.

        Parameters
        ----------
        spread : {"refuse", "birge", "between units"}
            What to do where they disagree; see `combine_values`.
        """
        graph = self.state().graph_for(*names)
        for name in names[1:]:
            require_same_dimension(graph.units[name], graph.units[names[0]], name)
        return combine_values(
            [graph.value(name) for name in names],
            covariance=[[covariance(graph, a, b) for b in names] for a in names],
            spread=spread,
            names=names,
            unit=graph.units[names[0]] if names else None,
        )

    def conclude(self, text: str) -> Prose:
        """Fill values and verdicts into a text, so that it cannot go stale.

        Parameters
        ----------
        text : str
            Markdown; ``{V_min}`` becomes the value, ``{H2}`` the verdict, and
            ``{power: lost with supply brick}`` the rate with its bound.
        """
        words = {v.hypothesis.name: v.word for v in self.verdicts().verdicts}
        prose = Prose(filled(text, words, self.shown))
        self.defined.statements[text] = prose.text
        return prose

    def at_round(self, number: int) -> Case:
        """Return the case as it was at the end of a round; it cannot be recorded in.

        Above an objection write ``case.at_round(1).verdicts()``: when the notebook
        runs again, the case itself holds the later rounds already. What cells below
        keep from captures or declare is not known there yet.
        """
        rounds = [r.number for r in self.book.record.rounds]
        if number not in rounds:
            raise InputError(f"round {number} does not exist; there are {rounds}.")
        view = copy.copy(self)
        view._view, view._state = number, None
        return view

    @property
    def round_number(self) -> int:
        """The latest round, or the one this view stops at."""
        return self._view or self.book.record.current_round

    @property
    def trials(self) -> Trials:
        """The provocation trials: plans, attempts and rates, kept in trials.csv."""
        from benchproof.keeping.trials.casetrials import Trials

        return Trials(self)

    @property
    def captures(self) -> CaseCaptures:
        """The records in ``captures/``, and what is read from them."""
        from benchproof.keeping.captures.casecaptures import CaseCaptures

        return CaseCaptures(self)

    def entry(self) -> Panel:
        """Return the quick-entry panel for the bench: readings, contacts, trials."""
        from benchproof.keeping.entry.panel import Panel

        return Panel(self)

    @property
    def contacts(self) -> Survey:
        """The contact survey: rows of voltages, ohms of pairs, tables and flags."""
        return Survey(self)

    @property
    def corrections(self) -> Corrections:
        """Corrections for what a meter did to the circuit; raw beside corrected."""
        return Corrections(self)

    def names(self) -> list[str]:
        """Return every quantity's name: measured, constant, derived, declared."""
        names = self.defined.units(self.book.record)
        return list(dict.fromkeys([*names, *self.state().constants]))

    def table(self) -> Table:
        """Return the overview: what is measured, pending and unanswered."""
        return REPORTS["overview"](self)

    def report(self, what: str) -> Table:
        """Return one of the tables of the write-up.

        Parameters
        ----------
        what : str
            ``overview``, ``claim``, ``differences``, ``rests``, ``limits``,
            ``hazards``, ``predictions``, ``matrix``, ``splits``, ``weights``,
            ``next``, ``overturns``, ``errata``, ``replications``,
            ``instruments``, ``readings``, ``constants``, ``correlations``,
            ``quantities``, ``contacts``, ``pairs``, ``mating``, ``zeros``,
            ``validity``, ``corrections`` or ``rounds``.
        """
        if what not in REPORTS:
            raise InputError(f"report {what!r}: choose one of {', '.join(REPORTS)}.")
        return REPORTS[what](self)
