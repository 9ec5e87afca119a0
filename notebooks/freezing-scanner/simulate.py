"""Invented readings for the worked case "Freezing scanner": all of it is simulated.

A hand scanner of a fish hall goes blank until its battery is pulled. No such scanner,
meter or hall exists; this script states a circuit, solves it node by node, looks at
the result through invented instruments and prints what a person would have typed.

The strip, six pads in a row, pitch 2.54 mm, gaps of 1.2 mm, pads 4 mm long::

    P1 CHG+  charging input behind a blocking FET: 2.1 nA come out; docked 5.08 V
    P2 GND   reference of everything
    P3 DET   1 k, then 100 k to 3.3 V; the cradle holds it down with 120 ohm
    P4 TX    not driven while asleep and at the wake instant, then 100 ohm to 3.3 V
    P5 RX    1 k, then 47 k to 3.3 V
    P6 SVC   1 k, then 47 k to 3.3 V; between the two the controller looks

- At the wake instant, and only then, the controller looks at P6. Below 1.42 V it
  starts its service loader: a blank screen until the battery is pulled.
- A liquid is an even film: each gap has R = L/(kappa w h). In hand the chain runs
  P6-P5-P4-P3-P2; the cradle grounds P3, which shortens it.
- Drops vary: thickness is log-normal, median 45 um, sigma 0.6. Salt that has dried
  conducts nothing at 55 % humidity; at 85 % it has drawn water: 2.6 to 4.9 kohm a gap.
- Direct current polarises a film: its ohms rise by 2.6 kohm with a time constant of
  40 s. At 1 kHz that is not seen.
- A discharge puts a pulse on the rail, log-normal, median 0.15 V for each kV; above
  2.3 V the scanner restarts by itself. It does not pull P6 down.
- The cell is an open-circuit voltage behind a resistance; below 3.0 V the scanner
  shuts down in order and starts again when asked.

The orders of the trials, and the sealed key of the coded drops, are those of the
plans in the case; `main` prints their outcomes only once the plans are written. The
random streams of the drops, of the films at 85 % and of the discharges were picked
among several, so that their counts make the story told here: they show how counts are
judged, not how often such a film would do it.
"""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from benchproof import open_case

SEED = 20_261_108
FOLDER = Path(__file__).parent
PADS = ("P1", "P2", "P3", "P4", "P5", "P6")

RAIL_V, THRESHOLD_V = 3.300, 1.42
PULL_UPS_OHM = {"P3": 100e3, "P5": 47e3, "P6": 47e3}
SERIES_OHM, DRIVER_OHM, HELD_DOWN_OHM = 1e3, 100.0, 120.0
RAIL_LOAD_OHM = 47e3  # between rail and ground with the pack out
BLOCKED_A, BLOCKED_OHM = 2.1e-9, 900e6
REVERSED_OHM = 4.9e6  # of the blocking FET, black lead on P1
CRADLE_V, CRADLE_OHM = 5.08, 0.3
HIGH_OHM = 2e9  # of a pin that is not driven

GAP_M, PAD_M, BRINE_S_PER_M, TAP_S_PER_M = 1.2e-3, 4e-3, 3.8, 0.05
POLARISED_OHM, POLARISED_S = 2.6e3, 40.0
MEASURED_FILM_M = 48.7e-6
HUMID_OHM = (2.6e3, 4.9e3)

CELL_V, CELL_OHM, COLD_OHM, LOW_V, BURST_A = 3.61, 0.148, 0.300, 3.35, 1.35
SHUTDOWN_V, RESTART_V = 3.0, 2.3

INVENTED = "# Invented data: simulated, not measured on any real device."


def solved(links, fixed, injected):
    """Node voltages in V of resistances `links`: (node, node, ohm)."""
    free = sorted({n for a, b, _ in links for n in (a, b)} - set(fixed))
    place = {name: i for i, name in enumerate(free)}
    matrix, flows = np.zeros((len(free), len(free))), np.zeros(len(free))
    for name, ampere in injected.items():
        flows[place[name]] += ampere
    for first, second, ohm in links:
        for here, there in ((first, second), (second, first)):
            if here not in place:
                continue
            matrix[place[here], place[here]] += 1 / ohm
            if there in place:
                matrix[place[here], place[there]] -= 1 / ohm
            else:
                flows[place[here]] += fixed[there] / ohm
    return dict(fixed) | dict(zip(free, np.linalg.solve(matrix, flows), strict=True))


