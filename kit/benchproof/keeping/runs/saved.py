"""Values of an earlier run, read back with what they have in common."""

from __future__ import annotations

import math
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from benchproof.keeping.measurand import correlated_errors
from benchproof.keeping.runs.results import NAME, read_results
from benchproof.reasoning.budgets.covariation import covariance_of_sums
from benchproof.reasoning.budgets.graph import did_you_mean
from benchproof.values.errors import FileError, InputError, PendingError, UnitError
from benchproof.values.sources import Joint
from benchproof.values.tables import Table, Tabular, columns
from benchproof.values.units import registry, unit_of

_AGREE = 1e-6
"""How well u of a file must follow from its contributions, relative."""


@dataclass(frozen=True, slots=True)
class SavedValue:
    """One quantity of a results file, in its own unit.

    Attributes
    ----------
    text : str
        As shown when it was saved.
    unit : str
    value, standard_uncertainty : float or None
        None where the quantity had no value (not measured, a bound, a count).
    contributions : mapping
        Signed contribution of every source: sensitivity times its u.
    """

    name: str
    text: str
    unit: str = ""
    value: float | None = None
    standard_uncertainty: float | None = None
    degrees_of_freedom: float = math.inf
    coverage_factor: float = math.nan
    level: float = math.nan
    contributions: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, repr=False)
class SavedResults(Tabular):
    """What one run left, by name. Made by `open_results`.

    Attributes
    ----------
    label : str
        The folder and file, for messages.
    title : str
    quantities : mapping
    joints : tuple of Joint
        Sources whose errors are correlated.
    instruments : mapping
        Source name to the instrument it comes from, "" if from none.
    """

    label: str
    title: str
    quantities: Mapping[str, SavedValue]
    joints: tuple[Joint, ...]
    instruments: Mapping[str, str]
    _errors: dict[str, Any] = field(default_factory=dict, repr=False)

    def __getitem__(self, name: str) -> Any:
        """Return the value as a pint quantity of a correlated `uncertainties` number.

        Raises
        ------
        InputError
            If the file does not know it.
        PendingError
            If it had no value when it was saved.
        """
        saved = self._with_value(name)
        # A sum over no source at all is still a number with an uncertainty: 0.
        total: Any = saved.value + 0.0 * _independent_error()
        for source, contribution in saved.contributions.items():
            total = total + contribution * self._error_of(source)
        # Asking for these makes one coefficient a variable, the same each time: two
        # sums in which correlated terms are still apart would cancel but for rounding.
        _ = total.derivatives
        return registry().Quantity(total, saved.unit)

    def correlation(self, first: str, second: str) -> float:
        """Return the correlation coefficient of two quantities; 0 if one is exact.

        Raises
        ------
        InputError, PendingError
            As for a value.
        """
        a, b = (self._with_value(n).contributions for n in (first, second))
        # Rounding may leave a sum that is exact just below zero.
        variances = [max(covariance_of_sums(c, c, self.joints), 0.0) for c in (a, b)]
        scale = math.sqrt(variances[0] * variances[1])
        return covariance_of_sums(a, b, self.joints) / scale if scale else 0.0

    def names(self) -> list[str]:
        """Return the names of all quantities, those without a value too."""
        return list(self.quantities)

    def table(self) -> Table:
        """Return every quantity as it was shown."""
        rows = tuple(_row(saved) for saved in self.quantities.values())
        heads = columns("Quantity", "Value>", "k (level)>", "Degrees of freedom>")
        return Table(f"Saved results: {self.title}", heads, rows)

    def _with_value(self, name: str) -> SavedValue:
        if name not in self.quantities:
            hint = did_you_mean(name, self.quantities)
            raise InputError(
                f"{self.label}: no quantity {name!r}. {hint or 'See names().'}"
            )
        saved = self.quantities[name]
        if saved.value is None:
            raise PendingError(
                f"{self.label}: quantity {name} was saved without a value: "
                f"{saved.text}. Measure it and run that case again."
            )
        return saved

    def _error_of(self, source: str) -> Any:
        """Return the one variable (mean 0, u 1) that stands for a source's error."""
        if source not in self._errors:
            joint = next((j for j in self.joints if source in j.names), None)
            fresh = (
                correlated_errors(joint) if joint else {source: _independent_error()}
            )
            self._errors.update(fresh)
        return self._errors[source]


