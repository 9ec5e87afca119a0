"""Invented captures for the worked case "Lost alignment": every sample is simulated.

The circuit is that of `simulate.py`; here a scope and a clamp look at it, and the
files are written that such a scope would export. They are kept in ``captures/``.

- Both axes jog for `JOG_S`, starts on one tick; at time 0 the load steps up, after
  the jog only the controller is left.
- The scope has 8 bits over 16 V, a straight channel with one gain error and one
  offset for all its records (within 3 % of full screen) and more than half a code of
  noise. Its probe divides by ten; in one record the menu says 1x, and the file shows
  a tenth. One record is AC-coupled: a high-pass of 8 Hz, settled before it begins.
- The clamp gives 10 mV/A, and follows as one low-pass of 100 kHz.
- Plugging in joins 1500 uF at 12.1 V, through the cable, 2.4 uH, the capacitors' own
  0.074 ohm and the diode, to 2200 uF at 0 V. The controller draws nothing yet, and
  the brick adds no more than its limit.
- A brick on 2.2 ohm never leaves its limit: it is 1.8 s off and 25 ms on, again and
  again; the record begins long after the first trip.
"""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from simulate import (
    BENCH,
    BENCH_LOW,
    BRICK,
    BRICK_5A,
    CABLE_OHM,
    CONTROLLER_A,
    DIODE_V,
    INVENTED,
    OWN_OHM,
    RAIL_CAPACITANCE_F,
    SEED,
    THIN_OHM,
    WIGGLED_OHM,
    load_current,
    rail,
    times,
)

FOLDER = Path(__file__).parent / "captures"
STEP_S = 25e-6
INTERVAL_S, BEFORE_S, JOG_S, AFTER_S = 50e-6, 30e-3, 0.050, 40e-3
SLOW_INTERVAL_S, SLOW_S = 0.5e-3, 2.0
CODES = 256

INDUCTANCE_H, CAPACITORS_OHM, CLAMP_HZ = 2.4e-6, 0.074, 100e3
FINE_S, INRUSH_INTERVAL_S = 50e-9, 1e-6
RESISTOR_OHM, HICCUP_INTERVAL_S, HICCUP_S = 2.2, 1e-3, 5.9
CLAMP_V_PER_A, AC_HZ = 10e-3, 8.0


@dataclass(frozen=True)
class Screen:
    """One channel and range: what it shows of a true value, in codes of 8 bits."""

    label: str
    unit: str
    bottom: float
    full: float
    noise: float
    gain_error: float = 0.0
    offset: float = 0.0

    def shown(self, rng, true):
        """Values as written to the file, whole codes, shape (n,)."""
        seen = true * (1 + self.gain_error) + self.offset
        seen = seen + rng.normal(0.0, self.noise, len(true))
        step = self.full / CODES
        codes = np.clip(np.rint((seen - self.bottom) / step), 0, CODES - 1)
        return self.bottom + step * codes


def write(name, screen, shown, interval_s, start_s, coupling="DC", probe="10x"):
    """Write one record as the scope exports it."""
    places = len(f"{screen.full / CODES:.9f}".rstrip("0").partition(".")[2])
    header = [
        INVENTED,
        f"Channel: {screen.label}",
        f"Coupling: {coupling}",
        f"Probe: {probe}",
        f"Vertical: {screen.full / 8:g} {screen.unit}/div",
        f"Sample interval: {interval_s:g} s",
        f"Start: {start_s:g} s",
        f"{screen.label} ({screen.unit})",
    ]
    lines = [*header, *(f"{value:.{places}f}" for value in shown)]
    FOLDER.mkdir(exist_ok=True)
    text = "\n".join(lines) + "\n"
    (FOLDER / f"{name}.csv").write_text(text, encoding="utf-8")


def jog(supply, loops_ohm, axes, after_s=AFTER_S):
    """Rail in V from `BEFORE_S` before the jog, shape (steps, set-ups).

    `loops_ohm` and `axes` have one entry for each set-up.
    """
    time_s = times(JOG_S + after_s, STEP_S)
    load_a = np.hstack([load_current(time_s, [0.0], number) for number in axes])
    load_a[time_s >= JOG_S] = CONTROLLER_A
    _, rail_v = rail(supply, np.asarray(loops_ohm), load_a, STEP_S)
    quiet = np.repeat(rail_v[:1], round(BEFORE_S / STEP_S), axis=0)
    return np.vstack([quiet, rail_v])


def inrush():
    """Return the current in A on plugging in, from 1 ms before to 10 ms after it."""
    ohm = CAPACITORS_OHM + OWN_OHM
    current_a, output_v, rail_v, seen_a = 0.0, BRICK.open_circuit_v, 0.0, 0.0
    keep = 1 - np.exp(-2 * np.pi * CLAMP_HZ * FINE_S)
    each, history_a = round(INRUSH_INTERVAL_S / FINE_S), [0.0] * 1000
    for k in range(10_000 * each):
        if k % each == 0:
            history_a.append(seen_a)
        push_v = output_v - DIODE_V - rail_v - ohm * current_a
        current_a = max(current_a + FINE_S * push_v / INDUCTANCE_H, 0.0)
        wanted_a = (BRICK.open_circuit_v - output_v) / BRICK.resistance_ohm
        supply_a = min(max(wanted_a, 0.0), BRICK.limit_a)
        output_v += FINE_S * (supply_a - current_a) / BRICK.output_capacitance_f
        rail_v += FINE_S * current_a / RAIL_CAPACITANCE_F
        seen_a += keep * (current_a - seen_a)
    return np.array(history_a)


