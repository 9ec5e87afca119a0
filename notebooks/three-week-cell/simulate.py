"""Invented readings for the worked case "Three-week cell": all of it is simulated.

A soil-moisture beacon empties its coin cell in three weeks. No such beacon, cell or
meter exists; this script states what the beacon draws, solves the voltage it is left
with, looks at the result through invented instruments and prints what a person would
have typed.

The beacon::

    cell 3.02 V behind 14 ohm (new), 100 uF across the beacon
    asleep      3.1 uA
    sensing     4.5 mA for 25 ms, every 10 s
    a report    38 mA for 4.2 ms, then 11 mA for 18 ms
    gateway near: a report a minute; one in twelve has to be sent twice
    gateway away: 8 reports a minute, and a search at 11 mA of 1.9 s +- 0.1 s, even
    below 2.0 V it resets; above 2.2 V it starts: LED, 0.40 mA (+-4 %, even) for
    0.58 s, then a report

- An ammeter is its burden in series with the cell. Its display shows the mean of the
  last 0.4 s, when a person happens to look at it.
- The droop capacitor leaks nothing beside the 10 Mohm of the logger across it. The
  averaging capacitor, 4700 uF, leaks 0.4 uA; its ripple averages out.
- A finger on the board is 2.4 Mohm.
- Other people's beacons differ by 3 % (standard deviation) in what they draw with
  the gateway away. Firmware 2.0 searches in one minute of 17 and else only senses.

The beacon behind a burden is solved with steps of `STEP_S`, each an exact exponential
for a current that is constant over it; half that step moves what the ammeter shows by
less than 0.5 uA, and nothing else. The sealed key of the blind runs is that of the plan
in the case; `main` prints those runs only once the plan is written. Two random streams
were picked among several, so that the readings make the story told here: when somebody
looked at the meter (so that numbers and over-range both appear), and the beacons of
other people (so that they disagree). They show how such readings are judged, not how
often they come about.
"""

from pathlib import Path

import numpy as np

from benchproof import open_case

SEED = 20_261_121
LOOKED, OTHERS = 6, 2  # the two streams that were picked
FOLDER = Path(__file__).parent
STEP_S = 20e-6

CELL_V, CELL_OHM, FROST_V, FROST_OHM, BULK_F = 3.02, 14.0, 2.90, 41.0, 100e-6
RESET_V, START_V, START_A, START_S = 2.0, 2.2, 0.40e-3, 0.58
SLEEP_A, SENSE_A, SENSE_S, SENSE_EVERY_S = 3.1e-6, 4.5e-3, 25e-3, 10.0
TX_A, TX_S, RX_A, RX_S, REPORT_EVERY_S = 38e-3, 4.2e-3, 11e-3, 18e-3, 60.0
SEARCH_S, REPEATED = 1.9, 1 / 12
REPORT_C = TX_A * TX_S + RX_A * RX_S

SHUNT_OHM, DROOP_F, AVERAGING_F = 10.0, 1004e-6, 4680e-6
METER_OHM, FINGER_OHM, BARE_OHM, COATED_OHM = 10e6, 2.4e6, 2.2e3, 2e9
CAPACITY_MAH, EMPTY_V, EMPTY_OHM, EMPTY_MAH = 205.0, (2.71, 2.68), 98.0, (6.1, 5.7)

INVENTED = "# Invented data: simulated, not measured on any real device."


def mean_current(rng, minutes, *, near):
    """Mean current of the beacon over some minutes, in A."""
    reports = np.full(minutes, 1 if near else 8)
    search_s = np.zeros(minutes)
    if near:
        reports = reports + (rng.random(minutes) < REPEATED)
    else:
        search_s = SEARCH_S + rng.uniform(-0.1, 0.1, minutes)
    charge = reports.mean() * REPORT_C + search_s.mean() * RX_A
    return SLEEP_A + SENSE_A * SENSE_S / SENSE_EVERY_S + charge / REPORT_EVERY_S


