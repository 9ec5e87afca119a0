"""Draws of the sources' distributions: streams, recipes, and a bounded memory."""

from __future__ import annotations

import hashlib
import math
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from threading import Lock, local

import numpy as np
from numpy.typing import NDArray

from benchproof.values.sources import Joint, Source, half_width_divisor

Floats = NDArray[np.float64]
Recipe = Callable[[np.random.Generator, Floats], None]
Key = tuple[int, str, str, float, float]
"""Seed, name, distribution, degrees of freedom, shape: what fixes a stream."""

BLOCK = 20_000
"""Draws per block: JCGM 101:2008, 7.9.4 asks for at least 10^4 at 95 %."""
_SLAB = 65
"""Rows taken from the system at once: they fill five large pages of memory."""
_PAGE = 2**21
_SLAB_BYTES = 5 * _PAGE


@dataclass(slots=True)
class _Slab:
    rows: Floats
    used: int = 0
    run: int = 0
    keys: list[tuple[Key, int]] = field(default_factory=list)


class DrawMemory:
    """Draws kept for the next run, so that one new reading need not redraw them all.

    The least recently used are forgotten first; what the present run uses is not
    forgotten for its own sake, so that a run larger than the limit keeps its beginning.
    Whether a draw is kept or drawn again shows only in the time it takes.

    Parameters
    ----------
    limit_bytes : int
        The most it holds; memory is taken in pieces of 10 MB.
    """

    def __init__(self, limit_bytes: int = 96_000_000) -> None:
        self.limit_bytes = limit_bytes
        self._lock = Lock()
        self._run = 0
        self._rows: dict[tuple[Key, int], tuple[_Slab, Floats]] = {}
        self._slabs: OrderedDict[int, _Slab] = OrderedDict()

    @property
    def held_bytes(self) -> int:
        """Memory taken at the moment, in bytes."""
        return len(self._slabs) * _SLAB_BYTES

    def empty(self) -> None:
        """Forget every draw and give the memory back."""
        with self._lock:
            self._rows.clear()
            self._slabs.clear()

    def begin(self) -> int:
        """Start a new run and return its number."""
        with self._lock:
            self._run += 1
            return self._run

    def block(self, key: Key, index: int, recipe: Recipe, run: int) -> Floats:
        """Return a block of a stream, read only, shape (BLOCK,); draw it if need be."""
        place = (key, index)
        with self._lock:
            if place in self._rows:
                slab, row = self._rows[place]
                self._touch(slab, run)
                return row
            slab_or_none = self._slab(run)
            if slab_or_none is None:
                row = np.empty(BLOCK)
            else:
                row = slab_or_none.rows[slab_or_none.used]
                slab_or_none.used += 1
        recipe(_stream(key, index), row)
        row.setflags(write=False)
        if slab_or_none is not None:
            with self._lock:
                slab_or_none.keys.append(place)
                if id(slab_or_none) in self._slabs:  # not forgotten meanwhile
                    self._rows[place] = slab_or_none, row
        return row

    def _touch(self, slab: _Slab, run: int) -> None:
        slab.run = max(slab.run, run)
        self._slabs.move_to_end(id(slab))

    def _slab(self, run: int) -> _Slab | None:
        """Find a slab with a free row, forgetting an older one for it if need be."""
        for slab in reversed(self._slabs.values()):
            if slab.used < _SLAB:
                self._touch(slab, run)
                return slab
        while self._slabs and self.held_bytes + _SLAB_BYTES > self.limit_bytes:
            oldest = next(iter(self._slabs.values()))
            if oldest.run >= run:
                return None
            del self._slabs[id(oldest)]
            for place in oldest.keys:
                self._rows.pop(place, None)
        if self.held_bytes + _SLAB_BYTES > self.limit_bytes:
            return None
        slab = _Slab(_rows(), run=run)
        self._slabs[id(slab)] = slab
        return slab


def _rows() -> Floats:
    """Take rows that begin with a large page: the system gives these much quicker."""
    raw = np.empty(_SLAB_BYTES + _PAGE, np.uint8)
    start = -raw.ctypes.data % _PAGE
    used = raw[start : start + _SLAB * BLOCK * 8]
    return used.view(np.float64).reshape(_SLAB, BLOCK)


