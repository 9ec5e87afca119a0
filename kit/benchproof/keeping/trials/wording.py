"""Conditions and outcomes as they are typed at the bench and kept in trials.csv."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from benchproof.reasoning.plans import Condition
from benchproof.values.errors import InputError

JOINED, STEPS = "joined", "steps"
"""What stands for groups and steps of a condition where factors stand."""

NOT_MADE = ("-", "\N{EN DASH}", "\N{EM DASH}", "\N{MINUS SIGN}")
"""In a row of outcomes, for a place that was left open."""


def condition_text(condition: Condition) -> str:
    """Write a condition as ``name=value`` texts.

    Examples
    --------
    >>> condition_text(Condition((("P1", "P2"),), (("state", "wake in hand"),)))
    'joined=P1+P2; state=wake in hand'
    """
    parts = [f"{factor}={level}" for factor, level in condition.settings]
    if condition.groups:
        groups = " | ".join("+".join(group) for group in condition.groups)
        parts.insert(0, f"{JOINED}={groups}")
    if condition.steps:
        parts.append(f"{STEPS}={' > '.join(condition.steps)}")
    return "; ".join(parts) or "nothing changed"


def condition_read(text: str) -> Condition:
    """Read a condition back from its ``name=value`` texts.

    Raises
    ------
    InputError
        If a part is no ``name=value``.

    Examples
    --------
    >>> print(condition_read("joined=P1+P2; state=wake in hand"))
    P1–P2, state wake in hand
    """
    if text == "nothing changed":
        return Condition()
    said: dict[str, str] = {}
    for part in text.split(";"):
        name, sign, value = part.strip().partition("=")
        if not sign or not name or name in said:
            raise InputError(
                f"condition {text!r}: {part.strip()!r} is no name=value, or stands "
                "there twice. Write 'supply=brick; axes=both'."
            )
        said[name] = value
    return condition_of(said)


def condition_words(text: str) -> str:
    """Write a condition for reading; the code of a blind run as it is.

    Examples
    --------
    >>> condition_words("joined=P1+P2; state=docked"), condition_words("run 7")
    ('P1–P2, state docked', 'run 7')
    """
    return text if text.startswith("run ") else str(condition_read(text))


def condition_of(said: Mapping[str, str]) -> Condition:
    """Make a condition of names and values, in the order they are given.

    Parameters
    ----------
    said : mapping
        Factor to level; ``joined`` (``P1+P2 | P3+P4``, ``none``) and ``steps``
        (``plug > slew``) for contacts and actions.

    Examples
    --------
    >>> print(condition_of({"joined": "none", "state": "docked"}))
    state docked
    """
    joined = said.get(JOINED, "none")
    groups = [] if joined == "none" else joined.split("|")
    split = tuple(tuple(n.strip() for n in group.split("+")) for group in groups)
    steps = tuple(s.strip() for s in said.get(STEPS, "").split(">") if s.strip())
    settings = [(n, v) for n, v in said.items() if n not in (JOINED, STEPS)]
    return Condition(split, tuple(settings), steps)


def check_words(words: Sequence[str], what: str, barred: str) -> None:
    """Refuse words that could not be read back from the ledger.

    Parameters
    ----------
    barred : str
        Characters that separate such words.

    Raises
    ------
    InputError
        Naming the word and the character.

    Examples
    --------
    >>> check_words(["brick", "bench"], "levels of supply", ";")
    """
    for word in words:
        found = [c for c in (*barred, "\n", "\r") if c in word]
        if found or word != word.strip() or not word:
            raise InputError(
                f"{what}: {word!r} is empty, has a space at an end, or holds one of "
                f"{' '.join(barred)} or a line break, which separate words in "
                "trials.csv. Write it differently."
            )


def outcome_keys(outcomes: Sequence[str]) -> dict[str, str]:
    """Return what may be typed for each outcome: word, number, a letter of its own.

    Parameters
    ----------
    outcomes : sequence of str
        One word each; the first is the one that is looked for.

    Raises
    ------
    InputError
        If there are fewer than two, one is no word, or two are the same.

    Examples
    --------
    >>> outcome_keys(["lost", "kept"])["k"], outcome_keys(["lost", "kept"])["1"]
    ('kept', 'lost')
    >>> sorted(outcome_keys(["blank", "beep"]))
    ['1', '2', 'beep', 'blank']
    """
    lower = [o.lower() for o in outcomes]
    if len({*lower}) < max(len(lower), 2) or isinstance(outcomes, str):
        raise InputError(
            f"outcomes {list(outcomes)}: give two different words or more, the one "
            "that is looked for first."
        )
    for word in outcomes:
        if not re.fullmatch(r"[^\W\d]\w*", word):
            raise InputError(
                f"outcome {word!r}: one word, a letter first, so that a row of them "
                "can be typed."
            )
    keys = {str(i): o for i, o in enumerate(outcomes, 1)}
    first = [word[0] for word in lower]
    keys |= {f: o for f, o in zip(first, outcomes, strict=True) if first.count(f) == 1}
    return keys | dict(zip(lower, outcomes, strict=True))


def outcomes_read(text: str, outcomes: Sequence[str], where: str) -> list[str]:
    """Read a row of outcomes; a place that was left open is "".

    Parameters
    ----------
    text : str
        Words, letters or numbers, separated by spaces or commas; ``-`` is a place
        at which no attempt was made.
    where : str
        Named in the message.

    Raises
    ------
    InputError
        If one is not a declared outcome; nothing is taken of the row.

    Examples
    --------
    >>> outcomes_read("l k - 2", ["lost", "kept"], "power")
    ['lost', 'kept', '', 'kept']
    """
    keys = outcome_keys(outcomes)
    found = []
    for number, token in enumerate(text.replace(",", " ").split(), 1):
        if token in NOT_MADE:
            found.append("")
        elif token.lower() in keys:
            found.append(keys[token.lower()])
        else:
            raise InputError(
                f"{where}, outcome {number}: {token!r} is not declared. Type one of "
                f"{', '.join(keys)}, or - for one not made. Nothing was recorded."
            )
    return found
