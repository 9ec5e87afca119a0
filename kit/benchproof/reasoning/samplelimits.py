"""What a case does not show, said from its verdicts and from what was tested."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from benchproof.reasoning.trials import percent_up, upper_bound
from benchproof.reasoning.verdicts import AFTER, Verdict
from benchproof.values.errors import InputError
from benchproof.values.tables import Table, columns


@dataclass(frozen=True, slots=True)
class Deviation:
    """A field in which the tested sample is not known to be like the reported device.

    Attributes
    ----------
    field : str
    same : str
        ``different`` or ``unknown``.
    touches : tuple of str
        Rivals whose verdict it bears on; empty where nobody said, which is all.
    """

    field: str
    same: str
    touches: tuple[str, ...] = ()


def units_sentence(units: int) -> str:
    """Say what a number of tested units leaves open about the others.

    Parameters
    ----------
    units : int
        Tested units, all of which behaved alike; at least 1.

    Raises
    ------
    InputError
        If there are none.

    Notes
    -----
    ``1 - 0.05^(1/n)``, the exact one-sided 95 % bound of a zero.

    References
    ----------
    Clopper and Pearson, Biometrika 26 (1934) 404.

    Examples
    --------
    >>> print(units_sentence(1))
    1 unit was tested: up to 95 % of the others may behave otherwise (exact 95 %
    bound, if it was drawn at random).
    """
    if units < 1:
        raise InputError(f"{units} units tested: give the whole number, at least 1.")
    what = "1 unit was" if units == 1 else f"{units} units were"
    drawn = "it was" if units == 1 else "they were"
    bound = percent_up(upper_bound(0, units))
    return (
        f"{what} tested: up to {bound} of the others may behave otherwise (exact 95 % "
        f"bound, if {drawn} drawn at random)."
    )


def not_shown(
    verdicts: Sequence[Verdict], deviations: Sequence[Deviation], units: int
) -> list[str]:
    """Write what follows from the verdicts' own limits, one sentence each.

    Parameters
    ----------
    verdicts : sequence of Verdict
    deviations : sequence of Deviation
        Fields that differ or are unknown.
    units : int
        Tested units.
    """
    said = [units_sentence(units)]
    enough = [v for v in verdicts if v.word == "sufficient on this sample"]
    if enough:
        names = ", ".join(v.hypothesis.name for v in enough)
        said.append(
            f"What is sufficient here ({names}) is not thereby the cause in the field: "
            "others may be sufficient too, and which of them acted there was not seen."
        )
    else:
        said.append(
            "A cause that is sufficient on a bench need not be the cause in the field."
        )
    said += [*_not_tested(verdicts), *_not_reproduced(verdicts)]
    said += [sentence for v in verdicts if (sentence := _open_end(v))]
    return said + _not_alike(deviations, {v.hypothesis.name for v in verdicts})


def _not_tested(verdicts: Sequence[Verdict]) -> list[str]:
    names = [v.hypothesis.name for v in verdicts if v.word == "not tested"]
    were = "was" if len(names) == 1 else "were"
    said = f"{', '.join(names)} {were} not tested: nothing here speaks for or against."
    return [said] if names else []


def _not_reproduced(verdicts: Sequence[Verdict]) -> list[str]:
    bounds = [
        f"{v.hypothesis.name} ({v.word.partition(', ')[2]})"
        for v in verdicts
        if v.word.startswith("not reproduced")
    ]
    were = "was" if len(bounds) == 1 else "were"
    what = "what was shown is the bound, not an absence"
    return [f"{', '.join(bounds)} {were} not reproduced: {what}."] if bounds else []


def _open_end(verdict: Verdict) -> str:
    name, word = verdict.hypothesis.name, verdict.word
    if word == "undetermined":
        return f"{name} is undetermined: {verdict.reason}."
    if word == "compatible":
        return f"{name} is compatible, which is less than shown: {verdict.reason}."
    late = [j for j in verdict.judged if j.written.startswith(AFTER)]
    if late and word == "sufficient on this sample":
        some = "1 prediction" if len(late) == 1 else f"{len(late)} predictions"
        return f"{name} rests also on {some} written after the data."
    return ""


def _not_alike(deviations: Sequence[Deviation], rivals: set[str]) -> list[str]:
    """Say each kind of deviation once, with the rivals that a field bears on."""
    said = []
    for same in dict.fromkeys(d.same for d in deviations):
        those = [d for d in deviations if d.same == same]
        start = f"{same.capitalize()} between the reported device and the tested sample"
        touched = [(d.field, [n for n in d.touches if n in rivals]) for d in those]
        named = [f"{field} ({', '.join(names)})" for field, names in touched if names]
        if named:
            what = "which may change the verdicts in brackets"
            said.append(f"{start}, {what}: {'; '.join(named)}.")
        unnamed = [field for field, names in touched if not names]
        if unnamed:
            what = "and nobody said which verdicts it bears on"
            said.append(f"{start}, {what}: {'; '.join(unnamed)}.")
    return said


def resting_on(verdicts: Sequence[Verdict], deviations: Sequence[Deviation]) -> Table:
    """Return each verdict that rests on fields that differ or are unknown."""
    rows = tuple(
        (v.hypothesis.name, v.word, _listed(found))
        for v in verdicts
        if (found := [d for d in deviations if v.hypothesis.name in d.touches])
    )
    heads = columns("Rival", "Verdict", "Rests on, not as reported")
    open_ = [d for d in deviations if not d.touches]
    said = f"Nobody said which verdicts these bear on, so all may: {_listed(open_)}."
    notes = (said,) if open_ else ()
    return Table("What the verdicts rest on", heads, rows, notes)


def _listed(deviations: Sequence[Deviation]) -> str:
    return "; ".join(f"{d.field} ({d.same})" for d in deviations)
