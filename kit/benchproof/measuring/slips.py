"""Slips of the point, the prefix or the sign: a reading far from its fellows."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence

NEAR = 0.08
"""How close to a whole power of ten, in decades, counts as a slip: a factor of 1.2."""

FAR = 3.0
"""From which factor on a reading is questioned where no power of ten fits."""


def slip_text(earlier: Sequence[float], new: float) -> str:
    """Say that a reading looks like a slip beside those of the same thing before it.

    It is a question, asked while the meter is still on the contact: the reading
    counts until somebody strikes it for a physical reason.

    Parameters
    ----------
    earlier : sequence of float
        Readings before it, SI; those of value 0 say nothing.
    new : float
        The reading, in the same unit.

    Returns
    -------
    str
        A sentence, "" where nothing stands out.

    Examples
    --------
    >>> slip_text([3.284, 3.285], 0.3284)
    '10 times smaller than before: a slip of the decimal point or of the prefix?'
    >>> slip_text([3.284, 3.285], 3.283)
    ''
    """
    before = [x for x in earlier if x and math.isfinite(x)]
    if not before or not new or not math.isfinite(new):
        return ""
    usual = statistics.median(before)
    if not usual:
        return ""
    decades = math.log10(abs(new)) - math.log10(abs(usual))
    if abs(decades) >= NEAR:
        return _far_text(decades)
    if new * usual < 0:
        return "the opposite sign of before: are the leads swapped?"
    return ""


def _far_text(decades: float) -> str:
    way = "larger" if decades > 0 else "smaller"
    whole = round(decades)
    if whole and abs(decades - whole) < NEAR:
        factor = 10 ** abs(whole) if abs(whole) < 7 else f"10^{abs(whole)}"
        return (
            f"{factor} times {way} than before: a slip of the decimal point or of the "
            "prefix?"
        )
    if abs(decades) < math.log10(FAR):
        return ""
    return f"{10 ** abs(decades):.2g} times {way} than before: is it the same thing?"
