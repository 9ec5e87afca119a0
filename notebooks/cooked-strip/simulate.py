"""Invented readings for the worked case "Cooked strip": every number is simulated.

The moonlight strip of a reef tank lost segments; its owner's meter showed 33 V AC.
No such strip, adapter or meter exists; this script states a circuit, solves it,
looks at the result through invented instruments and prints what a person at the
bench would type. What a scope recorded is written by `simulate_captures.py`, of the
same circuit.

The circuit::

    50 Hz transformer and bridge: a source of |20.3 V sin| - 1.2 V behind 2.5 ohm,
    which gives current and takes none back
    filter capacitor: 1000 uF in a sound adapter, 12 uF left in the failed one
    load: a constant current, or the strip of 12 equal segments; each is three LEDs
    (2.80 V + 10 ohm each) and 150 ohm, so it draws (v - 8.4 V) / 180 ohm

- Heat: a resistor's case rises by 230 K/W times R mean(i^2), with one time constant
  of 7.5 min. The resistance does not change with temperature.
- An infrared thermometer set to 0.95 sees a bare cap of emissivity 0.3, grey, and in
  it the room.
- Dimming: in 48 h a segment loses a share of its light that is lognormal, spread
  0.7, its median 10 % at 36 mA and falling with the cube of the current. Wholly
  invented, so the soak says nothing about LEDs in general.
- Tank water across the strip's cut end is 1.20 kohm and creeps up as the meter's DC
  polarises it.
- The reporter's meter rectifies one half wave, without a blocking capacitor, and
  shows 2.221 times the mean of what is left.

Solved with Heun steps of `STEP_S`; half that step prints the same text.
"""

from dataclasses import dataclass

import numpy as np

SEED = 20_260_919
STEP_S = 5e-6
PERIOD_S = 0.02
SETTLING_S = 0.14

PEAK_V, DIODES_V, SOURCE_OHM = 20.3, 1.2, 2.5
SOUND_F, FAILED_F, ADDED_F = 1000e-6, 12e-6, 1000e-6
SEGMENTS, KNEES_V, RESISTOR_OHM, DIODES_OHM = 12, 8.4, 150.0, 30.0
SEGMENT_OHM = RESISTOR_OHM + DIODES_OHM
BURDEN_OHM, LEADS_OHM = 1.8, 0.3

AMBIENT_C, HOOD_C = 24.3, 46.0
HEAT_K_PER_W, HEAT_MIN = 230.0, 7.5
SET_EMISSIVITY, CAP_EMISSIVITY, ZERO_C_K = 0.95, 0.30, 273.15
MINUTES = (0, 2, 5, 10, 15, 20, 30)

WATER_OHM = 1200.0
HALF_WAVE_FACTOR = np.pi / np.sqrt(2)
SINE_FORM_FACTOR = np.pi / np.sqrt(8)
LOADS_A = (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.8, 1.0)

INVENTED = "# Invented data: simulated, not measured on any real device."


def strip_current(voltage):
    """Return the strip's current in A at a voltage in V, elementwise."""
    return SEGMENTS * np.maximum(voltage - KNEES_V, 0.0) / SEGMENT_OHM


def solve(capacitance_f, constant_a, with_strip, step_s=STEP_S):
    """Return output voltage in V over one settled mains period.

    Parameters
    ----------
    capacitance_f, constant_a : array, shape (cases,)
        Filter capacitor, and a load that draws a constant current.
    with_strip : array of bool, shape (cases,)
        Where the strip hangs on the adapter too.
    step_s : float
        Of the solution; the period is a whole number of them.

    Returns
    -------
    array, shape (steps, cases)
    """
    kept = round(PERIOD_S / step_s)
    count = round(SETTLING_S / step_s) + kept
    source_v = PEAK_V * abs(np.sin(2 * np.pi * 50 * step_s * np.arange(count + 1)))

    def slope(behind_v, voltage):
        supply_a = np.maximum(behind_v - DIODES_V - voltage, 0.0) / SOURCE_OHM
        load_a = constant_a + with_strip * strip_current(voltage)
        return (supply_a - load_a) / capacitance_f

    voltage = np.full(len(capacitance_f), PEAK_V - DIODES_V)
    history = np.empty((count, len(voltage)))
    for k in range(count):
        first = slope(source_v[k], voltage)
        later = slope(source_v[k + 1], voltage + step_s * first)
        voltage = np.maximum(voltage + step_s * (first + later) / 2, 0.0)
        history[k] = voltage
    return history[-kept:]


@dataclass(frozen=True)
class Adapter:
    """One adapter with the strip on it: its output over a period, in V."""

    output_v: np.ndarray

    @property
    def segment_a(self):
        """Current of one segment over the period."""
        return strip_current(self.output_v) / SEGMENTS

    @property
    def alternating_v(self):
        """Effective value of the alternating part."""
        return self.output_v.std()

    @property
    def resistor_w(self):
        """Heat in one resistor: R times the mean of i^2."""
        return RESISTOR_OHM * np.mean(self.segment_a**2)

    @property
    def average_responding_v(self):
        """What an AC-coupled, average-responding meter shows."""
        away = abs(self.output_v - self.output_v.mean())
        return SINE_FORM_FACTOR * away.mean()

    def half_wave_v(self, sign=1):
        """Return what the reporter's meter shows, its leads one way or the other."""
        return HALF_WAVE_FACTOR * np.maximum(sign * self.output_v, 0.0).mean()


