"""replication/*.toml: what other people measured, compared, pooled only when asked."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from benchproof.keeping.casefile import read_toml
from benchproof.reasoning.budgets.graph import did_you_mean
from benchproof.reasoning.decisions.agreement import difference_text, e_n
from benchproof.reasoning.decisions.combining import Combined, Spread, combine_values
from benchproof.values.errors import FileError, InputError
from benchproof.values.quantities import shorthand
from benchproof.values.tables import Table, Tabular, columns
from benchproof.values.units import Unit, require_same_dimension, unit_of

if TYPE_CHECKING:
    from benchproof.keeping.case import Case

FOLDER = "replication"
NOT_SAID = "not said"


@dataclass(frozen=True, slots=True)
class Replication:
    """One value somebody found for a quantity, in the unit they gave it in.

    Attributes
    ----------
    file : str
        Where it stands, for messages; "" for the case's own value.
    by, device, firmware, date : str
        Who, on which unit of the device, with which firmware, when.
    quantity : str
    value : float
    unit : Unit
    expanded_uncertainty, coverage_factor : float
        U, in `unit`, and its k.
    n : int or None
        Readings behind it; None if they did not say.
    """

    file: str
    by: str
    device: str
    firmware: str
    date: str
    quantity: str
    value: float
    unit: Unit
    expanded_uncertainty: float
    coverage_factor: float
    n: int | None = None

    @property
    def si(self) -> tuple[float, float]:
        """Value and standard uncertainty, in SI."""
        u = self.expanded_uncertainty / self.coverage_factor
        return self.unit.to_si(self.value), u * self.unit.difference().factor


_DEVICE = {"format", "by", "device", "firmware", "date", "source", "result"}
_RESULT = {"quantity", "value", "unit", "U", "k", "n"}
_EXAMPLE = (
    '[[result]] with quantity = "R_source", value = 0.27, unit = "ohm", U = 0.02, '
    "k = 2, n = 5"
)


def read_replications(folder: Path) -> list[Replication]:
    """Read every file of a case's replication folder, by name.

    Parameters
    ----------
    folder : pathlib.Path
        The case; without the folder in it there are none.

    Raises
    ------
    FileError
        Naming file and entry.
    """
    files = sorted((folder / FOLDER).glob("*.toml"))
    return [found for file in files for found in _read(file)]


def _read(path: Path) -> list[Replication]:
    data, name = read_toml(path), f"{FOLDER}/{path.name}"
    _check_keys(data, _DEVICE, name)
    if data.get("format", 1) != 1:
        raise FileError(
            f"{name}: format {data['format']!r} is newer than this benchproof reads "
            "(1). Install a newer one."
        )
    entries = data.get("result", [])
    if not isinstance(entries, list) or not entries:
        raise FileError(f"{name}: holds no result. Write {_EXAMPLE}.")
    if not str(data.get("by", "")).strip():
        raise FileError(f"{name}: by is empty. Say whose result it is: by = '…'.")
    return [_result(data, entry, name, i) for i, entry in enumerate(entries, 1)]


def _check_keys(entry: Mapping[str, Any], known: set[str], where: str) -> None:
    for key in entry:
        if key not in known:
            raise FileError(
                f"{where}: {key!r} is not one of {', '.join(sorted(known))}. "
                "Rename or remove the line."
            )


def _result(
    data: Mapping[str, Any], entry: Mapping[str, Any], name: str, number: int
) -> Replication:
    where = f"{name}, result {number}"
    if not isinstance(entry, Mapping):
        raise FileError(f"{where}: is no table. Write {_EXAMPLE}.")
    quantity = str(entry.get("quantity", "")).strip()
    where += f" ({quantity or 'no quantity'})"
    _check_keys(entry, _RESULT, where)
    value, expanded, k = (_number(entry, key, where) for key in ("value", "U", "k"))
    if not quantity or not expanded > 0 or not k > 0:
        raise FileError(
            f"{where}: give a quantity of the case, U above 0 (here {expanded:g}) and "
            f"k above 0 (here {k:g}). A value without U cannot be compared."
        )
    by, device, firmware, date = (
        str(data.get(key, "")).strip() or NOT_SAID
        for key in ("by", "device", "firmware", "date")
    )
    unit, n = _unit(entry, where), _attempts(entry, where)
    return Replication(
        name, by, device, firmware, date, quantity, value, unit, expanded, k, n
    )


def _number(entry: Mapping[str, Any], key: str, where: str) -> float:
    value = entry.get(key)
    plain = isinstance(value, int | float) and not isinstance(value, bool)
    if not plain or not math.isfinite(float(value or 0)):
        said = "missing" if value is None else f"{value!r}"
        raise FileError(
            f"{where}: {key} is {said}; give a number without quotes. Write {_EXAMPLE}."
        )
    return float(value or 0)


def _unit(entry: Mapping[str, Any], where: str) -> Unit:
    text = entry.get("unit")
    if not isinstance(text, str):
        said = "missing" if text is None else f"{text!r}"
        raise FileError(f"{where}: unit is {said}; give the unit of value and U.")
    try:
        return unit_of(text)
    except InputError as problem:
        raise FileError(f"{where}: {problem}") from None


def _attempts(entry: Mapping[str, Any], where: str) -> int | None:
    n = entry.get("n")
    if n is not None and (not isinstance(n, int) or isinstance(n, bool) or n < 1):
        raise FileError(
            f"{where}: n is {n!r}; give the whole number of readings, or leave it out."
        )
    return n


# Comparing ----------------------------------------------------------------------


@dataclass(frozen=True, slots=True, repr=False)
class Replications(Tabular):
    """What several people found for one quantity, each device shown by itself.

    Attributes
    ----------
    name : str
    own : Replication or None
        The case's own value; None if it is not measured.
    others : tuple of Replication
    groups : mapping
        By firmware, how well its values agree; only where there are two or more.
    pooled : Combined or None
        Only if asked for; see `refused`.
    refused : str
        Why nothing is pooled, "" if it is or was not asked for.
    unit : Unit
        In which everything is shown.
    """

    name: str
    own: Replication | None
    others: tuple[Replication, ...]
    groups: Mapping[str, Combined]
    pooled: Combined | None
    refused: str
    unit: Unit

    def table(self) -> Table:
        """Return one row per device, and how well they agree below."""
        rows = tuple(self._row(found) for found in self.values())
        heads = columns(
            "By", "Device", "Firmware", "As given>", "U>", "k>", "Readings>",
            "Value>", "E_n against ours>",
        )  # fmt: skip
        return Table(f"{self.name}, replicated", heads, rows, self._notes())

    def values(self) -> tuple[Replication, ...]:
        """Return the case's own value, if it has one, and the others."""
        return (*([self.own] if self.own else []), *self.others)

    def e_n(self, other: Replication) -> float | None:
        """Return E_n of a value against the case's own; None without one.

        References
        ----------
        As for `benchproof.e_n`; U of both at k = 2.
        """
        if self.own is None or other is self.own:
            return None
        (ours, u), (theirs, v) = self.own.si, other.si
        return e_n(ours, 2 * u, theirs, 2 * v)

    def _row(self, found: Replication) -> tuple[str, ...]:
        value, u = found.si
        step, against = self.unit.difference().factor, self.e_n(found)
        return (
            found.by,
            found.device,
            found.firmware,
            f"{found.value:g} {found.unit.symbol}".strip(),
            f"{float(f'{found.expanded_uncertainty:.2g}'):g}",  # 200, not 2e+02
            f"{found.coverage_factor:.3g}",
            NOT_SAID if found.n is None else str(found.n),
            shorthand(self.unit.from_si(value), u / step, self.unit.symbol),
            "" if against is None else f"{against:.2g}",
        )

    def _notes(self) -> tuple[str, ...]:
        notes = []
        for firmware, group in self.groups.items():
            word = "consistent" if group.consistent else "not consistent"
            dof = len(group.values) - 1
            between = difference_text(group.between_units, self.unit)
            notes.append(
                f"firmware {firmware}, {len(group.values)} values: {word} at 95 %, "
                f"chi-square {group.chi_square:.4g} with {dof} degrees of freedom, "
                f"p = {group.p:.2g}, Birge ratio {group.birge_ratio:.3g}, standard "
                f"deviation between units {between}"
            )
        if self.pooled is not None:
            expanded = difference_text(self.pooled.expanded_uncertainty(), self.unit)
            notes.append(
                f"pooled, as asked for (spread: {self.pooled.spread}): "
                f"{self.pooled.result(self.unit)}, U = {expanded} (95 %)"
            )
        notes.append(
            self.refused
            or "E_n above 1: the two differ by more than U (k = 2) of their difference."
        )
        return tuple(notes)


