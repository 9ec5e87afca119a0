"""Whether a fitted line may be carried beyond its points."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from benchproof.measuring.lines.leastsquares import Solution
from benchproof.measuring.lines.points import Points
from benchproof.measuring.lines.residuals import Runs, residual_bow, residual_runs

BOW_LEVEL = 0.01
"""Below this probability a bow is taken for a curve, not for chance."""


@dataclass(frozen=True, slots=True)
class Straightness:
    """What the residuals of a line say about a curve it misses.

    Attributes
    ----------
    runs : Runs
        Whether the residuals come in random order along x.
    bow_p : float
        Two-sided p of a term in x²; NaN if there are too few points to tell.
    """

    runs: Runs
    bow_p: float

    @property
    def objection(self) -> str:
        """Why the line must not be carried beyond its points; "" if nothing objects."""
        if self.runs.too_few:
            return (
                f"in order of x the residuals form only {self.runs.runs} runs of one "
                f"sign (p = {self.runs.p:.2g} if the points follow a line)"
            )
        if self.bow_p < BOW_LEVEL:
            return (
                f"the residuals bow (p = {self.bow_p:.2g} if the points follow a line)"
            )
        return ""

    @property
    def caveats(self) -> tuple[str, ...]:
        """What to know before the line is carried beyond its points."""
        if self.objection:
            return (f"{self.objection}: no value outside the points is given",)
        if self.runs.can_object:
            return ()
        above, below = self.runs.positive, self.runs.negative
        return (
            f"residuals above the line: {above}, below it: {below}; the run test "
            "cannot object to any curve with so few, so a value outside the points "
            "rests on the assumption that the line goes on",
        )


def straightness_of(
    points: Points, solution: Solution, through_origin: bool
) -> Straightness:
    """Test the residuals of a line for a curve, by their runs and for a bow."""
    x, residuals = points.x.tolist(), solution.residuals
    # Points on the line leave rounding, which has no order to be judged.
    size = np.abs(points.y).max() + np.abs(solution.slope * points.x).max()
    rounding = 1e-13 * float(size)
    fewest = 2 if through_origin else 3
    return Straightness(
        residual_runs(x, residuals, fewest=fewest, negligible=rounding),
        residual_bow(
            x, residuals, solution.weights,
            through_origin=through_origin, negligible=rounding,
        ),
    )  # fmt: skip