def adapters(step_s=STEP_S):
    """Return the load line in V, and the sound, failed and helped adapter."""
    constant_a = np.array([*LOADS_A, 0.0, 0.0, 0.0])
    plain = len(LOADS_A)
    farads = np.full(plain + 3, SOUND_F)
    farads[-2:] = FAILED_F, FAILED_F + ADDED_F
    with_strip = np.arange(plain + 3) >= plain
    output_v = solve(farads, constant_a, with_strip, step_s)
    return output_v[:, :plain].mean(axis=0), *map(Adapter, output_v[:, plain:].T)


@dataclass(frozen=True)
class Instrument:
    """One range: display digit, noise, and fixed errors inside +-(gain + digits)."""

    unit: str
    digit: float
    noise: float
    gain_error: float
    offset: float

    def show(self, rng, *true_values):
        """Text of the readings as displayed, with the unit once at the end."""
        seen = np.array(true_values) * (1 + self.gain_error) + self.offset
        seen = seen + rng.normal(0.0, self.noise, len(seen))
        places = max(0, round(-np.log10(self.digit)))
        # Adding 0.0 turns a rounded "-0.0" into "0.0".
        shown = " ".join(f"{round(x, places) + 0.0:.{places}f}" for x in seen)
        return f"{shown} {self.unit}"


def draw_instrument(rng, unit, digit, noise, gain, digits):
    """Draw one range's fixed errors from its accuracy line."""
    offset = digit * rng.uniform(-digits, digits)
    return Instrument(unit, digit, noise, rng.uniform(-gain, gain), offset)


@dataclass(frozen=True)
class Bench:
    """The instruments on it, each with the errors it was born with."""

    volts: Instrument
    ac: Instrument
    hertz: Instrument
    ohms: Instrument
    kilohms: Instrument
    milliamps: Instrument
    amps: Instrument
    load: Instrument
    probe: Instrument
    scope: Instrument
    penny: Instrument


def equip(rng):
    """Draw the errors of every instrument."""
    return Bench(
        volts=draw_instrument(rng, "V", 0.01, 0.004, 0.005, 3),
        ac=draw_instrument(rng, "V", 0.001, 0.001, 0.01, 5),
        hertz=draw_instrument(rng, "Hz", 0.1, 0.02, 0.001, 1),
        ohms=draw_instrument(rng, "ohm", 0.1, 0.03, 0.008, 2),
        kilohms=draw_instrument(rng, "kohm", 0.001, 0.001, 0.008, 5),
        milliamps=draw_instrument(rng, "mA", 0.01, 0.01, 0.01, 3),
        amps=draw_instrument(rng, "A", 0.01, 0.002, 0.015, 5),
        load=draw_instrument(rng, "A", 0.001, 0.0003, 0.002, 1),
        probe=draw_instrument(rng, "degC", 0.1, 0.05, 0.005, 10),
        scope=draw_instrument(rng, "V", 0.01, 0.05, 0.03, 8),
        penny=draw_instrument(rng, "V", 0.1, 0.03, 0.02, 0),
    )


def warming(power_w, ambient_c=AMBIENT_C):
    """Temperatures of a resistor in degC at `MINUTES` after switching on."""
    rise_k = HEAT_K_PER_W * power_w
    return [ambient_c + rise_k * (1 - np.exp(-t / HEAT_MIN)) for t in MINUTES]


def infrared(rng, surface_c, ambient_c=AMBIENT_C):
    """Text of what the infrared thermometer shows of a bare cap."""
    share = CAP_EMISSIVITY / SET_EMISSIVITY
    fourth = share * (ZERO_C_K + surface_c) ** 4
    fourth += (1 - share) * (ZERO_C_K + ambient_c) ** 4
    return f"{fourth**0.25 - ZERO_C_K + rng.normal(0.0, 0.3):.1f} degC"


def dimmed(rng, current_a, segments=4):
    """Which segments lost more than 10 % of their light in 48 h, shape (segments,)."""
    median = 0.10 * (current_a / 36e-3) ** 3
    return median * np.exp(rng.normal(0.0, 0.7, segments)) > 0.10


def on_the_strip(rng, bench, adapter):
    """Lines of one adapter with the strip on it."""
    mean_v, current_a = adapter.output_v.mean(), adapter.segment_a.mean()
    burdened_a = (mean_v - KNEES_V) / (SEGMENT_OHM + BURDEN_OHM)
    yield f"V_strip: {bench.volts.show(rng, *[mean_v] * 5)}"
    yield f"V_ac: {bench.ac.show(rng, *[adapter.average_responding_v] * 3)}"
    yield f"f_ripple: {bench.hertz.show(rng, 100.0)}"
    yield f"V_penny: {bench.penny.show(rng, adapter.half_wave_v())}"
    yield f"V_penny_swapped: {bench.penny.show(rng, adapter.half_wave_v(-1))}"
    yield f"I_strip: {bench.amps.show(rng, SEGMENTS * current_a)}"
    yield f"I_segment_read: {bench.milliamps.show(rng, 1e3 * burdened_a)}"
    yield f"V_R: {bench.volts.show(rng, *[RESISTOR_OHM * current_a] * 3)}"
    lowest, highest = adapter.output_v.min(), adapter.output_v.max()
    yield f"V_min_scope: {bench.scope.show(rng, lowest)}"
    yield f"V_max_scope: {bench.scope.show(rng, highest)}"


