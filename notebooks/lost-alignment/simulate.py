"""Invented readings for the worked case "Lost alignment": every number is simulated.

A telescope mount loses alignment mid-slew. No such mount, brick or meter exists;
this script states a circuit, solves it, looks at the result through invented
instruments and prints what a person at the bench would type. What the scope and
the clamp recorded is written by `simulate_captures.py`, of the same circuit.

The circuit, one loop::

    supply 12.10 V, 0.03 ohm, current limit; 1500 uF across its output
    cable, joints and socket contact (both conductors), Schottky diode 0.4 V
    2200 uF (the rail) feeding a controller, 0.35 A, and two chopper motors,
    0.7 + 1.6 exp(-t/35 ms) A each, drawn whatever the rail, down to 0 V

- The brick holds its limit for 15 ms, then is off for 1.8 s and tries again for
  25 ms ("hiccup"; with these loads the first try succeeds). A bench supply holds
  its limit for ever and has the same 1500 uF.
- Alignment is lost when the rail stays below 8.80 V for more than 1.5 ms.
- The second axis starts 0 to 32 ms after the first, uniformly distributed; a
  capture of a minimum is taken with both starts on the same controller tick.
- A wiggled contact jumps to a peak resistance for 5 to 40 ms, starting within
  30 ms of the first axis; wiggling does not open the contact.
- V_idle and V_slew are read at the unmated plug: open, and under a steady load of
  2.65 A. They hold brick, cable and joints; the socket is not in them.
- A discharge is 150 pF at 4 kV, all of it into the idle rail. Other ways into
  the logic are not modelled, so those trials say little.
- A motor's winding is copper, 1.600 ohm at 21 degC; the starts of round 1 with
  their rests warm it by 17 K.

The orders of the trials are those of the plans in the case; `main` prints their
outcomes only once the plans are written. Each arm has its own draws, which are dealt
out in the planned order.

Solved with Heun steps of `STEP_S`; half that step prints the same text. While a
supply holds its limit both capacitors discharge together: the rail falls by
(load - limit) / 3700 uF, 0.36 V/ms at 4.95 A against 3.6 A. The 2200 uF alone
would give 0.61 V/ms.
"""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from benchproof import open_case

SEED = 20_260_404
FOLDER = Path(__file__).parent
STEP_S = 20e-6
WINDOW_S = 0.100

RAIL_CAPACITANCE_F = 2200e-6
DIODE_V = 0.4
CONTROLLER_A = 0.35
HOLD_A, SURGE_A, SURGE_DECAY_S = 0.7, 1.6, 35e-3
RESET_V, RESET_HOLD_S = 8.80, 1.5e-3
LONGEST_STAGGER_S = 32e-3

SOCKET_OHM, WIGGLED_OHM, WORN_OHM = 0.006, 0.040, 0.120
CABLE_OHM = 0.207 + 0.030  # 3 m of 2 x 0.5 mm2, and its joints
OWN_OHM = CABLE_OHM + SOCKET_OHM
THIN_OHM = 0.569  # 5 m of 2 x 0.32 mm2, its joints and a sound socket
BORE_MM = 2.08
DISCHARGE_C = 150e-12 * 4000
WINDING_OHM, WARMING_K, COPPER_PER_K = 1.600, 17.0, 1 / (234.5 + 21.0)

INVENTED = "# Invented data: simulated, not measured on any real device."


@dataclass(frozen=True)
class Supply:
    """A supply with a current limit; `hiccup` makes it trip and retry."""

    limit_a: float
    hiccup: bool
    open_circuit_v: float = 12.10
    resistance_ohm: float = 0.03
    output_capacitance_f: float = 1500e-6
    patience_s: float = 15e-3
    off_s: float = 1.8
    retry_s: float = 25e-3


BRICK = Supply(limit_a=3.6, hiccup=True)
BENCH_LOW = Supply(limit_a=3.6, hiccup=False)
BENCH = Supply(limit_a=5.2, hiccup=False)
BRICK_5A = Supply(limit_a=5.4, hiccup=True)


def times(duration_s=WINDOW_S, step_s=STEP_S):
    """Instants of the solution in s, shape (steps,)."""
    return np.arange(round(duration_s / step_s)) * step_s


def load_current(time_s, staggers_s, axes=2):
    """Load in A, shape (steps, trials); the first axis starts at 0."""
    load_a = np.full((len(time_s), len(staggers_s)), CONTROLLER_A)
    for axis in range(axes):
        since = time_s[:, None] - axis * np.asarray(staggers_s)
        surge_a = SURGE_A * np.exp(-np.maximum(since, 0) / SURGE_DECAY_S)
        load_a += np.where(since >= 0, HOLD_A + surge_a, 0.0)
    return load_a