def hiccup():
    """Return the current in A of a brick that keeps trying on `RESISTOR_OHM`."""
    time_s = np.arange(round(HICCUP_S / HICCUP_INTERVAL_S)) * HICCUP_INTERVAL_S
    tau_s = RESISTOR_OHM * BRICK.output_capacitance_f
    # The record begins half a second before a try.
    since = (time_s - 0.5) % (BRICK.off_s + BRICK.retry_s)
    on = since < BRICK.retry_s
    rise = 1 - np.exp(-np.minimum(since, BRICK.retry_s) / tau_s)
    return BRICK.limit_a * np.where(
        on, rise, rise * np.exp((BRICK.retry_s - since) / tau_s)
    )


def high_passed(volts, interval_s):
    """Return what an AC-coupled input lets through, settled on the first value."""
    keep = 1 / (1 + 2 * np.pi * AC_HZ * interval_s)
    passed = np.zeros_like(volts)
    for k in range(1, len(volts)):
        passed[k] = keep * (passed[k - 1] + volts[k] - volts[k - 1])
    return passed


def rails():
    """Rail in V of each jog by the name of its file, every `INTERVAL_S`."""
    slow = jog(BRICK, [OWN_OHM, OWN_OHM], [1, 2], SLOW_S - JOG_S)
    every, seldom = round(INTERVAL_S / STEP_S), round(SLOW_INTERVAL_S / STEP_S)
    short = round((BEFORE_S + JOG_S + AFTER_S) / STEP_S)
    bench = jog(BENCH, [OWN_OHM, CABLE_OHM + WIGGLED_OHM], [2, 2])
    thin = [OWN_OHM, *(THIN_OHM + extra for extra in (0.0, 0.040, 0.080, 0.120))]
    second = jog(BRICK_5A, thin, [2] * 5)[::every]
    return {
        "r1-one-axis": slow[:short:every, 0],
        "r1-both": slow[::seldom, 1],
        "r1-limit-only": jog(BENCH_LOW, [OWN_OHM], [2])[::every, 0],
        "r1-steady": bench[::every, 0],
        "r1-contact": bench[::every, 1],
        "r2-both": second[:, 0],
        "r2-steady": second[:, 1],
        "r2-40": second[:, 2],
        "r2-80": second[:, 3],
        "r2-contact": second[:, 4],
    }


def main():
    """Write every record anew."""
    rng = np.random.default_rng([SEED, 3])
    gain_error, offset = rng.uniform(-0.02, 0.02), rng.uniform(-0.15, 0.15)
    volts = Screen("CH1", "V", -2.0, 16.0, 0.035, gain_error, offset)
    clamp_gain = rng.uniform(-0.02, 0.02)
    wide = Screen("CH2", "V", -0.1, 0.8, 2e-3, clamp_gain)
    narrow = Screen("CH2", "V", -0.01, 0.08, 0.2e-3, clamp_gain)
    for round_name, loop_ohm in (("r1", OWN_OHM), ("r2", THIN_OHM)):
        idle_v = rail(BENCH, loop_ohm, [[CONTROLLER_A]])[1][0, 0]
        # The probe lies on its own ground, then on the idle rail.
        touched_v = np.repeat([0.0, idle_v], 1000)
        if round_name == "r1":
            tenth = volts.shown(rng, touched_v) / 10
            tenth_screen = Screen("CH1", "V", -0.2, 1.6, 0.0)
            write("r1-gain-1x", tenth_screen, tenth, 1e-3, 0.0, probe="1x")
        write(f"{round_name}-gain", volts, volts.shown(rng, touched_v), 1e-3, 0.0)
    found_v = rails()
    passed_v = high_passed(found_v["r1-steady"], INTERVAL_S)
    ac = Screen("CH1", "V", -8.0, 16.0, 0.035, gain_error)
    write("r1-ac", ac, ac.shown(rng, passed_v), INTERVAL_S, -BEFORE_S, coupling="AC")
    for name, rail_v in found_v.items():
        interval_s = SLOW_INTERVAL_S if name == "r1-both" else INTERVAL_S
        write(name, volts, volts.shown(rng, rail_v), interval_s, -BEFORE_S)
    inrush_v, hiccup_v = (CLAMP_V_PER_A * seen() for seen in (inrush, hiccup))
    shown = wide.shown(rng, inrush_v)
    write("r1-inrush", wide, shown, INRUSH_INTERVAL_S, -1e-3, probe="1x")
    shown = narrow.shown(rng, hiccup_v)
    write("r1-hiccup", narrow, shown, HICCUP_INTERVAL_S, 0.0, probe="1x")


if __name__ == "__main__":
    main()
