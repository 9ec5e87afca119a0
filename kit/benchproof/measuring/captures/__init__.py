"""Captures, an oscilloscope's records, read honestly; may import values and measuring.

A function takes a `Trace` (``case.captures.open(…)``) and returns findings: values with
their sources, or the reason why they cannot be told.
"""

from benchproof.measuring.captures.amplitudes import amplitudes_of
from benchproof.measuring.captures.bursts import bursts_of
from benchproof.measuring.captures.decays import decay_of
from benchproof.measuring.captures.delays import delay_between, first_edge, stagger_of
from benchproof.measuring.captures.dips import dips_of, swells_of
from benchproof.measuring.captures.finding import Finding
from benchproof.measuring.captures.gains import ratio_slip, transferred
from benchproof.measuring.captures.levels import given_levels, levels_of
from benchproof.measuring.captures.model import beside, fit_model, ode_model
from benchproof.measuring.captures.noise import noise_of, noise_within
from benchproof.measuring.captures.polarity import polarity_of
from benchproof.measuring.captures.pulses import pulses_of
from benchproof.measuring.captures.spectrum import spectrum_of, tone_of
from benchproof.measuring.captures.surges import surge_of
from benchproof.measuring.captures.trace import Settings, Trace
from benchproof.measuring.captures.transitions import (
    device_rise,
    overshoot,
    settling_time,
    transition_duration,
)

__all__ = [
    "Finding",
    "Settings",
    "Trace",
    "amplitudes_of",
    "beside",
    "bursts_of",
    "decay_of",
    "delay_between",
    "device_rise",
    "dips_of",
    "first_edge",
    "fit_model",
    "given_levels",
    "levels_of",
    "noise_of",
    "noise_within",
    "ode_model",
    "overshoot",
    "polarity_of",
    "pulses_of",
    "ratio_slip",
    "settling_time",
    "spectrum_of",
    "stagger_of",
    "surge_of",
    "swells_of",
    "tone_of",
    "transferred",
    "transition_duration",
]