def rail(supply, loop_ohm, load_a, step_s=STEP_S):
    """Time in s, shape (steps,), and rail voltage in V, shape (steps, trials).

    `load_a` has shape (steps, trials); `loop_ohm` (cable, joints and contact) is
    a number or broadcasts to it. The supply starts settled on the controller.
    """
    load_a = np.asarray(load_a, dtype=float)
    loop_ohm = np.broadcast_to(loop_ohm, load_a.shape)
    output_v = supply.open_circuit_v - supply.resistance_ohm * CONTROLLER_A
    idle_v = output_v - DIODE_V - loop_ohm[0] * CONTROLLER_A
    state_v = np.stack([np.full_like(idle_v, output_v), idle_v])
    overload_s, off_left_s = np.zeros_like(state_v)
    patience_s = np.full_like(overload_s, supply.patience_s)
    history_v = np.empty_like(load_a)
    for k in range(len(load_a)):
        history_v[k] = state_v[1]
        on = off_left_s <= 0
        slope, limiting = slopes(supply, on, loop_ohm[k], load_a[k], state_v)
        later_v = state_v + step_s * slope
        ahead = min(k + 1, len(load_a) - 1)
        later, _ = slopes(supply, on, loop_ohm[ahead], load_a[ahead], later_v)
        state_v = np.maximum(state_v + step_s * (slope + later) / 2, 0.0)
        if supply.hiccup:
            overload_s = np.where(limiting, overload_s + step_s, 0.0)
            tripped = overload_s > patience_s
            off_left_s = np.where(tripped, supply.off_s, off_left_s - step_s)
            patience_s = np.where(tripped, supply.retry_s, patience_s)
    return np.arange(len(load_a)) * step_s, history_v


def slopes(supply, on, loop_ohm, load_a, state_v):
    """V/s of (supply output, rail), and whether the supply holds its limit."""
    output_v, rail_v = state_v
    wanted_a = on * (supply.open_circuit_v - output_v) / supply.resistance_ohm
    # A supply gives current and takes none back; so does the Schottky diode.
    supply_a = np.clip(wanted_a, 0.0, supply.limit_a)
    through_a = np.maximum((output_v - DIODE_V - rail_v) / loop_ohm, 0.0)
    output_slope = (supply_a - through_a) / supply.output_capacitance_f
    rail_slope = (through_a - load_a) / RAIL_CAPACITANCE_F
    return np.stack([output_slope, rail_slope]), wanted_a >= supply.limit_a


def longest_below(rail_v, threshold_v=RESET_V, step_s=STEP_S):
    """Longest unbroken time below the threshold in s, shape (trials,)."""
    run = longest = np.zeros(rail_v.shape[1])
    for below in rail_v < threshold_v:
        run = np.where(below, run + step_s, 0.0)
        longest = np.maximum(longest, run)
    return longest


def wiggled_contact(rng, sound_ohm, peaks_ohm, step_s=STEP_S):
    """Contact resistance in ohm, shape (steps, trials), one spike in each trial."""
    begin_s = rng.uniform(0.0, 30e-3, len(peaks_ohm))
    width_s = rng.uniform(5e-3, 40e-3, len(peaks_ohm))
    since = times(step_s=step_s)[:, None] - begin_s
    return np.where((since >= 0) & (since < width_s), peaks_ohm, sound_ohm)


def run_trials(rng, supply, loop_ohm, step_s=STEP_S, count=20, axes=2):
    """Start the mount `count` times; which of them lost alignment, shape (count,)."""
    staggers_s = rng.uniform(0.0, LONGEST_STAGGER_S, count)
    load_a = load_current(times(step_s=step_s), staggers_s, axes)
    _, rail_v = rail(supply, loop_ohm, load_a, step_s)
    return longest_below(rail_v, step_s=step_s) > RESET_HOLD_S


def discharge_trials(signs):
    """Return which discharges into the idle rail lose alignment, shape (trials,)."""
    idle_v = rail(BENCH, OWN_OHM, [[CONTROLLER_A]])[1][0, 0]
    return idle_v + signs * DISCHARGE_C / RAIL_CAPACITANCE_F < RESET_V


def rail_minimum(supply, loop_ohm, step_s=STEP_S, axes=2):
    """Lowest rail voltage in V with both starts on the same tick."""
    load_a = load_current(times(step_s=step_s), [0.0], axes)
    return float(rail(supply, loop_ohm, load_a, step_s)[1].min())


@dataclass(frozen=True)
class Instrument:
    """One range: display digit, noise, and fixed errors inside +-(gain + digits)."""

    unit: str
    digit: float
    noise: float
    gain_error: float
    offset: float