def replications_of(
    case: Case,
    name: str,
    *,
    firmware: str = "",
    pool: bool = False,
    spread: Spread = "refuse",
) -> Replications:
    """Compare what others found for a quantity. See `Case.replications`.

    Raises
    ------
    FileError
        If a file is malformed, or its unit does not fit the quantity.
    InputError
        If the case does not know the quantity, or nobody has that firmware.
    """
    state = case.state()
    if not state.knows(name):
        hint = did_you_mean(name, state.graph.units) or "See case.names()."
        raise InputError(f"replications: there is no quantity {name!r}. {hint}")
    unit, read = state.graph.units[name], read_replications(case.folder)
    others = tuple(found for found in read if found.quantity == name)
    for found in others:
        try:
            require_same_dimension(found.unit, unit, found.by)
        except InputError as problem:
            raise FileError(f"{found.file}, {name}: {problem}") from None
    own = _own(case, name)
    everything = (*([own] if own else []), *others)
    if firmware:
        everything = _with_firmware(everything, name, firmware)
        own, others = (
            (own if own in everything else None),
            tuple(found for found in others if found in everything),
        )
    groups = _groups(everything, unit)
    pooled, refused = _pooled(everything, unit, spread) if pool else (None, "")
    return Replications(name, own, others, groups, pooled, refused, unit)