def strip_voltages(state, extra=()):
    """Voltages in V of pads and of the controller's input, with `extra` links.

    `state` holds "docked" or not, and "awake" or not ("asleep", "wake").
    """
    links = list(extra)
    for pad, ohm in PULL_UPS_OHM.items():
        links += [("rail", f"in {pad}", ohm), (f"in {pad}", pad, SERIES_OHM)]
    driven = "awake" in state
    links.append(("P4", "rail" if driven else "P2", DRIVER_OHM if driven else HIGH_OHM))
    fixed, injected = {"rail": RAIL_V, "P2": 0.0}, {}
    if "docked" in state:
        fixed["cradle"] = CRADLE_V
        links += [("P1", "cradle", CRADLE_OHM), ("P3", "P2", HELD_DOWN_OHM)]
    else:
        links.append(("P1", "P2", BLOCKED_OHM))
        injected["P1"] = BLOCKED_A
    return solved(links, fixed, injected)


def film(ohm):
    """Links of an even film over the whole strip, `ohm` for each gap."""
    return [(a, b, ohm) for a, b in zip(PADS, PADS[1:], strict=False)]


def film_ohm(thickness_m, conductivity=BRINE_S_PER_M):
    """Resistance of the film in one gap, in ohm."""
    return GAP_M / (conductivity * PAD_M * thickness_m)


def freezes(state, extra=()):
    """Whether the scanner goes blank: P6 is low at the instant it wakes."""
    return bool(state.startswith("wake") and _input_v(state, extra) < THRESHOLD_V)


def _input_v(state, extra):
    return strip_voltages(state, extra)["in P6"]


def critical_ohm(state, threshold_v=THRESHOLD_V):
    """Film of one gap, in ohm, that takes the input just to the threshold."""
    low, high = 10.0, 1e6
    while high / low > 1 + 1e-9:
        middle = (low * high) ** 0.5
        below = _input_v(state, film(middle)) < threshold_v
        low, high = (middle, high) if below else (low, middle)
    return low


def outcome_of_bridge(pair, state, ohm):
    """Return what one resistor across a pair of pads does, in the plan's words."""
    if freezes(state, [(*pair, ohm)]):
        return "frozen"
    det_v = strip_voltages(state, [(*pair, ohm)])["in P3"]
    return "icon" if "hand" in state and det_v < THRESHOLD_V else "normal"


def unpowered_ohm(red, black):
    """Resistance between two pads with the pack out, in ohm; infinite if open."""
    if red == "P1":
        return np.inf  # the FET blocks with the red lead on P1
    if "P4" in (red, black):
        return np.inf
    arms = {pad: ohm + SERIES_OHM for pad, ohm in PULL_UPS_OHM.items()}
    arms["P2"] = RAIL_LOAD_OHM
    if black == "P1":
        return REVERSED_OHM + (0.0 if red == "P2" else arms[red] + arms["P2"])
    return arms[red] + arms[black]


@dataclass(frozen=True)
class Range:
    """One range: top and digit in its unit, fixed errors inside the accuracy line."""

    top: float
    digit: float
    unit: str
    scale: float
    gain_error: float
    offset: float


class Meter:
    """A function of an instrument, with one range after the other."""

    def __init__(self, rng, ranges, gain, digits):
        self.rng = rng
        self.ranges = [
            Range(
                top, digit, unit, scale,
                rng.uniform(-gain, gain), digit * rng.uniform(-digits, digits),
            )
            for top, digit, unit, scale in ranges
        ]  # fmt: skip

    def shown(self, true, repeats=1, top=None):
        """Texts as displayed and the unit; the smallest range that holds the value."""
        for r in self.ranges:
            wanted = top is None or top == r.top
            if wanted and abs(true) / r.scale <= r.top * 0.995:
                seen = true / r.scale * (1 + r.gain_error) + r.offset
                noise = self.rng.normal(0.0, 0.4 * r.digit, repeats)
                places = max(0, round(-np.log10(r.digit)))
                return [f"{x + 0.0:.{places}f}" for x in seen + noise], r.unit
        return ["OL"] * repeats, self.ranges[-1].unit

    def text(self, true, repeats=1, top=None):
        """Return the readings with the unit once at the end."""
        texts, unit = self.shown(true, repeats, top)
        return f"{' '.join(texts)} {unit}"


@dataclass(frozen=True)
class Bench:
    """The instruments: handheld volts and ohms, scope (DC and AC rms), clamp."""

    volts: Meter
    ohms: Meter
    scope: Meter
    scope_ac: Meter
    clamp: Meter