@dataclass(frozen=True)
class Bench:
    """The instruments on it: handheld volts, current clamp, milliohm meter."""

    meter: Instrument
    clamp: Instrument
    bridge: Instrument


def draw_instrument(rng, unit, digit, noise, gain, digits):
    """Draw one instrument's fixed errors from its accuracy line."""
    offset = digit * rng.uniform(-digits, digits)
    return Instrument(unit, digit, noise, rng.uniform(-gain, gain), offset)


def displayed(rng, instrument, true_value, repeats=1):
    """Text of the readings as displayed, with the unit once at the end."""
    seen = true_value * (1 + instrument.gain_error) + instrument.offset
    seen = seen + rng.normal(0.0, instrument.noise, repeats)
    places = round(-np.log10(instrument.digit))
    return " ".join(f"{x:.{places}f}" for x in seen) + f" {instrument.unit}"


def noted_minimum(rng, meter, true_v, places=2):
    """Text of a rail minimum as noted from the screen, by a cursor on the trace.

    The scope's gain was set by the meter at 12 V: it inherits the meter's error there
    and the cursor adds 0.03 V of its own: u = 0.06 V.
    """
    gain = meter.gain_error + meter.offset / BRICK.open_circuit_v
    seen_v = true_v * (1 + gain) + rng.normal(0.0, 0.03)
    # Adding 0.0 turns a rounded "-0.00" into "0.00".
    return f"{round(seen_v, places) + 0.0:.{places}f}({6 * 10 ** (places - 2)}) V"


def on_the_rail(rng, bench, loop_ohm):
    """Lines of the idle rail by the handheld, for the scope's gain."""
    idle_v = rail(BENCH, loop_ohm, [[CONTROLLER_A]])[1][0, 0]
    yield f"V_rail: {displayed(rng, bench.meter, idle_v, repeats=4)}"


def minima(rng, meter, step_s, places, cases):
    """Lines of the noted minima; a case is (supply, loop in ohm, axes)."""
    for name, (supply, loop_ohm, axes) in cases.items():
        true_v = rail_minimum(supply, loop_ohm, step_s, axes)
        yield f"{name}: {noted_minimum(rng, meter, true_v, places)}"


def plan_line(case, name, version, lost):
    """Line of a plan's outcomes in the order of its places, or what to do first.

    `lost` holds the outcomes of each arm, in the order it is made; an arm that is not
    in it is not made again.
    """
    versions = case.trials.rows(name).versions if name in case.trials.names() else []
    if len(versions) < version:
        return f"{name}: write version {version} of the plan, then run this again"
    arms = {condition: iter(seen) for condition, seen in lost.items()}
    row = [
        ("l" if next(arms[place]) else "k") if place in arms else "-"
        for place in versions[version - 1].spec.places
    ]
    return f"{name}, in the planned order: {' '.join(row)}"


def at_the_plug(rng, bench, cable_ohm):
    """Lines of the source at the unmated plug, open and under 2.65 A."""
    plug_v = 12.10 - 2.65 * (BRICK.resistance_ohm + cable_ohm)
    yield f"V_idle: {displayed(rng, bench.meter, 12.10, repeats=4)}"
    yield f"V_slew: {displayed(rng, bench.meter, plug_v)}"
    yield f"I_slew: {displayed(rng, bench.clamp, 2.65)}"


