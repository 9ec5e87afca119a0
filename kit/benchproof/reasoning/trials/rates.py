"""Events in an exposure: exact limits of a rate, and the bound that a zero leaves."""

from __future__ import annotations

import math
from collections.abc import Callable

from benchproof.reasoning.trials.counts import check_level
from benchproof.values.errors import InputError


def rate_limits(
    events: int, exposure: float, level: float = 0.95, *, stopped_at_event: bool = False
) -> tuple[float, float]:
    """Two-sided exact confidence limits of a rate.

    Parameters
    ----------
    events : int
        >= 0.
    exposure : float
        How long was watched, > 0; its unit is the one the rate is per.
    level : float
        Confidence level.
    stopped_at_event : bool
        True if the watching was to end at the event of this number, rather than
        after a time fixed beforehand.

    Returns
    -------
    lower, upper : float
        Per unit of exposure.

    Raises
    ------
    InputError
        If an argument is out of range.

    Notes
    -----
    ``χ²(α/2; 2r)/2T`` and ``χ²(1 - α/2; 2r + 2)/2T``; 2r in both where the exposure
    ended at the last event.

    References
    ----------
    Garwood, Biometrika 28 (1936) 437; NIST/SEMATECH e-Handbook, 8.4.5.1 (not read
    in full).

    Examples
    --------
    >>> low, high = rate_limits(9, 12.5)
    >>> round(low, 3), round(high, 3)
    (0.329, 1.367)
    """
    tail = 0.5 + level / 2
    return (
        rate_lower_bound(events, exposure, tail),
        rate_upper_bound(events, exposure, tail, stopped_at_event=stopped_at_event),
    )


def rate_upper_bound(
    events: int, exposure: float, level: float = 0.95, *, stopped_at_event: bool = False
) -> float:
    """One-sided exact upper bound of a rate; a zero gives -ln(1 - level)/T.

    Parameters
    ----------
    events, exposure, level, stopped_at_event
        As for `rate_limits`; the level is one-sided.

    Raises
    ------
    InputError
        If an argument is out of range.

    Examples
    --------
    >>> round(rate_upper_bound(0, 46), 4)
    0.0651
    """
    _check(events, exposure, level)
    if stopped_at_event and not events:
        raise InputError(
            "the exposure is said to have ended at an event, but there is none: "
            "give the event, or leave out stopped_at_event."
        )
    if events == 0:
        return -math.log1p(-level) / exposure
    from scipy.special import gammaincinv  # lazily: not needed to open a case

    return float(gammaincinv(events + (not stopped_at_event), level)) / exposure


def rate_lower_bound(events: int, exposure: float, level: float = 0.95) -> float:
    """One-sided exact lower bound of a rate; 0 if nothing was seen.

    Parameters
    ----------
    events, exposure, level
        As for `rate_limits`; the level is one-sided.

    Raises
    ------
    InputError
        If an argument is out of range.

    Examples
    --------
    >>> round(rate_lower_bound(9, 12.5, 0.975), 3)
    0.329
    """
    _check(events, exposure, level)
    if events == 0:
        return 0.0
    from scipy.special import gammaincinv

    return float(gammaincinv(events, 1 - level)) / exposure


def mean_time_limits(
    events: int, exposure: float, level: float = 0.95, *, stopped_at_event: bool = False
) -> tuple[float, float]:
    """Two-sided exact limits of the mean time between events, in unit of exposure.

    Parameters
    ----------
    events, exposure, level, stopped_at_event
        As for `rate_limits`.

    Returns
    -------
    lower, upper : float
        The upper one is infinite if nothing was seen.

    Examples
    --------
    >>> low, high = mean_time_limits(2, 800.0, 0.9)
    >>> round(low), round(high)
    (127, 2251)
    """
    slow, fast = rate_limits(events, exposure, level, stopped_at_event=stopped_at_event)
    return 1 / fast, 1 / slow if slow else math.inf


def shown_rate(
    events: int, exposure: float, level: float = 0.95, unit: str = "h"
) -> str:
    """Write events with what they leave open: a zero with its one-sided bound.

    Parameters
    ----------
    events, exposure, level
        As for `rate_limits`; one-sided where nothing was seen, else two-sided.
    unit : str
        Of the exposure.

    Examples
    --------
    >>> shown_rate(0, 46)
    '0 in 46 h, rate < 0.0652 per h (95 %, one-sided)'
    >>> shown_rate(9, 12.5)
    '9 in 12.5 h, rate from 0.329 to 1.37 per h (95 %)'
    """
    seen, said = f"{events} in {exposure:g} {unit}, rate", f"{100 * level:g} %"
    if events == 0:
        high = _outwards(rate_upper_bound(events, exposure, level), math.ceil)
        return f"{seen} < {high} per {unit} ({said}, one-sided)"
    slow, fast = rate_limits(events, exposure, level)
    low, high = _outwards(slow, math.floor), _outwards(fast, math.ceil)
    return f"{seen} from {low} to {high} per {unit} ({said})"


def _outwards(rate: float, whole: Callable[[float], int]) -> str:
    """Write three figures, rounded so that a limit stays one."""
    places = 2 - math.floor(math.log10(rate))
    return f"{whole(rate * 10.0**places) / 10.0**places:.3g}"


def check_exposure(events: int, exposure: float) -> None:
    """Refuse events and an exposure that cannot be.

    Parameters
    ----------
    events : int
    exposure : float

    Raises
    ------
    InputError
        Saying what is allowed.

    Examples
    --------
    >>> check_exposure(0, 46.0)
    """
    if not (events >= 0 and 0 < exposure < math.inf):
        raise InputError(
            f"{events} events in an exposure of {exposure}: give 0 events or more, "
            "and an exposure above 0."
        )


def _check(events: int, exposure: float, level: float) -> None:
    check_exposure(events, exposure)
    check_level(level)
