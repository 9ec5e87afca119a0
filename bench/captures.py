"""Timings of captures: a long CSV read and opened again, a long record looked at."""

from __future__ import annotations

import subprocess
import sys
import time
import tracemalloc
from collections.abc import Callable, Iterator
from functools import partial
from importlib.util import find_spec
from pathlib import Path

from harness import Line, again, medians

ROWS = 10_000_000
SAMPLES = (1_000_000, 10_000_000, 100_000_000)

ALONE = """\
import sys
sys.path[:0] = {path!r}
sys.path.insert(0, {here!r})
import captures
captures.{name}(*{arguments!r})
try:
    print(open("/proc/self/status").read().partition("VmHWM:")[2].split()[0])
except OSError:
    pass
"""
"""Of the process itself: what getrusage tells begins with its parent's."""


LONG_RECORD = 5_000_000_000
"""Samples of two bytes: 10 GB, in a file of holes that takes no room."""

PRIVATE_MEGABYTES = 350
"""What the process that looks at them may have for itself, programs included."""


def capture(folder: Path) -> Iterator[Line]:
    yield from _csv(folder)
    yield from _record(folder)
    yield from _long(folder)


def _csv(folder: Path) -> Iterator[Line]:
    import numpy as np

    path, shorter = (invented_csv(folder, n) for n in (ROWS, ROWS // 4))
    megabytes = path.stat().st_size / 1e6
    for engine in ("pyarrow", "pandas"):
        name = f"capture CSV, {ROWS:.0e} rows, first read, {engine}"
        if not find_spec(engine):
            yield Line(name, note="not installed")
            continue
        act = partial(read_first, str(path), engine)
        floor, lines, seconds = medians(
            1, again(partial(count_newlines, path)), again(partial(_lines, path)),
            again(act),
        )  # fmt: skip
        quarter, peak = (_peak("read_first", str(p), engine) for p in (shorter, path))
        note = f"{megabytes:.0f} MB of text, peak {peak}, of a quarter {quarter}"
        target = 3 if engine == "pyarrow" else None
        yield Line(name, seconds, floor, target, note=note)
        yield Line("  against passing over its lines", seconds, lines)
    codes = path.parent / ".index" / path.name / "0.npy"
    floor, seconds = medians(
        5,
        again(lambda: np.load(codes, mmap_mode="r").sum()),
        again(lambda: open_again(path).channels[0].codes.sum()),
    )
    yield Line("  opened again, one pass over the codes", seconds, floor, 1.5)


def _record(folder: Path) -> Iterator[Line]:
    """Time amplitudes, levels, all edges and an envelope against one pass."""
    import numpy as np

    for count in SAMPLES:
        # Bytes are counted in pairs, more than 256 codes one by one.
        for kind, spread in (("int8", 1), ("int16", 1), ("int16", 40)):
            path = invented_record(folder, count, kind, spread)
            floats = folder / f"floats-{count}.npy"
            if not floats.exists():
                _floats(floats, count)
            repeats = 3 if count > 10**7 else 9
            floor, first, known = medians(
                repeats,
                again(lambda f=floats: np.load(f, mmap_mode="r").sum()),
                again(partial(look, str(path), spread, True)),
                again(partial(look, str(path), spread, False)),
            )
            wide = ", 4000 codes wide" if spread > 1 else ""
            name = f"record of {count:.0e} samples, {kind}{wide}"
            note = (
                f"held at a time {_held(partial(look, str(path), spread, True)):.1f} MB"
            )
            # Opening files is most of a short record's time.
            targets = (6, 2) if count == SAMPLES[-1] else (None, None)
            yield Line(f"{name}, first time", first, floor, targets[0], note=note)
            yield Line(f"{name}, from the index", known, floor, targets[1])
            path.unlink()
        floats.unlink()


def _long(folder: Path) -> Iterator[Line]:
    """Look at 10 GB in a process that may hold a twentieth of it."""
    name = f"record of 10 GB, {LONG_RECORD:.0e} samples, first time"
    if not find_spec("resource"):
        yield Line(name, note="memory cannot be limited here")
        return
    path = holes(folder, LONG_RECORD, "int16")
    start = time.perf_counter()
    _alone("look_limited", str(path), PRIVATE_MEGABYTES)
    seconds = time.perf_counter() - start
    note = f"done with private memory limited to {PRIVATE_MEGABYTES} MB"
    yield Line(name, seconds, note=note)
    path.unlink()
    _forget(path)


def look_limited(path: str, megabytes: int) -> None:
    import resource

    limit = megabytes << 20
    resource.setrlimit(resource.RLIMIT_DATA, (limit, limit))
    look(path, 40, True)


def holes(folder: Path, count: int, kind: str) -> Path:
    """Make a record of zeros that are not written, but for two edges."""
    import numpy as np

    place = folder / "case-record" / "captures"
    place.mkdir(parents=True, exist_ok=True)
    path = place / f"holes-{kind}.npy"
    codes = np.lib.format.open_memmap(path, "w+", kind, (count,))
    codes[count // 2 : count // 2 + 1000] = 100
    codes.flush()
    return path


def read_first(path: str, engine: str) -> None:
    from benchproof.keeping.captures.index import indexed
    from benchproof.keeping.captures.settings import CaptureSettings

    _forget(Path(path))
    indexed(Path(path), CaptureSettings(file=Path(path).name), engine=engine)


def open_again(path: Path) -> object:
    from benchproof.keeping.captures.index import indexed
    from benchproof.keeping.captures.settings import CaptureSettings

    return indexed(path, CaptureSettings(file=path.name))


def look(path: str, spread: int, first: bool) -> None:
    from benchproof.keeping.captures.library import Library

    place = Path(path)
    if first:
        _forget(place)
    shelf = Library(place.parent.parent)
    trace = shelf.open(place.name, unit="V", interval=1e-6, step=0.04 / spread)
    trace.moments()
    trace.levels()
    trace.changes(2.0, 3.0)
    trace.envelope(4000)


def _held(act: Callable[[], object]) -> float:
    """Return the most megabytes held at a time; the mapped file is not counted."""
    tracemalloc.start()
    act()
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return most / 1e6


def _forget(path: Path) -> None:
    import shutil

    shutil.rmtree(path.parent / ".index", ignore_errors=True)


def count_newlines(path: Path) -> int:
    count = 0
    with path.open("rb", buffering=0) as file:
        while block := file.read(1 << 20):
            count += block.count(b"\n")
    return count


def _lines(path: Path) -> int:
    with path.open("rb") as file:
        return sum(1 for _ in file)


def _peak(name: str, *arguments: object) -> str:
    """Return the peak memory of a fresh process that does it, imports included."""
    if not Path("/proc/self/status").exists():
        return "not known here"
    return f"{float(_alone(name, *arguments)) / 1e3:.0f} MB"


def _alone(name: str, *arguments: object) -> str:
    """Do it in a fresh process and return what that says of its peak memory."""
    here = str(Path(__file__).parent)
    script = ALONE.format(path=sys.path, here=here, name=name, arguments=arguments)
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    return done.stdout


def invented_csv(folder: Path, rows: int) -> Path:
    """Write an invented record of 8 bits with times, as instruments write it."""
    import numpy as np

    place = folder / "case-csv" / "captures"
    place.mkdir(parents=True, exist_ok=True)
    path, rng = place / f"invented-{rows}.csv", np.random.default_rng(1)
    with path.open("wb") as file:
        file.write(b"Invented record\nTime (s),CH1 (V)\n")
        for first in range(0, rows, 500_000):
            count = min(500_000, rows - first)
            times = (np.arange(first, first + count) * 4e-9).tolist()
            volts = (rng.integers(0, 256, count) * 0.04 - 5).tolist()
            lines = [f"{t:.8e},{v:.6f}\n" for t, v in zip(times, volts, strict=True)]
            file.write("".join(lines).encode())
    return path


def invented_record(folder: Path, count: int, kind: str, spread: int) -> Path:
    """Write an invented rail of 5 V that falls to 1 V now and then, with noise."""
    import numpy as np

    place = folder / "case-record" / "captures"
    place.mkdir(parents=True, exist_ok=True)
    path, rng = place / f"{kind}-{spread}-{count}.npy", np.random.default_rng(2)
    codes = np.lib.format.open_memmap(path, "w+", kind, (count,))
    for first in range(0, count, 1 << 20):
        size = min(1 << 20, count - first)
        level = np.where(np.arange(first, first + size) % 100_000 < 98_000, 100, 25)
        values = np.clip(level + rng.normal(0, 2, size), 0, 127)
        codes[first : first + size] = (values * spread).round()
    codes.flush()
    return path


def _floats(path: Path, count: int) -> None:
    import numpy as np

    made = np.lib.format.open_memmap(path, "w+", np.float32, (count,))
    for first in range(0, count, 1 << 20):
        made[first : first + (1 << 20)] = 1.5
    made.flush()
