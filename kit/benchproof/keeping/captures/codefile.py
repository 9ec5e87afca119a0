"""A channel's codes on disk: the smallest whole numbers that lose no digit."""

from __future__ import annotations

import math
import struct
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from benchproof.keeping.captures.channels import note_missing

Floats = NDArray[np.float64]

_BLOCK = 1 << 19
_NEAR = 1 << 15  # what is done to these stays in the cache of the processor
_HEADER = 128
_MOST_DECIMALS = 15


@dataclass(frozen=True, slots=True)
class Written:
    """What became of a channel: ``value = step · code``.

    Attributes
    ----------
    count : int
    step : float
    missing : tuple of (int, int)
        Stretches of samples without a value, first and one behind the last.
    """

    count: int
    step: float
    missing: tuple[tuple[int, int], ...]


class CodeWriter:
    """Writes decimal numbers as whole multiples of their last digit, in a .npy file.

    Numbers that need more than 32 bits so are kept as they are, in double
    precision. Whether a block loses nothing is looked at, not assumed.

    Parameters
    ----------
    path : pathlib.Path
        Written anew.
    decimals : int
        Digits behind the point expected; more are found when they come.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     writer = CodeWriter(Path(folder, "a.npy"), 1)
    ...     writer.append(np.array([0.5, 1.25, np.nan]))
    ...     written = writer.close()
    ...     np.load(Path(folder, "a.npy")).tolist(), written.step, written.missing
    ([2, 5, 0], 0.25, ((2, 3),))
    """

    def __init__(self, path: Path, decimals: int) -> None:
        self.path = path
        self.decimals: int | None = min(decimals, _MOST_DECIMALS)
        self.divisor = 0
        self.kind = np.dtype(np.int16)
        self.count = 0
        self.missing: list[tuple[int, int]] = []
        self._file: BinaryIO = open(path, "wb+")  # noqa: SIM115 - closed by close()
        self._file.write(bytes(_HEADER))

    @property
    def step(self) -> float:
        """What one code is worth."""
        if self.decimals is None:
            return 1.0
        # 0.25 is 25/100, which 25 · 0.01 is not always to the last digit.
        return float((self.divisor or 1) / 10.0**self.decimals)

    def append(self, values: Floats) -> None:
        """Write the next values; not-a-number stands for a missing one."""
        for first in range(0, len(values), _NEAR):
            self._append(values[first : first + _NEAR])

    def _append(self, values: Floats) -> None:
        if math.isnan(float(values.sum())):
            gone = np.isnan(values)
            note_missing(self.missing, gone, self.count)
            values = np.where(gone, 0.0, values)
        codes = None if self.decimals is None else self._codes(values)
        if codes is None:
            self._to_floats()
            codes = values
        self._file.write(codes.astype(self.kind, copy=False).data)
        self.count += len(values)

    def _codes(self, values: Floats) -> Floats | None:
        """Return whole codes of a block, None if no step of 32 bits holds them."""
        codes = _whole(values, self.step) if self.divisor else None
        if codes is None:
            codes = self._finer(values)
        if codes is None or not self._fits(codes):
            return None
        return codes

    def _finer(self, values: Floats) -> Floats | None:
        """Make the step finer until it divides this block too."""
        for decimals in range(self.decimals or 0, _MOST_DECIMALS + 1):
            digits = _whole(values, 1 / 10.0**decimals)
            if digits is None:
                continue
            old = self.divisor * 10 ** (decimals - (self.decimals or 0))
            new = int(np.gcd.reduce(np.unique(digits).astype(np.int64), initial=old))
            self.decimals, self.divisor = decimals, new
            if new and not self._multiply(old // new):
                return None
            return digits / (new or 1)
        return None

    def _multiply(self, factor: int) -> bool:
        """Write earlier codes as multiples of a finer step, if they fit."""
        if factor in (0, 1) or not self.count:
            return True
        codes = self._mapped()
        top = max(-int(codes.min()), int(codes.max())) * factor
        del codes
        if top >= 2**31:
            self.divisor *= factor
            return False
        kind = np.dtype(np.int16 if top < 2**15 else np.int32)
        self._rewrite(kind, lambda old: old.astype(np.int32) * factor)
        return True

    def _fits(self, codes: Floats) -> bool:
        """Widen what is written if these codes need it; they may need too much."""
        top = max(-float(codes.min()), float(codes.max())) if codes.size else 0.0
        if top >= 2**31:
            return False
        if top >= 2**15 and self.kind.itemsize < 4:
            self._rewrite(np.dtype(np.int32), lambda old: old.astype(np.int32))
        return True

    def _to_floats(self) -> None:
        if self.decimals is not None:
            digits, scale = self.divisor or 1, 10.0**self.decimals
            self.decimals = None
            kind = np.dtype(np.float64)
            self._rewrite(kind, lambda old: old.astype(kind) * digits / scale)

    def _mapped(self) -> NDArray[Any]:
        self._file.flush()
        if not self.count:
            return np.empty(0, self.kind)
        return np.memmap(self.path, self.kind, "r", _HEADER, (self.count,))

    def _rewrite(
        self, kind: np.dtype[Any], change: Callable[[NDArray[Any]], NDArray[Any]]
    ) -> None:
        """Write what is there again as another type."""
        old, other = self._mapped(), self.path.with_suffix(".wider")
        with other.open("wb") as file:
            file.write(bytes(_HEADER))
            for first in range(0, self.count, _BLOCK):
                part = change(old[first : first + _BLOCK])
                file.write(part.astype(kind, copy=False).data)
        del old
        self._file.close()
        other.replace(self.path)
        self._file = self.path.open("rb+")
        self._file.seek(0, 2)
        self.kind = kind

    def close(self) -> Written:
        """Finish the file and say what became of the channel."""
        self._file.seek(0)
        self._file.write(_header(self.kind, self.count))
        self._file.close()
        return Written(self.count, self.step, tuple(self.missing))


def _whole(values: Floats, step: float) -> Floats | None:
    """Return values in steps, None if they are not whole multiples of it."""
    if not values.size:
        return values
    with np.errstate(over="ignore", invalid="ignore"):
        codes = values * (1 / step)
        rounded = np.rint(codes)
        codes -= rounded
    top = max(-float(rounded.min()), float(rounded.max()), 1.0)
    loss = max(-float(codes.min()), float(codes.max()))
    # Some rounding comes from text to doubles and from the reciprocal.
    return rounded if loss <= 2e-15 * top and top < 2**52 else None


def _header(kind: np.dtype[Any], count: int) -> bytes:
    """Return a .npy header of fixed length, so that it can be written last."""
    text = f"{{'descr': {kind.str!r}, 'fortran_order': False, 'shape': ({count},), }}"
    room = _HEADER - 10
    return (
        b"\x93NUMPY\x01\x00"
        + struct.pack("<H", room)
        + (text.ljust(room - 1) + "\n").encode("ascii")
    )
