"""The usual cautions, by kind of hazard. Their absence says nothing about safety."""

from __future__ import annotations

DEFER = (
    "Local codes and licensed practice come first. What this list does not name has "
    "not been judged."
)

UNANSWERED = "NOT ANSWERED"
"""Stands where a question about hazards was left open."""

CAUTIONS: dict[str, str] = {
    "mains": (
        "Do not open mains-powered parts; work on mains wiring belongs to licensed "
        "people. Unplug, and check for absence of voltage. A scope's earth clip goes "
        "only on an isolated circuit."
    ),
    "lithium cells": (
        "Swollen, hot, wet or venting: stop and move away. Do not charge, pierce or "
        "bridge a cell, and do not charge a primary one at all; limit the current "
        "before connecting anything to it."
    ),
    "stored charge": (
        "Capacitors keep their charge after switching off. Bleed through a resistor "
        "and measure before touching or measuring ohms; measure again a minute later, "
        "for some charge comes back."
    ),
    "heat": (
        "Metal above about 50 °C can burn within a minute (ISO 13732-1, recalled, "
        "not read). Let parts cool; do not leave a hot test unattended."
    ),
    "lasers": "Do not open the optical engine and do not look into the beam.",
    "moving parts": "Motors can start without warning: keep fingers, hair and "
    "sleeves clear, and be able to cut the power with one hand.",
    "supply": (
        "Set the current limit before connecting. Measure ohms only with the supply "
        "off and its capacitors bled. Its output may be earthed: an earthed clip or a "
        "second supply can short it."
    ),
}
"""Common practice, no source, except where one is named."""


def caution_for(kind: str) -> str:
    """Return the usual caution for a kind of hazard, or say that none is known.

    Examples
    --------
    >>> caution_for("lasers")
    'Do not open the optical engine and do not look into the beam.'
    """
    return CAUTIONS.get(
        kind.lower(), "No caution is kept for this kind: write one in case.toml."
    )
