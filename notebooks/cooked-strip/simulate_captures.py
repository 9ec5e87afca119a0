"""Invented captures for the worked case "Cooked strip": every sample is simulated.

The circuit is that of `simulate.py`: a transformer and a bridge charge a filter
capacitor, the strip empties it. The bridge gives current one way only and the LEDs
stop drawing at 8.4 V, so the output ripples and does not reverse. Here a scope looks
at it, and the files are written that such a scope would export. They are kept in
``captures/``.

- A settled period is repeated for `RECORD_S`, from a phase drawn for each record.
- The scope has 8 bits, noise of about half a code and a time base within 50 ppm. On
  5 V per division it is that of the cursor readings, with the same gain error and
  offset, and zero in the middle of the screen, so that a reversal would be seen. On
  2 V per division it has others.
- Its probe divides by ten; in one record the menu says 1x, and the file shows a tenth.
- An AC-coupled record is what a high-pass of 8 Hz lets through, settled before the
  record begins; the offset lies behind it and stays.
- Two records are of the voltage across a resistor: the earth clip lies on the LED's
  side of it, which the isolated secondary allows, and nothing else is earthed.
"""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from simulate import (
    INVENTED,
    PERIOD_S,
    RESISTOR_OHM,
    SEED,
    STEP_S,
    adapters,
    equip,
)

FOLDER = Path(__file__).parent / "captures"
INTERVAL_S, RECORD_S, TIME_BASE = 50e-6, 0.1, 50e-6
CODES, NOISE_CODES = 256, 0.50
AC_HZ, SETTLED_PERIODS = 8.0, 25
BENCH_V = 12.0


@dataclass(frozen=True)
class Range:
    """One range of the scope: what it shows of a true voltage, in codes of 8 bits."""

    full_v: float
    bottom_v: float
    gain_error: float
    offset: float

    def shown(self, rng, true):
        """Values as written to the file, in V, whole codes, shape (n,)."""
        step = self.full_v / CODES
        seen = true * (1 + self.gain_error) + self.offset
        seen = seen + rng.normal(0.0, NOISE_CODES * step, len(true))
        codes = np.clip(np.rint((seen - self.bottom_v) / step), 0, CODES - 1)
        return self.bottom_v + step * codes


def ranges(rng):
    """Return the ranges of 5 V and of 2 V per division."""
    # The errors the cursor readings were made with.
    cursor = equip(np.random.default_rng(SEED)).scope
    gain_error, offset = rng.uniform(-0.02, 0.02), rng.uniform(-0.15, 0.15)
    return (
        Range(40.0, -20.0, cursor.gain_error, cursor.offset),
        Range(16.0, -2.0, gain_error, offset),
    )


def write(name, full_v, shown, menu=10):
    """Write one record as the scope exports it."""
    scale = menu / 10
    places = len(f"{full_v * scale / CODES:.9f}".rstrip("0").partition(".")[2])
    header = [
        INVENTED,
        "Channel: CH1",
        f"Coupling: {'AC' if name.endswith('-ac') else 'DC'}",
        f"Probe: {menu}x",
        f"Vertical: {full_v * scale / 8:g} V/div",
        f"Sample interval: {INTERVAL_S:g} s",
        "Start: 0 s",
        "CH1 (V)",
    ]
    lines = [*header, *(f"{value * scale:.{places}f}" for value in shown)]
    FOLDER.mkdir(exist_ok=True)
    text = "\n".join(lines) + "\n"
    (FOLDER / f"{name}.csv").write_text(text, encoding="utf-8")


def at(period_v, time_s):
    """Voltage at instants in s, from one settled period of it."""
    held_s = STEP_S * np.arange(len(period_v))
    return np.interp(time_s, held_s, period_v, period=PERIOD_S)


def high_passed(period_v):
    """Return one period of what an AC-coupled input lets through, settled."""
    keep = 1 / (1 + 2 * np.pi * AC_HZ * STEP_S)
    rise_v = period_v - np.roll(period_v, 1)
    passed_v, last_v = np.empty_like(period_v), 0.0
    for _ in range(SETTLED_PERIODS):
        for k, step_v in enumerate(rise_v):
            last_v = passed_v[k] = keep * (last_v + step_v)
    return passed_v


def records(adapter):
    """One settled period of each record of an adapter, in V, by what it is of."""
    return {
        "output": adapter.output_v,
        "output-ac": high_passed(adapter.output_v),
        "resistor": RESISTOR_OHM * adapter.segment_a,
    }


def main():
    """Write every record anew."""
    _, sound, failed, _ = adapters()
    rng = np.random.default_rng([SEED, 2])
    coarse, fine = ranges(rng)
    count = round(RECORD_S / INTERVAL_S)
    time_s = INTERVAL_S * np.arange(count) * (1 + rng.uniform(-TIME_BASE, TIME_BASE))

    def seen(scope, period_v):
        return scope.shown(rng, at(period_v, time_s + rng.uniform(0, PERIOD_S)))

    # The probe lies on its own ground, then on the bench supply.
    touched_v = np.where(time_s < RECORD_S / 2, 0.0, BENCH_V)
    write("r1-gain", coarse.full_v, coarse.shown(rng, touched_v))
    write("r1-gain-fine", fine.full_v, fine.shown(rng, touched_v))
    write("r1-output-1x", coarse.full_v, seen(coarse, sound.output_v), menu=1)
    for number, adapter in (("r1", sound), ("r2", failed)):
        for of, period_v in records(adapter).items():
            scope = fine if of == "resistor" else coarse
            write(f"{number}-{of}", scope.full_v, seen(scope, period_v))


if __name__ == "__main__":
    main()
