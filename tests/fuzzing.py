"""What the fuzz tests share: how many inputs, how inputs are made, what may escape.

Only `BenchproofError` may escape from what reads a stranger's text, with a message,
and within `PATIENCE` seconds. `FUZZ_EXAMPLES=100000 make fuzz` tries more.
"""

import os
import signal
from contextlib import contextmanager

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st

from benchproof.values.errors import BenchproofError

EXAMPLES = int(os.environ.get("FUZZ_EXAMPLES", "200"))
PATIENCE = 5.0
"""Seconds for one input; the slowest of those tried on an idle machine took 0.1."""

# Not Hypothesis' own deadline: on a busy machine it fails inputs that are quick, and
# it does not interrupt one that never ends.
many = settings(
    max_examples=EXAMPLES,
    deadline=None,
    derandomize="FUZZ_EXAMPLES" not in os.environ,
    database=None,
    suppress_health_check=list(HealthCheck),
)


class TooSlowError(BaseException):
    """Raised by the alarm; no `except Exception` on the way may swallow it."""


def _ring(number, frame):
    raise TooSlowError(f"still at it after {PATIENCE} s")


@contextmanager
def in_time():
    """Raise `TooSlowError` inside what takes longer than `PATIENCE`."""
    if not hasattr(signal, "setitimer"):  # not on every system
        yield
        return
    before = signal.signal(signal.SIGALRM, _ring)
    signal.setitimer(signal.ITIMER_REAL, PATIENCE)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)


def tried(read, *arguments, **more):
    """Return what a reader makes of an input, None if it refuses it as ours do."""
    with in_time():
        try:
            return read(*arguments, **more)
        except BenchproofError as problem:
            refusal = str(problem)
    assert refusal.strip(), "refused without a message"
    return None


class Unshown(dict):
    """A mapping that a failing test does not print: files of a hundred kilobytes."""

    def __repr__(self):
        return "…"


# Characters that some part of Python takes for a digit, a space or a line end.
ODD = "\u0663\u00b2\u2460\uff11\u00a0\u2007\u2028\x85\x1c\u200b\ufeff\u202e−×·µμΩΩ°±\0"
NUMBERS = ["0", "1", "-1", "12.10", "1e308", "1e999", "-1e-400", "9" * 30, "9" * 5000,
           ".5", "1.", "1e", "0x1f", "nan", "inf", "1_000", "1,5", "²"]  # fmt: skip


def pieces(*words):
    """Strategy: words of a small language in any order, with odd ones between."""
    token = st.one_of(
        st.sampled_from(words),
        st.sampled_from(NUMBERS),
        st.sampled_from(list(ODD) + list(" ,;()+-*/^%=<>?\"'[]{}\n\t")),
        st.text(max_size=3),
    )
    joined = st.sampled_from(["", " ", ", "])
    return st.builds(
        lambda mark, parts: mark.join(parts), joined, st.lists(token, max_size=12)
    )


@st.composite
def changed(draw, sound, words):
    """Strategy: a sound text with a few cuts, repeats and insertions.

    Parameters
    ----------
    sound : sequence of str
        Texts as people write them.
    words : sequence of str
        What is inserted, beside odd characters and numbers.
    """
    text = draw(st.sampled_from(sound))
    insertion = st.one_of(
        st.sampled_from(words), st.sampled_from(NUMBERS), st.sampled_from(list(ODD)),
        st.text(max_size=2),
    )  # fmt: skip
    for _ in range(draw(st.integers(1, 5))):
        start = draw(st.integers(0, len(text)))
        end = min(len(text), start + draw(st.integers(0, 8)))
        middle = draw(st.one_of(st.just(text[start:end] * 2), insertion, st.just("")))
        text = text[:start] + middle + text[end:]
    return text


def texts(sound, words):
    """Strategy: sound texts changed, words put together, and anything at all."""
    return st.one_of(changed(sound, words), pieces(*words), st.text(max_size=60))


EDITS = st.lists(
    st.tuples(
        st.integers(0, 1 << 20),
        st.integers(0, 40),
        st.one_of(
            st.none(),
            st.binary(max_size=4),
            st.sampled_from([b"\0", b"\r", b"\n", b'"', b",", b";", b"\xff\xfe"]),
        ),
    ),
    min_size=1,
    max_size=6,
)
"""Strategy: where, how many bytes, and what comes instead; None for them twice."""


def edited(data, edits):
    """Return bytes with flips, cuts, repeats and insertions."""
    found = bytearray(data)
    for place, length, instead in edits:
        start = place % (len(found) + 1)
        end = min(len(found), start + length)
        found[start:end] = found[start:end] * 2 if instead is None else instead
    return bytes(found)


def changed_bytes(sound):
    """Strategy: one of some sound bytes, edited."""
    return st.builds(edited, st.sampled_from(sound), EDITS)