DRAWS = DrawMemory()
"""What all runs of this process share: at most 96 MB; ``DRAWS.empty()`` frees it."""

_THREAD = local()


def _stream(key: Key, index: int) -> np.random.Generator:
    """Return a generator set to a block's own place, valid until the next call.

    Each block of each stream has its own start, so that blocks can be drawn in any
    order. SFC64 is started as its author does, from three words and twelve rounds;
    the words are a hash of seed and name, and the block.
    """
    if not hasattr(_THREAD, "stream"):
        _THREAD.stream = np.random.Generator(np.random.SFC64(0))
    stream: np.random.Generator = _THREAD.stream
    name = f"{key[0]} {key[1]}".encode()
    words = np.frombuffer(hashlib.blake2b(name, digest_size=16).digest(), "<u8")
    state = np.array([*words, index, 1], dtype=np.uint64)
    stream.bit_generator.state = {
        "bit_generator": "SFC64",
        "state": {"state": state},
        "has_uint32": 0,
        "uinteger": 0,
    }
    stream.bit_generator.random_raw(12, output=False)
    return stream


def _rectangular(stream: np.random.Generator, out: Floats) -> None:
    stream.random(out=out)
    out -= 0.5


def _triangular(stream: np.random.Generator, out: Floats) -> None:
    stream.random(out=out)
    out -= stream.random(BLOCK)


# sin(pi x / 2) / x in powers of x squared; what is left out is below 3e-16.
_SINE = [(-1) ** k * (math.pi / 2) ** (2 * k + 1) / math.factorial(2 * k + 1)
         for k in range(10)]  # fmt: skip


def _arcsine(stream: np.random.Generator, out: Floats) -> None:
    """Draw the sine of an angle; within a quarter turn to each side, all there is.

    By its series, as a sine would take four times as long.
    """
    angle = stream.random(BLOCK)
    angle *= 2
    angle -= 1
    square = angle * angle
    out[:] = _SINE[-1]
    for coefficient in reversed(_SINE[:-1]):
        out *= square
        out += coefficient
    out *= angle


def _normal(stream: np.random.Generator, out: Floats) -> None:
    stream.standard_normal(out=out)


def _trapezoidal(top_over_base: float) -> Recipe:
    def recipe(stream: np.random.Generator, out: Floats) -> None:
        stream.random(out=out)
        out *= 1 + top_over_base
        out += (1 - top_over_base) * stream.random(BLOCK)
        out -= 1

    return recipe


def _curvilinear(inexactness: float) -> Recipe:
    def recipe(stream: np.random.Generator, out: Floats) -> None:
        half_width = 1 + inexactness * (2 * stream.random(BLOCK) - 1)
        _rectangular(stream, out)
        out *= 2 * half_width

    return recipe


def _t(degrees_of_freedom: float) -> Recipe:
    """Draw by the polar method: a radius, times the sine of any angle.

    References
    ----------
    R. W. Bailey, Polar generation of random variates with the t-distribution,
    Mathematics of Computation 62 (1994) 779-781.
    """

    def recipe(stream: np.random.Generator, out: Floats) -> None:
        radius = stream.standard_exponential(BLOCK)  # minus a logarithm, but quicker
        radius *= 2 / degrees_of_freedom
        np.exp(radius, out=radius)
        radius -= 1
        radius *= degrees_of_freedom
        np.sqrt(radius, out=radius)
        _arcsine(stream, out)
        out *= radius

    return recipe


def _chi_square(degrees_of_freedom: float) -> Recipe:
    def recipe(stream: np.random.Generator, out: Floats) -> None:
        out[:] = stream.chisquare(degrees_of_freedom, BLOCK)

    return recipe