def behind_burden(burden_ohm, duration_s, starts=(), step_s=STEP_S):
    """Solve a beacon that starts behind an ammeter.

    Parameters
    ----------
    burden_ohm, duration_s : float
    starts : sequence of float
        What each start draws, as a share of `START_A`; 1 where there are no more.
    step_s : float

    Returns
    -------
    volts, amps : array, shape (steps,)
        Across the beacon, and through the meter.
    """
    ohm = CELL_OHM + burden_ohm
    kept = np.exp(-step_s / (ohm * BULK_F))
    count = round(duration_s / step_s)
    volts, state, since_s, started = np.empty(count), "off", 0.0, 0
    now_v = CELL_V
    for i in range(count):
        if state != "off" and now_v < RESET_V:
            state = "off"
        elif state == "off" and now_v > START_V:
            state, since_s, started = "on", 0.0, started + 1
        load_a = 0.0
        if state == "on":
            share = starts[started - 1] if started <= len(starts) else 1.0
            load_a = load_of(since_s, share)
        goal_v = CELL_V - load_a * ohm
        now_v = goal_v + (now_v - goal_v) * kept
        volts[i] = now_v
        since_s += step_s
    return volts, (CELL_V - volts) / ohm


def load_of(since_s, share=1.0):
    """Return what a beacon draws, in A, some time after it started."""
    report_s = since_s - START_S
    if report_s < 0:
        return share * START_A
    if report_s < TX_S:
        return TX_A
    return RX_A if report_s < TX_S + RX_S else SLEEP_A


def looked_at(rng, step_s=STEP_S):
    """Means over 0.4 s of the current through 100 ohm, in A, about one a second."""
    starts = 1 + rng.uniform(-0.04, 0.04, 20)
    _, amps = behind_burden(100.0, 7.5, starts, step_s)
    ends_s = 1.0 + np.arange(6) + rng.uniform(0.0, 0.4, 6)
    means = [amps[round((e - 0.4) / step_s) : round(e / step_s)].mean() for e in ends_s]
    return np.array(means)


class Range:
    """One range: display digit, noise, full scale, and errors inside +-(gain + d)."""

    def __init__(self, rng, unit, digit, noise, gain, digits, full=np.inf):
        """Draw the fixed errors of this range from its accuracy line."""
        self.unit, self.digit, self.noise, self.full = unit, digit, noise, full
        self.rng, self.gain = rng, rng.uniform(-gain, gain)
        self.offset = digit * rng.uniform(-digits, digits)

    def text(self, *true_values):
        """Return readings as displayed, with the unit once at the end."""
        seen = np.array(true_values) * (1 + self.gain) + self.offset
        seen = seen + self.rng.normal(0.0, self.noise, len(seen))
        places = max(0, round(-np.log10(self.digit)))
        shown = [
            "OL" if x > self.full else f"{max(0.0, round(x, places)):.{places}f}"
            for x in seen
        ]
        return f"{' '.join(shown)} {self.unit}"


def first_round(rng, step_s):
    """Lines of round 1."""
    volts = Range(rng, "V", 0.001, 0.0004, 0.005, 3, 6.0)
    megohms = Range(rng, "Mohm", 0.01, 0.0, 0.02, 5, 60.0)
    kohms = Range(rng, "kohm", 0.001, 0.002, 0.008, 5)
    micro = Range(rng, "uA", 0.1, 0.05, 0.01, 3, 600.0)
    milli = Range(rng, "mA", 0.01, 0.0, 0.01, 1)
    ten = Range(rng, "A", 0.01, 0.0, 0.015, 0.4)
    charge = Range(rng, "mAh", 0.1, 0.1, 0.01, 2)
    esr = Range(rng, "ohm", 0.1, 0.05, 0.02, 1)
    yield "# Round 1."
    yield f"V_cell: {volts.text(CELL_V)}"
    yield f"R_tines: {megohms.text(COATED_OHM / 1e6)}"
    yield f"R_bare: {kohms.text(BARE_OHM / 1e3)}"
    seen = looked_at(np.random.default_rng([SEED, LOOKED]), step_s)
    yield f"I_asleep_meter: {micro.text(*1e6 * seen)}"
    mean_a = mean_current(rng, 1, near=True)
    yield f"I_asleep_mA: {milli.text(1e3 * mean_a)}; on 10 A: {ten.text(mean_a)}"
    yield f"Q_sister: {charge.text(CAPACITY_MAH)}"
    for number, volt, mah in zip((1, 2), EMPTY_V, EMPTY_MAH, strict=True):
        yield f"V_back_{number}: {volts.text(volt)}"
        yield f"Q_back_{number}: {charge.text(mah)}"
    new, cold, empty = (esr.text(x) for x in (CELL_OHM, FROST_OHM, EMPTY_OHM))
    yield f"ESR_new: {new}; ESR_frost: {cold}; ESR_back: {empty}"
    yield f"V_frost: {volts.text(FROST_V)}"