def open_results(
    path: str | os.PathLike[str], *, same_instruments_as: SavedResults | None = None
) -> SavedResults:
    """Read the results of a run so that their correlation survives.

    Parameters
    ----------
    path : path
        A case folder, or a results.json.
    same_instruments_as : SavedResults, optional
        Values of two files are independent of each other, as two people's meters
        are, even if both call theirs ``handheld``. Name the other file here if the
        instruments were the same pieces: then a maker's gain (and an offset declared
        common to a range) is one error in both. All else stays independent.

    Returns
    -------
    SavedResults
        ``saved["R"]`` is a pint quantity of an `uncertainties` number.

    Raises
    ------
    FileError
        If the file is missing, malformed, or too old to hold what is needed; naming
        file and entry.

    Examples
    --------
    >>> import json, tempfile
    >>> source = {"instrument": "", "degrees_of_freedom": 4}
    >>> R = {"text": "10.0(1) Ω", "unit": "ohm", "value": 10.0, "level": 0.95,
    ...      "standard_uncertainty": 0.1, "coverage_factor": 2.78,
    ...      "degrees_of_freedom": 4, "contributions": {"R · repeatability": 0.1}}
    >>> results = {"format": 1, "title": "invented", "quantities": {"R": R},
    ...            "sources": {"R · repeatability": source}, "joints": []}
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = Path(folder) / "results.json"
    ...     _ = file.write_text(json.dumps(results))
    ...     saved = open_results(folder)
    >>> print(saved["R"])
    10.00+/-0.10 ohm
    >>> (saved["R"] - saved["R"]).magnitude.std_dev
    0.0
    """
    file = Path(path)
    data = read_results(file)
    label = f"{file.resolve().name}/{NAME}" if file.is_dir() else file.name
    saved = _checked(data, label)
    if same_instruments_as is not None:
        _share(saved, same_instruments_as)
    return saved


def _share(saved: SavedResults, other: SavedResults) -> None:
    """Let sources of an instrument itself stand for the same error in both files."""
    joined = {n for j in (*saved.joints, *other.joints) for n in j.names}
    for name, instrument in saved.instruments.items():
        # An offset's name begins with its measurand's: it belongs to one reading.
        own = instrument and name.startswith(f"{instrument} · ")
        same = other.instruments.get(name) == instrument and name not in joined
        if own and same:
            saved._errors[name] = other._error_of(name)


def _independent_error() -> Any:
    from uncertainties import ufloat

    return ufloat(0.0, 1.0)


def _row(saved: SavedValue) -> tuple[str, ...]:
    if saved.value is None:
        return saved.name, saved.text, "", ""
    dof = saved.degrees_of_freedom
    return (
        saved.name,
        saved.text,
        f"{saved.coverage_factor:.2f} ({100 * saved.level:g} %)",
        "∞" if math.isinf(dof) else f"{math.floor(dof + 1e-9)}",
    )


# From the file ------------------------------------------------------------------


def _checked(data: Mapping[str, Any], label: str) -> SavedResults:
    """Take a results file apart, trusting nothing in it."""
    if "sources" not in data or "joints" not in data:
        raise FileError(
            f"{label}: entry 'sources' or 'joints' is missing: an earlier benchproof "
            "wrote it, whose values cannot be read back with their correlation. "
            "Run the case again: benchproof run CASE"
        )
    sources = _entry(data, "sources", dict, label)
    where = f"{label}, sources"
    instruments = {
        name: _entry(_entry(sources, name, dict, where), "instrument", str, where)
        for name in sources
    }
    listed = _entry(data, "joints", list, label)
    joints = tuple(_joint(j, f"{label}, joints, {i}") for i, j in enumerate(listed))
    quantities = _entry(data, "quantities", dict, label)
    where = f"{label}, quantities"
    saved = {
        name: _value(name, _entry(quantities, name, dict, where), f"{where}, {name}")
        for name in quantities
    }
    for value in saved.values():
        _check_sources(value, instruments, joints, f"{where}, {value.name}")
    title = _entry(data, "title", str, label)
    return SavedResults(label, title, saved, joints, instruments)


