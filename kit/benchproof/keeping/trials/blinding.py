"""Blind plans: the sealed key, what it says once opened, and how well one guessed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from benchproof.keeping.trials.planspec import PlanSpec
from benchproof.keeping.trials.rows import Made, PlanRows
from benchproof.keeping.trials.wording import condition_read
from benchproof.reasoning.plans import BlindKey, blind_key
from benchproof.reasoning.trials import (
    chance_of_all_right,
    chance_of_balanced,
    chance_of_guesses,
)
from benchproof.values.errors import InputError
from benchproof.values.tables import Table, Tabular, columns

_SALT = "salt: "


def drawn_key(spec: PlanSpec, salt: str) -> BlindKey:
    """Draw which run gets which condition of a blind plan.

    Parameters
    ----------
    salt : str
        Random characters, at least `SALT_CHARACTERS`.

    Raises
    ------
    InputError
        If the plan is not blind, or the salt is short.
    """
    if not spec.blind:
        raise InputError(
            f"{spec.name}: it was planned without blind=True, so conditions are shown "
            "before each attempt and a key would hide nothing. Plan it blind."
        )
    return blind_key(spec.treatments, salt)


def key_file_text(key: BlindKey) -> str:
    """Return what the helper keeps out of sight: key and salt.

    Examples
    --------
    >>> key = BlindKey(("tap", "brine"), "0123456789abcdef" * 2)
    >>> key_file_read(key_file_text(key)) == (key.text(), key.salt)
    True
    """
    return f"{key.text()}{_SALT}{key.salt}\n"


def key_file_read(text: str) -> tuple[str, str]:
    """Take a key file apart into the key's text and the salt.

    Raises
    ------
    InputError
        If there is no salt in it.
    """
    text = text.replace("\r\n", "\n")
    key, found, salt = text.rpartition(_SALT)
    if not found:
        raise InputError(
            "the key file has no line that begins with 'salt: '. Use the file that "
            "seal(…) wrote, unchanged."
        )
    return key, salt.strip()


def key_of_runs(plan: PlanRows, version: int, up_to: int | None) -> dict[str, str]:
    """Return the condition of each code, as an opened key says; empty if sealed."""
    for row in plan.opened:
        if row["version"] == str(version) and (
            up_to is None or int(row["round"]) <= up_to
        ):
            lines = row["condition"].splitlines()
            return dict(line.split(": ", 1) for line in lines)
    return {}


def unblinded(plan: PlanRows, up_to: int | None = None) -> list[Made]:
    """Return a plan's attempts, codes replaced by conditions where a key is opened."""
    keys = {
        v.number: key_of_runs(plan, v.number, up_to)
        for v in plan.versions
        if v.spec.blind
    }
    made = plan.made(up_to)
    if not any(keys.values()):
        return made
    return [
        replace(m, condition=keys.get(m.version, {}).get(m.condition, m.condition))
        for m in made
    ]


def made_after_opening(plan: PlanRows, version: int, up_to: int | None) -> set[str]:
    """Return the rows of attempts made when the key was open, so not blind."""
    opened = next((r for r in plan.opened if r["version"] == str(version)), None)
    if opened is None:
        return set()
    return {
        m.row
        for m in plan.made(up_to)
        if m.version == version and int(m.row[2:]) > int(opened["row"][2:])
    }


@dataclass(frozen=True, slots=True, repr=False)
class GuessScore(Tabular):
    """How many runs were named rightly, and the chance of as many by guessing.

    Attributes
    ----------
    right, runs : int
    chance : float
    how : str
        What the chance assumes.
    """

    right: int
    runs: int
    chance: float
    how: str

    def sentence(self) -> str:
        """Say it.

        Examples
        --------
        >>> GuessScore(8, 8, 1 / 70, "numbers of each known").sentence()
        '8 of 8 runs named rightly; by guessing, as many or more: 0.014 (numbers of \
each known)'
        """
        return (
            f"{self.right} of {self.runs} runs named rightly; by guessing, as many or "
            f"more: {self.chance:.2g} ({self.how})"
        )

    def table(self) -> Table:
        """Return the same as a table."""
        rows = (
            ("Named rightly", f"{self.right} of {self.runs} runs"),
            ("As many or more by guessing", f"{self.chance:.2g}"),
            ("Guessing", self.how),
        )
        return Table("Blind score", columns("", ""), rows)


def guess_score(spec: PlanSpec, made: Sequence[Made], late: int = 0) -> GuessScore:
    """Score attempts whose outcomes name levels of the blinded factor.

    Parameters
    ----------
    made : sequence of Made
        With their conditions, after the key was opened; those without an outcome
        are left out.
    late : int
        How many more were made after the key was opened; they are told, not scored.

    Raises
    ------
    InputError
        If the outcomes are no levels of the plan's one factor, or nothing is made.
    """
    if len(spec.factors) != 1 or not {*spec.outcomes} <= {*spec.factors[0][1]}:
        raise InputError(
            f"{spec.name}: a score needs one factor whose levels are the outcomes, "
            "such as outcomes=['near', 'far']. Compare rates instead."
        )
    factor = spec.factors[0][0]
    named = [m for m in made if m.kind == "planned" and m.outcome]
    pairs = [
        (m.outcome, dict(condition_read(m.condition).settings).get(factor, ""))
        for m in named
    ]
    if not pairs:
        raise InputError(f"{spec.name}: no run is named yet, so there is no score.")
    right = sum(said == was for said, was in pairs)
    given, each = Counter(s for s, _ in pairs), Counter(w for _, w in pairs)
    runs = len(pairs)
    if given == each and len(each) == 2:
        first, second = each.values()
        chance, how = chance_of_balanced(right, first, second), "numbers of each known"
    elif right == runs and len(each) > 1:
        chance = chance_of_all_right(tuple(each.values()))
        how = "numbers of each known"
    else:
        kinds = max(len(spec.factors[0][1]), 2)
        chance = chance_of_guesses(right, runs, kinds)
        how = "each run guessed for itself"
    if late:
        how += f"; {late} more made after the key was opened, left out"
    return GuessScore(right, runs, chance, how)