def bench_of(rng):
    """Draw the fixed errors of every instrument from its accuracy line."""
    ohm_ranges = [
        (600.0, 0.1, "ohm", 1.0), (6.0, 0.001, "kohm", 1e3), (60.0, 0.01, "kohm", 1e3),
        (600.0, 0.1, "kohm", 1e3), (6.0, 0.001, "Mohm", 1e6), (60.0, 0.01, "Mohm", 1e6),
    ]  # fmt: skip
    return Bench(
        Meter(rng, [(6.0, 0.001, "V", 1.0), (60.0, 0.01, "V", 1.0)], 0.004, 2),
        Meter(rng, ohm_ranges, 0.006, 3),
        # 3 % of full screen, taken by an offset and, as much again, by the noise
        Meter(rng, [(4.0, 0.01, "V", 1.0)], 0.015, 2),
        Meter(rng, [(100.0, 0.1, "mV", 1e-3), (400.0, 1.0, "mV", 1e-3)], 0.012, 2),
        Meter(rng, [(60.0, 0.01, "A", 1.0)], 0.015, 1),
    )


def survey(bench):
    """Lines of the contact survey: three powered states, then the pack out."""
    load = 10e6
    for state in ("asleep", "awake", "docked"):
        cells = []
        for pad in PADS:
            if pad == "P2":
                continue
            # The docked scanner is awake: TX is driven.
            real = "awake docked" if state == "docked" else state
            volts = strip_voltages(real, [(pad, "P2", load)])[pad]
            repeats = 5 if (pad, state) == ("P6", "asleep") else 1
            cells.append("/".join(bench.volts.shown(volts, repeats)[0]))
            if repeats > 1:
                slip = f"{float(cells[-1].split('/')[1]) / 10:.4f}"
        yield f"V {state} (P1 P3 P4 P5 P6): {' '.join(cells)} V"
    yield f"  (the second P6, asleep, was first typed as {slip})"
    for i, red in enumerate(PADS):
        for black in PADS[i + 1 :]:
            forth, back = (
                bench.ohms.text(unpowered_ohm(*pair))
                for pair in ((red, black), (black, red))
            )
            yield f"R {red} to {black}: {forth}; leads swapped: {back}"
    fingers = bench.ohms.text(1.9e6)
    yield f"R P4 to P2 with fingers on the tips: {fingers}; then clipped: OL Mohm"


def films(rng, bench):
    """Lines of one brine film between P5 and P6, by direct and alternating current."""
    beside = unpowered_ohm("P5", "P6")
    true = film_ohm(MEASURED_FILM_M)
    both = 1 / (1 / true + 1 / beside)
    rising = [
        bench.ohms.shown(both + POLARISED_OHM * (1 - np.exp(-t / POLARISED_S)))[0][0]
        for t in range(5, 65, 10)
    ]
    yield f"R_dc, each 10 s: {' '.join(rising)} kohm"
    source_v, reference = 0.200, 1000.0 * (1 + rng.uniform(-0.001, 0.001))
    yield f"V_source: {bench.scope_ac.text(source_v)}"
    reference_v = source_v * reference / (reference + both)
    yield f"V_reference: {bench.scope_ac.text(reference_v)}"
    pad_v = (THRESHOLD_V * 48 - RAIL_V) / 47
    yield f"V_pad_threshold: {bench.volts.text(pad_v, 3)}"


def supplies(bench):
    """Lines of H1 (a bridged charging input) and H5 (the cell under its load)."""
    for name, pad in (("V_rail_bridged", "P4"), ("V_P1_bridged", "P1")):
        links = [("P1", "P2", 100.0), (pad, "P2", 10e6)]
        yield f"{name}: {bench.volts.text(strip_voltages('awake docked', links)[pad])}"
    yield f"I_burst: {bench.clamp.text(BURST_A)}"
    for name, open_v, ohm in (
        ("room", CELL_V, CELL_OHM),
        ("cold", CELL_V, COLD_OHM),
        ("cold_low", LOW_V, COLD_OHM),
    ):
        yield f"V_meter_{name}: {bench.volts.text(open_v)}"
        yield f"V_scope_{name}: {bench.scope.text(open_v)}"
        yield f"V_dip_{name}: {bench.scope.text(open_v - BURST_A * ohm)}"
    # An orderly shutdown looks at P6 when it starts again, like any wake.
    shuts = 10 * (LOW_V - BURST_A * COLD_OHM < SHUTDOWN_V)
    froze = shuts * freezes("wake in hand")
    yield f"froze_cold_low: {froze} of 10; shut down in order: {shuts} of 10"


def discharges(rng):
    """Lines of 40 discharges, 10 each of -4, -2, 2 and 4 kV."""
    size_kv = np.repeat([2.0, 4.0], 20)
    pulse_v = size_kv * rng.lognormal(np.log(0.15), 0.6, 40)
    restarts = int(np.sum(pulse_v > RESTART_V))
    yield f"froze_discharge: {restarts * freezes('wake in hand')} of 40"
    yield f"restarted_discharge: {restarts} of 40"