def _with_firmware(
    found: Sequence[Replication], name: str, firmware: str
) -> tuple[Replication, ...]:
    same = tuple(one for one in found if one.firmware == firmware)
    if not same:
        listed = ", ".join(sorted({one.firmware for one in found})) or "none"
        raise InputError(
            f"replications of {name}: nobody has firmware {firmware!r} (there: "
            f"{listed})."
        )
    return same


def _own(case: Case, name: str) -> Replication | None:
    state = case.state()
    if state.missing(name):
        return None
    budget, sample = case.budget(name), case.file.sample
    if not budget.standard_uncertainty:
        return None
    step = budget.unit.difference().factor
    measured = state.measured.get(name)
    return Replication(
        "",
        "this case",
        sample.device or NOT_SAID,
        sample.firmware or NOT_SAID,
        "",
        name,
        budget.unit.from_si(budget.value),
        budget.unit,
        budget.expanded_uncertainty / step,
        budget.coverage_factor,
        len(measured.readings) if measured else None,
    )


def _groups(found: Sequence[Replication], unit: Unit) -> dict[str, Combined]:
    """Hold the values of each firmware against each other; nothing is pooled."""
    by_firmware: dict[str, list[Replication]] = {}
    for one in found:
        by_firmware.setdefault(one.firmware, []).append(one)
    return {
        firmware: _combined(group, unit, "between units")
        for firmware, group in by_firmware.items()
        if len(group) > 1
    }


def _combined(found: Sequence[Replication], unit: Unit, spread: Spread) -> Combined:
    values, uncertainties = zip(*(one.si for one in found), strict=True)
    names = [f"{one.by} ({one.device})" for one in found]
    return combine_values(values, uncertainties, spread=spread, names=names, unit=unit)


def _pooled(
    found: Sequence[Replication], unit: Unit, spread: Spread
) -> tuple[Combined | None, str]:
    """Combine values of one firmware if they agree, or their spread is declared."""
    firmwares = sorted({one.firmware for one in found})
    if len(firmwares) > 1:
        return None, (
            f"not pooled: the firmware differs ({', '.join(firmwares)}), so these may "
            "be values of different things."
        )
    if len(found) < 2:
        return None, "not pooled: there is one value at most."
    try:
        return _combined(found, unit, spread), ""
    except InputError as problem:
        return None, f"not pooled: {problem}"


def replication_table(case: Case) -> Table:
    """Return every replicated quantity, one under the other, nothing pooled."""
    names = dict.fromkeys(found.quantity for found in read_replications(case.folder))
    state = case.state()
    rows: list[tuple[str, ...]] = []
    notes: list[str] = []
    for name in names:
        if not state.knows(name):
            notes.append(f"{name}: replicated, but no quantity of this case.")
            continue
        found = replications_of(case, name)
        rows += [(name, *row) for row in found.table().rows]
        notes += [f"{name}: {note}" for note in found.table().notes]
    heads = columns(
        "Quantity", "By", "Device", "Firmware", "As given>", "U>", "k>", "Readings>",
        "Value>", "E_n against ours>",
    )  # fmt: skip
    return Table("Replications", heads, tuple(rows), tuple(notes))
