"""Whether a supply's polarity reverses: the verdict DC or AC, or none."""

from __future__ import annotations

from dataclasses import dataclass, replace

from benchproof.measuring.captures.amplitudes import amplitudes_of
from benchproof.measuring.captures.channel import settings_line
from benchproof.measuring.captures.finding import Finding, findings_table
from benchproof.measuring.captures.noise import Noise, noise_within
from benchproof.measuring.captures.trace import Trace
from benchproof.measuring.captures.wording import told_difference
from benchproof.measuring.circuits.waveforms import polarity_reverses
from benchproof.values.tables import Table, Tabular

COVERAGE_FACTOR = 2.0
"""Of the extreme's uncertainty, before a sign is believed."""


@dataclass(frozen=True, slots=True, repr=False)
class Polarity(Tabular):
    """What a record says about the sign of a voltage or current.

    Attributes
    ----------
    reverses : bool or None
        None if it cannot be told.
    extreme : Finding
        The value that reaches farthest to the other side of zero than the mean.
    text : str
        The verdict with its numbers, or why there is none.
    """

    reverses: bool | None
    extreme: Finding
    text: str

    def __str__(self) -> str:
        return self.text

    def table(self) -> Table:
        """Return the extreme, and the verdict below it."""
        found = findings_table((self.extreme,))
        return replace(found, notes=(self.text, *found.notes))


def polarity_of(trace: Trace, noise: Noise | None = None) -> Polarity:
    """Tell DC with ripple from AC by whether the sign changes.

    It reverses if the extreme lies beyond zero by more than 2 u and the noise
    together, and does not if it stays on the mean's side by as much. A record that
    is AC-coupled, or whose coupling is not stated, has no verdict: its mean is lost.

    Examples
    --------
    >>> import numpy as np
    >>> from benchproof.measuring.captures.trace import Settings
    >>> v = 14.9 + 1.2 * np.sin(np.arange(4000) / 50)
    >>> print(polarity_of(Trace("r", v, 1e-5, Settings("scope", "CH1"))).text)
    cannot tell: r: its coupling is not stated. State coupling = "DC" if it was.
    >>> settings = Settings("scope", "CH1", coupling="DC")
    >>> polarity_of(Trace("r", v, 1e-5, settings)).reverses
    False
    """
    noise = noise or noise_within(trace)
    found = amplitudes_of(trace, noise)
    mean = found["mean"]
    extreme = found["minimum"] if not mean.value < 0 else found["maximum"]
    reason = _refused(trace) or extreme.cannot_tell
    if reason:
        return Polarity(None, extreme, f"cannot tell: {reason}")
    sign = -1.0 if mean.value < 0 else 1.0
    reached = sign * extreme.value
    u = COVERAGE_FACTOR * extreme.standard_uncertainty
    reach = noise.extreme(len(trace))
    both = told_difference(u + reach, trace.settings.unit)
    measured = f"{extreme}, U (k = 2) and noise {both}"
    if bool(polarity_reverses(reached, u, reach)):
        return Polarity(True, extreme, f"polarity reverses: {measured}")
    if bool(polarity_reverses(-reached, u, reach)):
        return Polarity(False, extreme, f"polarity does not reverse: {measured}")
    said = f"cannot tell: {measured} reach across 0; {settings_line(trace)}"
    return Polarity(None, extreme, said)


def _refused(trace: Trace) -> str:
    coupling = trace.settings.coupling
    if coupling == "DC":
        return ""
    if coupling == "AC":
        return (
            f"{trace.name} is AC-coupled: its mean is lost, and with it the sign. "
            "Record it DC-coupled."
        )
    return f'{trace.name}: its coupling is not stated. State coupling = "DC" if it was.'
