"""Reproducible teardown notebooks: readings, uncertainty, rivals, verdicts.

>>> import benchproof
>>> "open_case" in dir(benchproof)
True
"""

from __future__ import annotations

import importlib
from typing import Any

_HOME = {
    "AccuracyLine": "measuring.accuracy",
    "BenchproofError": "values.errors",
    "Case": "keeping.case",
    "accuracy_line": "measuring.accuracy",
    "compare_results": "keeping.compare",
    "conformance_probability": "reasoning.decisions",
    "coverage_factor": "reasoning.budget",
    "effective_degrees_of_freedom": "reasoning.budget",
    "exact_limits": "reasoning.trials",
    "figure_of_budget": "showing.figures",
    "figure_of_predictions": "showing.figures",
    "fit_line": "measuring.lines.line",
    "half_width_source": "values.sources",
    "line_intercept": "measuring.lines.slopes",
    "line_slope": "measuring.lines.slopes",
    "new_case": "keeping.newcase",
    "open_case": "keeping.case",
    "publish_case": "showing.publish",
    "read_values": "values.quantities",
    "residual_runs": "measuring.lines.residuals",
    "run_case": "keeping.rerun",
    "summarise": "measuring.repeats",
    "unloaded_voltage": "measuring.corrections",
    "upper_bound": "reasoning.trials",
}
"""Public names and where they live; imported when first asked for."""

__all__ = sorted([*_HOME, "__version__"])
__version__ = "0.1.0"


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module 'benchproof' has no attribute {name!r}")
    module = importlib.import_module(f"benchproof.{_HOME[name]}")
    value = globals()[name] = getattr(module, name)
    return value


def __dir__() -> list[str]:
    return __all__