def _value(name: str, entry: Mapping[str, Any], where: str) -> SavedValue:
    text = _entry(entry, "text", str, where)
    if "value" not in entry:
        return SavedValue(name, text)
    unit = _entry(entry, "unit", str, where)
    try:
        unit_of(unit)
    except UnitError as problem:
        raise FileError(f"{where}, unit: {problem} {_RUN_AGAIN}") from None
    contributions = _entry(entry, "contributions", dict, where)
    return SavedValue(
        name,
        text,
        unit,
        _number(entry, "value", where),
        _number(entry, "standard_uncertainty", where),
        _degrees_of_freedom(entry, where),
        _number(entry, "coverage_factor", where),
        _number(entry, "level", where),
        {
            s: _number(contributions, s, f"{where}, contributions")
            for s in contributions
        },
    )


def _joint(entry: Any, where: str) -> Joint:
    if not isinstance(entry, dict):
        raise _broken(where, entry, "an object")
    names = tuple(map(str, _entry(entry, "names", list, where)))
    rows = _entry(entry, "correlation", list, where)
    square = len(rows) == len(names) and all(
        isinstance(row, list) and len(row) == len(names) for row in rows
    )
    numbers = square and all(_is_number(r) and abs(r) <= 1 for row in rows for r in row)
    if not (numbers and _is_correlation(rows)):
        raise _broken(f"{where}, correlation", rows, "a correlation matrix")
    matrix = tuple(tuple(map(float, row)) for row in rows)
    return Joint(names, matrix, _degrees_of_freedom(entry, where))


def _is_correlation(rows: Sequence[Sequence[float]]) -> bool:
    import numpy as np

    matrix = np.array(rows, dtype=float)
    plain = np.array_equal(matrix, matrix.T) and bool(np.all(np.diag(matrix) == 1))
    # A singular matrix is fine: three quantities read twice have one.
    return plain and float(np.linalg.eigvalsh(matrix).min()) > -_AGREE


def _check_sources(
    saved: SavedValue, known: Mapping[str, str], joints: Sequence[Joint], where: str
) -> None:
    for source in saved.contributions:
        if source not in known:
            raise FileError(
                f"{where}, contributions: source {source!r} is not among the sources "
                f"of the file. {_RUN_AGAIN}"
            )
    if saved.value is None:
        return
    own = saved.contributions
    found = math.sqrt(max(covariance_of_sums(own, own, joints), 0.0))
    stated = saved.standard_uncertainty or 0.0
    if not math.isclose(found, stated, rel_tol=_AGREE, abs_tol=1e-300):
        raise FileError(
            f"{where}, standard_uncertainty: {stated:.6g} does not follow from its "
            f"contributions, which give {found:.6g}. {_RUN_AGAIN}"
        )


_WANTED: dict[type, str] = {dict: "an object", list: "a list", str: "a text"}
_RUN_AGAIN = "The file was changed by hand or broken: run the case again."


def _entry(holder: Mapping[str, Any], key: str, kind: type, where: str) -> Any:
    value = holder.get(key)
    if not isinstance(value, kind):
        raise _broken(f"{where}, {key}", value, _WANTED[kind])
    return value


def _number(holder: Mapping[str, Any], key: str, where: str) -> float:
    value = holder.get(key)
    if not _is_number(value):
        raise _broken(f"{where}, {key}", value, "a finite number")
    return float(value)  # type: ignore[arg-type]  # just checked


def _is_number(value: Any) -> bool:
    plain = isinstance(value, int | float) and not isinstance(value, bool)
    return plain and math.isfinite(value)


def _degrees_of_freedom(holder: Mapping[str, Any], where: str) -> float:
    """Read degrees of freedom; null stands for infinite, which JSON cannot say."""
    if "degrees_of_freedom" in holder and holder["degrees_of_freedom"] is None:
        return math.inf
    return _number(holder, "degrees_of_freedom", where)


def _broken(where: str, value: Any, wanted: str) -> FileError:
    shown = repr(value)
    shown = shown if len(shown) <= 60 else f"{shown[:57]}…"
    return FileError(f"{where}: {shown} is not {wanted}. {_RUN_AGAIN}")
