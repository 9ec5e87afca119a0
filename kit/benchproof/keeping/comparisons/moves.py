"""How far one quantity moved between two results, in SI and in its uncertainty."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from benchproof.keeping.comparisons.differences import ABSENT, Renamed
from benchproof.values.errors import InputError
from benchproof.values.quantities import shorthand
from benchproof.values.units import Unit, unit_of


@dataclass(frozen=True, slots=True)
class Move:
    """One quantity before and after.

    Attributes
    ----------
    name : str
    before, after : str
        As shown in either.
    moved : float or None
        The difference over its standard uncertainty; None if undefined.
    formula_changed : bool
    difference : str
        After less before, with its standard uncertainty; "" if undefined.
    u_ratio : float or None
        Standard uncertainty after over before; None if undefined.
    """

    name: str
    before: str
    after: str
    moved: float | None
    formula_changed: bool = False
    difference: str = ""
    u_ratio: float | None = None

    @property
    def note(self) -> str:
        """What else is to be said of it."""
        ratio = self.u_ratio
        notes = ["formula changed"] if self.formula_changed else []
        if ratio is not None and not 0.5 < ratio < 2:
            notes.append(f"u is {ratio:.2g} times what it was")
        return "; ".join(notes)


def move_of(
    name: str,
    old: Mapping[str, Any] | None,
    new: Mapping[str, Any] | None,
    renamed: Renamed,
    shared: frozenset[str],
) -> Move:
    """Return how a quantity moved.

    Parameters
    ----------
    name : str
        How to call it.
    old, new : mapping or None
        Its entry in either results; None if they do not know it.
    renamed : callable
        Gives the old formula the names of the new results.
    shared : frozenset of str
        Sources that are the same in both, as `shared_sources` returns.

    Raises
    ------
    UnitError
        If a unit is none.

    Examples
    --------
    >>> R = {"text": "1.00(3) V", "unit": "V", "value": 1.0,
    ...      "standard_uncertainty": 0.03}
    >>> S = R | {"text": "1.10(4) V", "value": 1.1, "standard_uncertainty": 0.04}
    >>> move_of("V", R, S, str, frozenset()).difference
    '0.100(50) V'
    """
    texts = [ABSENT if e is None else str(e["text"]) for e in (old, new)]
    if old is None or new is None:
        return Move(name, texts[0], texts[1], None)
    changed = renamed(old.get("formula", "")) != new.get("formula", "")
    if "value" not in old or "value" not in new:
        return Move(name, texts[0], texts[1], None, changed)
    units = unit_of(old["unit"]), unit_of(new["unit"])
    if units[0].dimension != units[1].dimension:
        return Move(name, texts[0], texts[1], None, changed)
    (was, u_was), (now, u_now) = (
        _si(e, unit) for e, unit in zip((old, new), units, strict=True)
    )
    step = now - was
    # One value, written in two units or summed in another order.
    if abs(step) <= 1e-9 * max(u_was, u_now) or math.isclose(was, now, rel_tol=1e-14):
        step = 0.0
    u = math.sqrt(
        max(u_was**2 + u_now**2 - 2 * _covariance(old, new, units, shared), 0)
    )
    moved = step / u if u else (math.copysign(math.inf, step) if step else 0.0)
    ratio = u_now / u_was if u_was and u_now else None
    return Move(
        name, texts[0], texts[1], moved, changed, _written(step, u, units[1]), ratio
    )


def _si(entry: Mapping[str, Any], unit: Unit) -> tuple[float, float]:
    u = entry["standard_uncertainty"] * unit.difference().factor
    return unit.to_si(entry["value"]), u


def _written(step: float, u: float, unit: Unit) -> str:
    if not step:
        return "0"
    shown = unit.difference()
    return shorthand(step / shown.factor, u / shown.factor, shown.symbol)


# What instruments share ---------------------------------------------------------


def shared_sources(
    before: Mapping[str, Any], after: Mapping[str, Any], labels: tuple[str, str]
) -> frozenset[str]:
    """Return sources of an instrument itself that both results know and describe alike.

    An offset's name begins with its measurand's: it belongs to one reading.

    Parameters
    ----------
    before, after : mapping
        As read from results.json.
    labels : (str, str)
        How to call them in a message.

    Raises
    ------
    InputError
        If one of them keeps no sources.
    """
    for results, label in zip((before, after), labels, strict=True):
        if "sources" not in results or "joints" not in results:
            raise InputError(
                f"{label}: keeps no sources (an earlier benchproof wrote it), so it is "
                "not known what instruments share. Run that case again, or leave same "
                "instruments out."
            )
    joined = {n for r in (before, after) for j in r["joints"] for n in j["names"]}
    return frozenset(
        name
        for name, source in before["sources"].items()
        if source["instrument"]
        and name.startswith(f"{source['instrument']} · ")
        and after["sources"].get(name) == source
        and name not in joined
    )


def _covariance(
    old: Mapping[str, Any],
    new: Mapping[str, Any],
    units: tuple[Unit, Unit],
    shared: frozenset[str],
) -> float:
    """Return the covariance of two values by the sources that both share, in SI."""
    if not shared:
        return 0.0
    a, b = old["contributions"], new["contributions"]
    scale = units[0].difference().factor * units[1].difference().factor
    return scale * math.fsum(a[n] * b[n] for n in shared if n in a and n in b)
