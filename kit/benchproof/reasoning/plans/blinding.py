"""Who got what, sealed: codes for the bench, a key that only its salt opens."""

from __future__ import annotations

import hashlib
import hmac
import random
import re
from collections.abc import Sequence
from dataclasses import dataclass

from benchproof.reasoning.plans.order import shuffled_places
from benchproof.values.errors import InputError

SALT_CHARACTERS = 32
"""Fewest characters of a salt: a key has few possible texts, so a hash of it alone
could be opened by trying them all."""


@dataclass(frozen=True, slots=True)
class BlindKey:
    """Which run got which treatment, and the seal that may be shown beforehand.

    Attributes
    ----------
    treatments : tuple of str
        One per run, in the order of the runs.
    salt : str
        Secret until the end; it also decided the order.

    Examples
    --------
    >>> key = blind_key(["brine", "tap"] * 4, salt="0123456789abcdef" * 2)
    >>> opens(key.seal(), key.text(), key.salt)
    True
    """

    treatments: tuple[str, ...]
    salt: str

    def codes(self) -> tuple[str, ...]:
        """Return what is written on the runs: numbers, which say nothing."""
        return tuple(f"run {i}" for i in range(1, len(self.treatments) + 1))

    def text(self) -> str:
        """Return the key as it is to be kept out of sight, a line per run."""
        lines = zip(self.codes(), self.treatments, strict=True)
        return "".join(f"{code}: {treatment}\n" for code, treatment in lines)

    def seal(self) -> str:
        """Return the commitment to the key: it may be shown before the first run."""
        return sealed(self.text(), self.salt)


def blind_key(treatments: Sequence[str], salt: str) -> BlindKey:
    """Draw which run gets which treatment, from the salt alone.

    Parameters
    ----------
    treatments : sequence of str
        One per run, in any order; the numbers of each are kept (a balanced plan).
    salt : str
        At least `SALT_CHARACTERS` random characters, drawn by the caller and kept
        out of sight: who knows the salt knows the key. The seed of a plan will not
        do, since it is printed.

    Raises
    ------
    InputError
        If there are fewer than two treatments, one has a line break, or the salt is
        short.

    Examples
    --------
    >>> key = blind_key(["brine", "tap"] * 4, salt="0123456789abcdef" * 2)
    >>> sorted(key.treatments).count("brine"), key.codes()[0]
    (4, 'run 1')
    """
    _check_salt(salt)
    if len(set(treatments)) < 2 or any("\n" in t or not t.strip() for t in treatments):
        raise InputError(
            f"treatments {list(treatments)}: give one name per run, on one line, and "
            "at least two different ones."
        )
    digest = hashlib.sha256(f"order\n{salt}".encode()).digest()
    # The salt decides, so that the printed seed of the plan betrays nothing.
    places = shuffled_places(len(treatments), random.Random(digest))
    return BlindKey(tuple(sorted(treatments)[place] for place in places), salt)


def sealed(key_text: str, salt: str) -> str:
    """Return a commitment to a text: it shows nothing of it, and can be checked.

    Parameters
    ----------
    key_text : str
    salt : str
        As for `blind_key`.

    Returns
    -------
    str
        SHA-256 of the salt's length, the salt and the text, in hexadecimal.

    Raises
    ------
    InputError
        If the salt is short.

    Examples
    --------
    >>> sealed("run 1: tap", "0123456789abcdef" * 2)[:16]
    'ffe12239d88b4d29'
    """
    _check_salt(salt)
    return hashlib.sha256(f"{len(salt)}\n{salt}\n{key_text}".encode()).hexdigest()


def opens(seal: str, key_text: str, salt: str) -> bool:
    """Return whether a text and a salt are those that were sealed.

    Parameters
    ----------
    seal : str
        What `sealed` returned.
    key_text, salt : str
        What is claimed to have been sealed.

    Raises
    ------
    InputError
        If the seal is no seal, or the salt is short.

    Examples
    --------
    >>> salt = "0123456789abcdef" * 2
    >>> opens(sealed("run 1: tap", salt), "run 1: brine", salt)
    False
    """
    if not re.fullmatch(r"[0-9a-f]{64}", seal):
        raise InputError(
            f"seal {seal!r}: a seal has 64 digits 0-9, a-f. Copy the whole of it."
        )
    return hmac.compare_digest(seal, sealed(key_text, salt))


def _check_salt(salt: str) -> None:
    if len(salt) < SALT_CHARACTERS or len(set(salt)) < 8:
        raise InputError(
            f"the salt has {len(salt)} characters, {len(set(salt))} of them different: "
            f"draw at least {SALT_CHARACTERS} at random, or the key could be guessed "
            "from its seal."
        )
