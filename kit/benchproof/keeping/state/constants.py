"""Constants: numbers a notebook declares instead of measuring them."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace

from benchproof.values.errors import InputError
from benchproof.values.quantities import read_values
from benchproof.values.sources import Estimate
from benchproof.values.units import Unit, unit_of


@dataclass(frozen=True, slots=True)
class Constant:
    """A declared number, exact or uncertain, and where it comes from."""

    name: str
    unit: Unit
    estimate: Estimate
    text: str
    source: str = ""


def constant_from(name: str, text: str, dof: float | None, source: str) -> Constant:
    """Read a constant as typed.

    Raises
    ------
    InputError
        If it is not one value with a unit.
    """
    values = read_values(text if _has_unit(text) else _as_number(text), name)
    if len(values) != 1 or values[0].bound or values[0].of:
        raise InputError(f"constant {name}: give one value, e.g. '10.00(5) ohm'.")
    value = values[0]
    unit = unit_of(value.unit)
    stated = value.stated
    if stated and dof is not None and math.isfinite(dof):
        normal = stated.distribution == "normal"
        shape = "t" if normal else stated.distribution
        stated = replace(stated, distribution=shape, degrees_of_freedom=dof)
    parts = ((stated.source(f"{name} · stated", unit), 1.0),) if stated else ()
    return Constant(name, unit, Estimate(unit.to_si(value.value), parts), text, source)


def _has_unit(text: str) -> bool:
    bare = re.sub(r"[,;].*|\([^)]*\)|[eE][+-]?\d+", "", text)
    return any(c.isalpha() or c in "%°" for c in bare)


def _as_number(text: str) -> str:
    """Write a plain number with a unit, so that a forgotten one is not one."""
    return re.sub(r"([,;]|$)", r" dimensionless\1", text, count=1)
