"""When to stop, written before the first attempt."""

from __future__ import annotations

import math
from dataclasses import dataclass

from benchproof.values.errors import InputError


@dataclass(frozen=True, slots=True)
class StopRule:
    """When the attempts of one condition end; whichever is reached first.

    Attributes
    ----------
    attempts : int or None
        After so many attempts.
    occurrences : int or None
        At this occurrence; the count is then no binomial one (`StoppedCount`).
    exposure : float or None
        After so long, in `unit`.
    unit : str
        Of the exposure.

    Raises
    ------
    InputError
        If no end is given, or one that is not above 0.

    Examples
    --------
    >>> rule = StopRule(attempts=20, occurrences=1)
    >>> print(rule)
    stop after 20 attempts of a condition, or at occurrence 1, whichever comes first
    >>> rule.reached(attempts=7, occurrences=1)
    'occurrence 1 of 1 reached'
    """

    attempts: int | None = None
    occurrences: int | None = None
    exposure: float | None = None
    unit: str = "h"

    def __post_init__(self) -> None:
        ends = [self.attempts, self.occurrences, self.exposure]
        given = [end for end in ends if end is not None]
        if not given or not all(0 < end < math.inf for end in given):
            raise InputError(
                f"stop rule with attempts {self.attempts}, occurrences "
                f"{self.occurrences}, exposure {self.exposure}: give at least one "
                "end, above 0."
            )

    def __str__(self) -> str:
        ends = []
        if self.attempts is not None:
            ends.append(f"after {self.attempts} attempts of a condition")
        if self.occurrences is not None:
            ends.append(f"at occurrence {self.occurrences}")
        if self.exposure is not None:
            ends.append(f"after {self.exposure:g} {self.unit}")
        first = ", whichever comes first" if len(ends) > 1 else ""
        return f"stop {', or '.join(ends)}{first}"

    @property
    def binomial(self) -> bool:
        """Whether the number of attempts does not depend on what they show."""
        return self.occurrences is None

    def reached(
        self, attempts: int, occurrences: int = 0, exposure: float = 0.0
    ) -> str:
        """Say which end is reached; "" while the attempts go on.

        Examples
        --------
        >>> StopRule(attempts=20).reached(attempts=19)
        ''
        """
        if self.occurrences is not None and occurrences >= self.occurrences:
            return f"occurrence {occurrences} of {self.occurrences} reached"
        if self.attempts is not None and attempts >= self.attempts:
            return f"{attempts} of {self.attempts} attempts made"
        if self.exposure is not None and exposure >= self.exposure:
            return f"{exposure:g} of {self.exposure:g} {self.unit} watched"
        return ""
