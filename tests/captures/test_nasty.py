"""Records as nobody wants them: each function answers, or says what to do."""

import numpy as np
import pytest
from captures.invented import SCOPE, in_codes, record

from benchproof import captures
from benchproof.values.errors import BenchproofError

RNG = np.random.default_rng(12)
SQUARE = np.tile(np.repeat([0.2, 5.0], [70, 30]), 6)
RECORDS = {
    "empty": record([]),
    "one sample": record([1.0]),
    "two samples": record([1.0, 2.0]),
    "three samples": record([9.0, 1.0, 9.0]),
    "constant": record(np.full(500, 5.0)),
    "one code": in_codes(np.full(400, 0.2)),
    "a gap": record(np.r_[SQUARE, np.nan, SQUARE]),
    "only gaps": record(np.full(50, np.nan)),
    "infinite": record(np.r_[SQUARE, np.inf, SQUARE]),
    "clipped at both rails": in_codes(20 * np.sin(np.arange(3000) / 50)),
    "one giant spike": record(np.r_[np.full(900, 5.0), 1e6, np.full(900, 5.0)]),
    "pulses of one sample": record(np.tile(np.r_[5.0, np.zeros(9)], 30)),
    "pulses of 10 %": record(np.tile(np.repeat([5.0, 0.0], [10, 90]), 30)),
    "noise alone": record(2.0 + 0.5 * RNG.standard_normal(3000), settings=SCOPE),
    "tiny": record(1e-300 * SQUARE),
    "huge": record(1e30 * SQUARE),
}


def of_levels(act):
    return lambda trace: act(trace, captures.levels_of(trace))


FUNCTIONS = {
    "amplitudes_of": captures.amplitudes_of,
    "polarity_of": captures.polarity_of,
    "levels_of": captures.levels_of,
    "pulses_of": captures.pulses_of,
    "transition_duration": of_levels(captures.transition_duration),
    "overshoot": of_levels(captures.overshoot),
    "settling_time": of_levels(lambda t, levels: captures.settling_time(t, levels)),
    "dips_of": lambda trace: captures.dips_of(trace, 3.0, 0.5),
    "swells_of": lambda trace: captures.swells_of(trace, 3.0, 0.5),
    "bursts_of": lambda trace: captures.bursts_of(trace, 1.0, 3.0),
    "decay_of": captures.decay_of,
    "tone_of": captures.tone_of,
    "first_edge": captures.first_edge,
    "noise_of": captures.noise_of,
    "noise_within": captures.noise_within,
}


@pytest.mark.parametrize("kind", RECORDS)
@pytest.mark.parametrize("name", FUNCTIONS)
def test_a_nasty_record_is_answered_or_refused_with_a_next_step(name, kind):
    try:
        found = FUNCTIONS[name](RECORDS[kind])
    except BenchproofError as problem:
        found, said = None, str(problem)
    if found is None:
        assert said.startswith("record")
        assert ". " in said
    for each in findings(found):
        assert np.isfinite(each.value) or each.cannot_tell
        assert np.isfinite(each.standard_uncertainty) or each.cannot_tell
        assert each.text


def findings(found):
    if isinstance(found, captures.Finding):
        yield found
    elif isinstance(found, dict):
        yield from found.values()
    elif hasattr(found, "dips"):
        yield from (found.count, found.total)
        for dip in found.dips:
            yield from (dip.start, dip.residual, dip.depth, dip.duration)


@pytest.mark.parametrize("seed", range(150))
def test_dips_in_any_short_record_are_found_without_a_fault(seed):
    rng = np.random.default_rng([14, seed])
    count = int(rng.integers(2, 60))
    v = np.round(np.cumsum(rng.normal(0, 1, count)), int(rng.integers(0, 3)))
    trace = in_codes(v, 0.25) if seed % 2 else record(v)
    found = captures.dips_of(trace, float(np.median(v)), float(rng.choice([0.1, 1, 3])))
    for each in findings(found):
        assert np.isfinite(each.value) or each.cannot_tell
    for dip in found.dips:
        assert dip.duration.value >= -4 * dip.duration.standard_uncertainty