def first_round(case, streams, bench, step_s):
    """Lines of the first round: our own brick, cable and socket."""
    rng, more, last, late = streams
    captures = {
        "V_noted_one_axis": (BRICK, OWN_OHM, 1),
        "V_noted_both": (BRICK, OWN_OHM, 2),
        "V_noted_bench": (BENCH, OWN_OHM, 2),
        "V_noted_bench_low": (BENCH_LOW, OWN_OHM, 2),
        "V_noted_wiggle": (BENCH, CABLE_OHM + WIGGLED_OHM, 2),
    }
    peaks_ohm = rng.uniform(SOCKET_OHM, WIGGLED_OHM, 60)
    wiggled_ohm = CABLE_OHM + wiggled_contact(rng, SOCKET_OHM, peaks_ohm, step_s)
    yield "# Round 1. At the unmated plug: V_idle open, V_slew with a load of 2.65 A."
    *volts, amps = at_the_plug(rng, bench, CABLE_OHM)
    yield from volts
    yield f"{misread(amps)}  (10 mV/A taken for 1 mV/A; then read again)"
    yield amps
    yield from on_the_rail(last, bench, OWN_OHM)
    yield from minima(rng, bench.meter, step_s, 2, captures)
    yield f"R_socket: {displayed(rng, bench.bridge, SOCKET_OHM * 1000, repeats=6)}"
    yield f"R_peak: {displayed(more, bench.bridge, WIGGLED_OHM * 1000)}"
    yield f"bore: {rng.normal(BORE_MM, 0.005):.2f}(2) mm"
    power = {
        f"supply={said}; axes={axes}": run_trials(rng, supply, OWN_OHM, step_s, 20, n)
        for said, supply in (("brick", BRICK), ("steady", BENCH))
        for axes, n in (("both", 2), ("one", 1))
    }
    socket = {
        "plug=wiggled": run_trials(rng, BENCH, wiggled_ohm, step_s, 60),
        "plug=at rest": run_trials(late, BENCH, OWN_OHM, step_s, 60),
    }
    static = {
        "discharge=4 kV": discharge_trials(np.tile([1, -1], 15)),
        "discharge=none": discharge_trials(np.zeros(30)),
    }
    first = run_trials(late, BRICK, OWN_OHM, step_s, 1)
    yield f"one start before the planned ones, brick, both axes: {'lk'[not first[0]]}"
    for name, arms in {"power": power, "socket": socket, "static": static}.items():
        yield plan_line(case, name, 1, arms)
    for name, kelvin in (("cold", 0.0), ("warm", WARMING_K)):
        ohm = WINDING_OHM * (1 + COPPER_PER_K * kelvin)
        yield f"R_motor_{name}: {displayed(late, bench.bridge, 1000 * ohm)}"


def misread(line):
    """Return a clamp's line as it is typed with the scale a factor of ten off."""
    name, value, unit = line.split()
    return f"{name} {10 * float(value):.1f} {unit}"


def second_round(case, streams, bench, step_s):
    """Lines of the second round: a 5 A brick, a thin cable and a worn socket."""
    rng, more, last, late = streams
    captures = {
        f"V_noted_thin_{extra}": (BRICK_5A, THIN_OHM + extra / 1000, 2)
        for extra in (0, 40, 80, 120)
    }
    sound = {"V_noted_brick5_both": (BRICK_5A, OWN_OHM, 2)}
    worn_ohm = THIN_OHM + wiggled_contact(rng, 0.0, np.full(20, WORN_OHM), step_s)
    yield "# Round 2. 5.4 A brick, 5 m thin cable, 0 to 120 mohm added at the socket."
    yield from at_the_plug(more, bench, THIN_OHM - SOCKET_OHM)
    yield f"R_peak: {displayed(more, bench.bridge, (SOCKET_OHM + WORN_OHM) * 1000)}"
    yield from on_the_rail(last, bench, THIN_OHM)
    yield from minima(rng, bench.meter, step_s, 3, captures)
    yield from minima(more, bench.meter, step_s, 2, sound)
    yield "# worn: plug wiggled at random; held: plug kept at its worst angle."
    socket = {
        "plug=wiggled": run_trials(rng, BRICK_5A, worn_ohm, step_s),
        "plug=at rest": run_trials(rng, BRICK_5A, THIN_OHM, step_s),
    }
    power = {
        "supply=brick; axes=both": run_trials(rng, BRICK_5A, OWN_OHM, step_s),
        "supply=brick; axes=one": run_trials(late, BRICK_5A, OWN_OHM, step_s, axes=1),
    }
    socket["plug=held"] = run_trials(rng, BRICK_5A, THIN_OHM + WORN_OHM, step_s)
    yield plan_line(case, "power", 1, power)
    yield plan_line(case, "socket", 2, socket)
    again_ohm = THIN_OHM + wiggled_contact(late, 0.0, np.full(20, WORN_OHM), step_s)
    lost = run_trials(late, BRICK_5A, again_ohm, step_s)
    ended = np.argmax(lost) + 1 if lost.any() else len(lost)
    yield f"wiggled until it is lost: {' '.join('lk'[not x] for x in lost[:ended])}"


def main(folder=FOLDER, step_s=STEP_S):
    """Print both rounds as text to type into the notebook."""
    # Streams of their own for what was added later, so that nothing else moved.
    streams = [np.random.default_rng([SEED, n] if n else SEED) for n in (0, 1, 2, 4)]
    rng, case = streams[0], open_case(folder)
    bench = Bench(
        draw_instrument(rng, "V", 0.01, 0.004, gain=0.005, digits=3),
        draw_instrument(rng, "A", 0.01, 0.004, gain=0.02, digits=2),
        draw_instrument(rng, "mohm", 0.1, 0.15, gain=0.01, digits=5),
    )
    for lines in (first_round, second_round):
        print(INVENTED, *lines(case, streams, bench, step_s), sep="\n", end="\n\n")


if __name__ == "__main__":
    main()