def letters(outcomes):
    """Return outcomes as a row to type: the first letter of each."""
    return "".join(word[0] for word in outcomes)


def read_condition(text):
    """Take ``joined=P1+P2; state=wake in hand`` apart."""
    return dict(part.split("=", 1) for part in text.split("; "))


def bridge_row(rng, places, ohm=1e3):
    """Return the outcomes of a plan of bridges, in the order of its places."""
    for place in places:
        said = read_condition(place)
        actual = float(said.get("ohm", ohm)) * (1 + rng.uniform(-0.01, 0.01))
        if "joined" in said:
            yield outcome_of_bridge(said["joined"].split("+"), said["state"], actual)
        else:
            yield "frozen" if freezes(said["state"]) else "normal"


def drop_row(rng, treatments):
    """Return what each coded drop does at a wake in hand."""
    kappa = {"brine": BRINE_S_PER_M, "tap": TAP_S_PER_M}
    for said in treatments:
        liquid = said.removeprefix("liquid=")
        thickness_m = 45e-6 * rng.lognormal(0.0, 0.6)
        wet = film(film_ohm(thickness_m, kappa[liquid])) if liquid in kappa else ()
        yield "frozen" if freezes("wake in hand", wet) else "normal"


def humid_films(rng):
    """Films of dried salt at 85 % humidity, in ohm, and what each does."""
    ohm = rng.uniform(*HUMID_OHM, 12)
    return ohm, [
        "frozen" if freezes("wake in hand", film(r)) else "normal" for r in ohm
    ]


def plan_lines(case, stream, name, row_of):
    """Line of the outcomes of a plan, or what to do first."""
    if name not in case.trials.names():
        return [f"{name}: write the plan first, then run this again"]
    outcomes = list(row_of(np.random.default_rng([SEED, stream]), case.trials[name]))
    return [f"{name}, in the planned order: {letters(outcomes)}"]


def bridges_of(rng, plan):
    """Return the outcomes of a plan of bridges."""
    return bridge_row(rng, plan.spec.places)


def drops_of(rng, plan):
    """Return the outcomes of the coded drops; the helper's key says which is which."""
    return drop_row(rng, helpers_key(plan.spec).treatments)


def helpers_key(spec):
    """Return the key as the helper drew it, here from the seed of this script."""
    from benchproof.keeping.trials.blinding import drawn_key

    salt = np.random.default_rng([SEED, 9]).bytes(16).hex()
    return drawn_key(spec, salt)


def first_round(case, rng, bench):
    """Lines of round 1."""
    yield "# Round 1."
    before, after = bench.ohms.text(0.2), bench.ohms.text(0.2)
    yield f"zero of the ohms, tips together: {before}, after: {after}"
    yield from survey(bench)
    yield from films(rng, bench)
    yield from supplies(bench)
    yield f"gap: {0.93 + rng.normal(0, 0.005):.2f} ± 0.04 mm (k=2)"
    yield from discharges(np.random.default_rng([SEED, 7]))
    yield from plan_lines(case, 1, "bridges", bridges_of)
    yield from plan_lines(case, 2, "charging", bridges_of)
    if "drops" in case.trials.names():
        yield f"drops, seal: {helpers_key(case.trials['drops'].spec).seal()}"
    yield from plan_lines(case, 14, "drops", drops_of)


def second_round(rng):
    """Lines of round 2: the salt has dried."""
    yield "# Round 2. Dried brine, 24 h at 55 % and then at 85 % relative humidity."
    dry = sum(freezes("wake in hand") for _ in range(12))  # no film at all
    yield f"R_crust_55: OL Mohm; froze_crust_55: {dry} of 12"
    ohm, outcomes = humid_films(np.random.default_rng([SEED, 6]))
    shown = [f"{r * (1 + rng.normal(0, 0.025)) / 1e3:.2f}" for r in ohm]
    yield f"films at 85 %, kohm, u 2.5 %: {' '.join(shown)}"
    yield f"outcomes: {letters(outcomes)} ({outcomes.count('frozen')} of 12 frozen)"


def third_round(case):
    """Lines of round 3: waking while docked."""
    yield "# Round 3. Waking on the cradle."
    yield from plan_lines(case, 5, "docked", bridges_of)


def main(folder=FOLDER):
    """Print all rounds as text to type into the notebook."""
    rng = np.random.default_rng(SEED)
    case, bench = open_case(folder), bench_of(rng)
    rounds = (first_round(case, rng, bench), second_round(rng), third_round(case))
    for lines in rounds:
        print(INVENTED, *lines, sep="\n", end="\n\n")


if __name__ == "__main__":
    main()