def heat(rng, bench, power_w):
    """Lines of a resistor's warming."""
    shown = bench.probe.show(rng, *warming(power_w)).split()[:-1]
    for minute, text in zip(MINUTES, shown, strict=True):
        yield f"T_{minute}: {text} degC"


def load_line(rng, bench, line_v):
    """Lines of the load line, from no load upwards."""
    for current_a, voltage in zip(LOADS_A, line_v, strict=True):
        line = f"V_{10 * current_a:02.0f}: {bench.volts.show(rng, voltage)}"
        # At no load nothing is connected, so there is no current to read.
        amps = f"I_{10 * current_a:02.0f}: {bench.load.show(rng, current_a)}"
        yield f"{line}; {amps}" if current_a else line


def nodes(rng, bench, supply_v):
    """Line of a segment's nodes against minus: plus, after R, after LED 1 and 2."""
    current_a = max(supply_v - KNEES_V, 0.0) / SEGMENT_OHM
    led_v = (KNEES_V + DIODES_OHM * current_a) / 3
    return bench.volts.show(rng, supply_v, 3 * led_v, 2 * led_v, led_v)


def first_round(rng, more, bench, line_v, sound):
    """Lines of the first round: a replacement adapter of the same label."""
    yield "# Round 1, the replacement adapter."
    yield from load_line(rng, bench, line_v)
    yield from on_the_strip(rng, bench, sound)
    scope_v = bench.scope.show(rng, sound.output_v.mean())
    yield f"V_scope: {float(scope_v.split()[0]) / 10:.2f} V  (probe 10x, menu 1x)"
    yield f"V_scope: {scope_v}"
    yield f"V_12_scope, V_zero_scope: {bench.scope.show(rng, 12.0, 0.0)}"
    yield f"V_12: {bench.volts.show(rng, 12.0)}"
    yield f"nodes on the adapter: {nodes(rng, bench, sound.output_v.mean())}"
    yield f"nodes at 12.00 V: {nodes(rng, bench, 12.0)}"
    yield f"R_read: {bench.ohms.show(rng, *[RESISTOR_OHM + LEADS_OHM] * 3)}"
    creeping = [WATER_OHM / 1000 * (1 + 0.02 * i) for i in range(6)]
    yield f"R_water: {bench.kilohms.show(rng, *creeping)}"
    yield from heat(rng, bench, sound.resistor_w)
    at_12_w = RESISTOR_OHM * ((12.0 - KNEES_V) / SEGMENT_OHM) ** 2
    yield f"T_12_cold: {bench.probe.show(more, AMBIENT_C)}"
    yield f"T_30, infrared: {infrared(more, warming(sound.resistor_w)[-1])}"
    yield f"T_12: {bench.probe.show(rng, AMBIENT_C + HEAT_K_PER_W * at_12_w)}"
    yield f"T_hood: {bench.probe.show(rng, HOOD_C)}"
    yield "# Soak of 48 h, in the order of the segments 1 to 4:"
    for name, amps in (("15 V", sound.segment_a.mean()), ("12.0 V", 20e-3)):
        words = " ".join("d" if hit else "s" for hit in dimmed(rng, amps))
        yield f"soak, {name}: {words}"


def second_round(rng, bench, failed, helped):
    """Lines of the second round: the reporter's own adapter."""
    yield "# Round 2, the reporter's own adapter."
    yield from on_the_strip(rng, bench, failed)
    open_v = HALF_WAVE_FACTOR * (PEAK_V - DIODES_V)
    yield f"V_penny_open: {bench.penny.show(rng, open_v)}  (nothing connected)"
    yield from heat(rng, bench, failed.resistor_w)
    yield "# The same with 1000 uF added outside."
    yield f"V_strip_helped: {bench.volts.show(rng, *[helped.output_v.mean()] * 3)}"
    yield f"V_ac_helped: {bench.ac.show(rng, *[helped.average_responding_v] * 3)}"


def main(step_s=STEP_S):
    """Print both rounds as text to type into the notebook."""
    rng = np.random.default_rng(SEED)
    # A stream of its own for what was added later, so that nothing else moved.
    more = np.random.default_rng([SEED, 1])
    line_v, sound, failed, helped = adapters(step_s)
    bench = equip(rng)
    for lines in (
        first_round(rng, more, bench, line_v, sound),
        second_round(rng, bench, failed, helped),
    ):
        print(INVENTED, *lines, sep="\n", end="\n\n")


if __name__ == "__main__":
    main()