def second_round(rng, case):
    """Lines of round 2."""
    milli = Range(rng, "mV", 0.1, 0.03, 0.005, 3)
    small = Range(rng, "mV", 0.01, 0.03, 0.005, 3)
    scope = Range(rng, "mV", 0.1, 0.8, 0.03, 40)
    milliseconds = Range(rng, "ms", 0.01, 0.02, 0.0001, 0)
    seconds = Range(rng, "s", 0.01, 0.0, 0.0001, 0)
    farads = Range(rng, "mF", 0.001, 0.0005, 0.01, 2)
    droop = Range(rng, "mV", 0.1, 0.2, 0.001, 1)
    yield "# Round 2."
    yield f"V_step: {milli.text(250.0)}"
    yield f"V_step_scope: {scope.text(*[250.0] * 4)}; zero: {scope.text(*[0.0] * 4)}"
    for name, amps in (("tx", TX_A), ("rx", RX_A), ("sense", SENSE_A)):
        yield f"V_{name}_scope: {scope.text(*[1e3 * amps * SHUNT_OHM] * 4)}"
    for name, long_s in (("tx", TX_S), ("rx", RX_S), ("sense", SENSE_S)):
        yield f"t_{name}: {milliseconds.text(*[1e3 * long_s] * 3)}"
    searches = SEARCH_S + rng.uniform(-0.1, 0.1, 10)
    yield f"t_search: {seconds.text(*searches)}"
    for name, farad in (("C_droop", DROOP_F), ("C_avg", AVERAGING_F)):
        yield f"{name}: {farads.text(1e3 * farad)}"
    meter_a = CELL_V / METER_OHM
    for name, amps, times in (
        ("V_drop", SLEEP_A + meter_a, 6),
        ("V_drop, finger on the board", SLEEP_A + meter_a + CELL_V / FINGER_OHM, 1),
        ("V_drop_control", meter_a, 4),
    ):
        yield f"{name}: {droop.text(*[1e3 * amps * 9.0 / DROOP_F] * times)}"
    averaged = [mean_current(rng, 10, near=True) + 0.4e-6 for _ in range(3)]
    yield f"V_avg: {small.text(*[1e6 * a for a in averaged])}"
    yield f"V_avg_control: {small.text(0.4, 0.4, 0.4)}"
    yield from blind_runs(rng, case)


def helpers_key(spec):
    """Return the key as the helper drew it, here from the seed of this script."""
    from benchproof.keeping.trials.blinding import drawn_key

    salt = np.random.default_rng([SEED, 9]).bytes(16).hex()
    return drawn_key(spec, salt)


def blind_runs(rng, case):
    """Lines of the blind runs, ten minutes each, or what to do first."""
    if "blind" not in case.trials.names():
        yield "blind: write the plan first, then run this again"
        return
    key = helpers_key(case.trials["blind"].spec)
    logger = Range(rng, "uA", 0.1, 0.05, 0.01, 3)
    yield f"blind, seal: {key.seal()}"
    for number, said in enumerate(key.treatments, 1):
        mean_a = mean_current(rng, 10, near=said == "gateway=near")
        yield f"I_run_{number}: {logger.text(1e6 * mean_a)}"


def others(rng):
    """Lines of what other people found with the gateway away."""
    yield "# Round 3: other people's beacons, uA, U at k = 2."
    typical = 1e6 * (SLEEP_A + SENSE_A * SENSE_S / SENSE_EVERY_S)
    searching = 1e6 * (8 * REPORT_C + SEARCH_S * RX_A) / REPORT_EVERY_S
    for number, expanded in enumerate((9, 12, 15, 10), 1):
        unit = (typical + searching) * (1 + rng.normal(0.0, 0.03))
        shown = f"{rng.normal(unit, expanded / 2):.0f}"
        yield f"firmware 1.4, {number}: {shown}, U {expanded}"
    yield f"firmware 2.0: {rng.normal(typical + searching / 17, 1.5):.0f}, U 3"


def main(folder=FOLDER, step_s=STEP_S):
    """Print all rounds as text to type into the notebook."""
    case, stream = open_case(folder), np.random.default_rng
    rounds = (
        first_round(stream([SEED, 1]), step_s),
        second_round(stream([SEED, 2]), case),
        others(stream([SEED, OTHERS])),
    )
    for lines in rounds:
        print(INVENTED, *lines, sep="\n", end="\n\n")


if __name__ == "__main__":
    main()