def recipe_of(source: Source) -> tuple[Recipe, float]:
    """Say how to draw a source, and what one unit of the draws is in units of its u.

    A t distribution is scaled by u, so that its standard deviation exceeds u.

    Parameters
    ----------
    source : Source

    Returns
    -------
    recipe : callable
        Fills an array of shape (BLOCK,) from a generator.
    scale : float
        For normal and t it is 1.

    References
    ----------
    JCGM 101:2008, 6.4.2 (rectangular), 6.4.3.4 (curvilinear trapezoid), 6.4.4
    (trapezoidal), 6.4.5 (triangular), 6.4.6 (arcsine), 6.4.7 (normal), 6.4.9 (t).

    Examples
    --------
    >>> round(recipe_of(Source("offset", "B", "rectangular", 0.1))[1], 4)
    3.4641
    """
    shape, dof = source.shape, source.degrees_of_freedom
    if source.distribution == "normal":
        return _normal, 1.0
    if source.distribution == "t":
        return (_t(dof) if math.isfinite(dof) else _normal), 1.0
    recipes: dict[str, tuple[Recipe, float]] = {  # with the half-width drawn
        "rectangular": (_rectangular, 0.5),
        "triangular": (_triangular, 1.0),
        "arcsine": (_arcsine, 1.0),
        "trapezoidal": (_trapezoidal(shape), 1.0),
        "curvilinear trapezoid": (_curvilinear(shape), 1.0),
    }
    recipe, half_width = recipes[source.distribution]
    return recipe, half_width_divisor(source.distribution, shape) / half_width


class Draws:
    """Draws of a set of sources, with mean 0.

    Each source has its own stream, so that adding one moves no draw of another; those
    observed together are drawn correlated. Memory: one row of 160 kB a source and
    block, beside what `memory` keeps.

    Parameters
    ----------
    sources : mapping of str to Source
    joints : tuple of Joint
        Those without any of the sources are left aside.
    seed : int
        The same seed gives the same draws.
    memory : DrawMemory
        Where draws are kept.

    Attributes
    ----------
    scales : dict
        By what to multiply each source's draws to have them in units of its u.

    Examples
    --------
    >>> draws = Draws({"a": Source("a", "B", "normal", 0.1)}, (), seed=1)
    >>> draws.block(0)["a"].shape
    (20000,)
    """

    def __init__(
        self,
        sources: Mapping[str, Source],
        joints: tuple[Joint, ...],
        seed: int,
        memory: DrawMemory = DRAWS,
    ) -> None:
        self._seed, self._memory, self._run = seed, memory, memory.begin()
        self._joints = [
            (joint, _root(joint))
            for joint in joints
            if any(name in sources for name in joint.names)
        ]
        self.scales = dict.fromkeys(sources, 1.0)
        joined = {name for joint, _ in self._joints for name in joint.names}
        self._names = frozenset(sources)
        self._alone: list[tuple[Key, Recipe]] = []
        for name, source in sources.items():
            if name not in joined:
                recipe, self.scales[name] = recipe_of(source)
                dof, shape = source.degrees_of_freedom, source.shape
                key = (seed, name, source.distribution, dof, shape)
                self._alone.append((key, recipe))

    def groups(self) -> list[tuple[str, ...]]:
        """Return the sources, those drawn together as one group."""
        together = [
            tuple(name for name in joint.names if name in self._names)
            for joint, _ in self._joints
        ]
        return [*((key[1],) for key, _ in self._alone), *together]

    def block(self, index: int) -> dict[str, Floats]:
        """Return draws of every source, each of shape (BLOCK,); not to be changed."""
        drawn = {
            key[1]: self._memory.block(key, index, recipe, self._run)
            for key, recipe in self._alone
        }
        for joint, root in self._joints:
            drawn.update(self._together(joint, root, index))
        return drawn

    def _together(self, joint: Joint, root: Floats, index: int) -> dict[str, Floats]:
        name, dof = " & ".join(joint.names), joint.degrees_of_freedom
        rows = []
        for place in range(len(joint.names)):
            key = (self._seed, f"{name} #{place}", "normal", math.inf, 0.0)
            rows.append(self._memory.block(key, index, _normal, self._run))
        # Not by matrix product, whose rounding may depend on the threads at work.
        together = np.einsum("ij,jk->ik", root, np.array(rows))
        if math.isfinite(dof):
            key = (self._seed, f"{name} #chi-square", "chi-square", dof, 0.0)
            square = self._memory.block(key, index, _chi_square(dof), self._run)
            together /= np.sqrt(square / dof)
        return dict(zip(joint.names, together, strict=True))


def _root(joint: Joint) -> Floats:
    """Return a square root of the correlation matrix, which may be singular."""
    values, vectors = np.linalg.eigh(np.array(joint.correlation))
    return np.asarray(vectors * np.sqrt(np.clip(values, 0.0, None)))
