"""Invented records for the tests of captures, and how often u covers the truth."""

import numpy as np

from benchproof.measuring.accuracy import accuracy_line
from benchproof.measuring.captures.trace import Settings, Trace

SCOPE = Settings(
    "invented scope",
    "CH1",
    coupling="DC",
    bandwidth=100e6,
    full_screen=16.0,
    bits=8,
    accuracy=accuracy_line("±(1 % of reading + 2 % of full screen)"),
    time_base=50e-6,
)
"""8 bit, 2 V a division."""

PLAIN = Settings("invented scope", "CH1", coupling="DC")
"""Without an accuracy line: what is left is noise, codes and sampling."""


def record(values, interval=1e-5, settings=PLAIN, name="record", **more):
    return Trace(name, np.asarray(values), interval, settings, **more)


def in_codes(values, step=16 / 256, settings=SCOPE, interval=1e-5, name="record"):
    codes = np.clip(np.rint(np.asarray(values) / step), -128, 127).astype(np.int8)
    rails = (-128 * step, 127 * step)
    return Trace(name, codes, interval, settings, step=step, rails=rails)


def errors_in_u(measure, truth, repetitions=120, seed=20):
    """Return (value - truth)/u of repeated, seeded measurements.

    `measure(rng)` returns a finding; `truth` is a number, or the finding's partner.
    """
    found = []
    for k in range(repetitions):
        got = measure(np.random.default_rng([seed, k]))
        value, true = got if isinstance(got, tuple) else (got, truth)
        assert not value.cannot_tell, value.cannot_tell
        found.append((value.value - true) / value.standard_uncertainty)
    return np.array(found)


def covers(errors, least=0.90, smallest=0.15):
    """At least 90 % within 2 u, and u not so large that it says nothing.

    A true 95 % gives fewer than 90 % of 120 with a probability of about 1 %; seeds
    are fixed, so that a pass stays one.
    """
    share = (np.abs(errors) <= 2).mean()
    spread = np.sqrt(np.mean(errors**2))
    assert share >= least, f"only {share:.0%} within 2 u"
    assert spread >= smallest, f"u is {1 / spread:.0f} times what it need be"
    return True
