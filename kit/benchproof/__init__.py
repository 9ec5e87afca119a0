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
    "acceptance_limits": "reasoning.decisions.guardbands",
    "accuracy_line": "measuring.accuracy",
    "agreement": "reasoning.decisions.agreement",
    "between_and_within": "measuring.groups",
    "bundle_case": "showing.bundle.bundle",
    "check_case": "keeping.checking.check",
    "combine_values": "reasoning.decisions.combining",
    "compare_results": "keeping.comparisons.compare",
    "conformance_probability": "reasoning.decisions.rule",
    "coverage_factor": "reasoning.budgets.coverage",
    "e_n": "reasoning.decisions.agreement",
    "effective_degrees_of_freedom": "reasoning.budgets.coverage",
    "false_acceptance_probability": "reasoning.decisions.guardbands",
    "figure_of_budget": "showing.figures.ofcase",
    "figure_of_capture": "showing.captures.plots",
    "figure_of_captures": "showing.captures.overlays",
    "figure_of_contacts": "showing.figures.contactmap",
    "figure_of_counts": "showing.figures.ofcase",
    "figure_of_coverage": "showing.figures.ofcase",
    "figure_of_line": "showing.figures.line",
    "figure_of_model": "showing.captures.models",
    "figure_of_predictions": "showing.figures.ofcase",
    "figure_of_replications": "showing.figures.ofcase",
    "figure_of_rounds": "showing.figures.ofcase",
    "fit_line": "measuring.lines.line",
    "grubbs": "measuring.outliers",
    "guard_band": "reasoning.decisions.guardbands",
    "line_intercept": "measuring.lines.slopes",
    "line_slope": "measuring.lines.slopes",
    "new_case": "keeping.newcase",
    "open_case": "keeping.opening",
    "open_results": "keeping.runs.saved",
    "pooled_standard_deviation": "measuring.groups",
    "publish_case": "showing.publish",
    "publish_figures": "showing.publish",
    "publish_pdf": "showing.publish",
    "read_values": "values.quantities",
    "relative_uncertainty_of_s": "measuring.repeats",
    "residual_runs": "measuring.lines.residuals",
    "run_case": "keeping.runs.rerun",
    "summarise": "measuring.repeats",
}
"""Public names and where they live; imported when first asked for."""

_ROOMS = {
    "captures": "measuring.captures",
    "circuits": "measuring.circuits",
    "plans": "reasoning.plans",
    "trials": "reasoning.trials",
}
"""Modules to be used by their own name: ``circuits.wire_resistance``."""

__all__ = sorted([*_HOME, *_ROOMS, "__version__"])
__version__ = "0.3.0"


def __getattr__(name: str) -> Any:
    if name in _ROOMS:
        return importlib.import_module(f"benchproof.{_ROOMS[name]}")
    if name not in _HOME:
        raise AttributeError(f"module 'benchproof' has no attribute {name!r}")
    module = importlib.import_module(f"benchproof.{_HOME[name]}")
    value = globals()[name] = getattr(module, name)
    return value


def __dir__() -> list[str]:
    return __all__
