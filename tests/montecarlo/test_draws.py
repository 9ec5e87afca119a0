"""Draws against the distributions they are to follow; memory and streams."""

import math

import numpy as np
import pytest
from scipy import stats

from benchproof.reasoning.montecarlo.draws import BLOCK, DrawMemory, Draws
from benchproof.values.sources import Joint, Source, half_width_source
from benchproof.values.units import unit_of

ONE = unit_of("")
BLOCKS = 10


def source(distribution, dof=math.inf, shape=0.0, name="x"):
    return Source(name, "B", distribution, 1.0, ONE, dof, shape=shape)


def drawn(one, blocks=BLOCKS, seed=5, memory=None):
    draws = Draws({one.name: one}, (), seed, memory or DrawMemory(0))
    scale = draws.scales[one.name]
    return scale * np.concatenate([draws.block(k)[one.name] for k in range(blocks)])


def curvilinear(shape):
    """Distribution function for u = 1, by averaging rectangles (JCGM 101, 6.4.3.2)."""
    limit = 1 / math.sqrt(1 / 3 + shape**2 / 9)
    nodes, weights = np.polynomial.legendre.leggauss(64)

    def cdf(x):
        half = limit * (1 + shape * nodes)
        inside = np.clip(np.asarray(x)[:, None] / half, -1, 1)
        return 0.5 + (inside * weights).sum(axis=1) / 4

    return cdf


def trapezoid(shape):
    half = math.sqrt(6 / (1 + shape**2))
    start, stop = (1 - shape) / 2, (1 + shape) / 2
    return stats.trapezoid(start, stop, -half, 2 * half).cdf


ROOT2, ROOT3, ROOT6 = math.sqrt(2), math.sqrt(3), math.sqrt(6)
SHAPES = [
    (source("normal"), stats.norm.cdf),
    (source("rectangular"), stats.uniform(-ROOT3, 2 * ROOT3).cdf),
    (source("triangular"), stats.triang(0.5, -ROOT6, 2 * ROOT6).cdf),
    (source("arcsine"), stats.arcsine(-ROOT2, 2 * ROOT2).cdf),
    (source("trapezoidal", shape=0.4), trapezoid(0.4)),
    (source("trapezoidal", shape=0.9), trapezoid(0.9)),
    (source("curvilinear trapezoid", shape=0.1), curvilinear(0.1)),
    (source("curvilinear trapezoid", shape=0.8), curvilinear(0.8)),
    (source("t", 1), stats.t(1).cdf),
    (source("t", 3), stats.t(3).cdf),
    (source("t", 4.5), stats.t(4.5).cdf),
    (source("t", 50), stats.t(50).cdf),
    (source("t", 1e6), stats.t(1e6).cdf),
    (source("t"), stats.norm.cdf),
]
NAMES = [f"{s.distribution} {s.degrees_of_freedom:g} {s.shape:g}" for s, _ in SHAPES]


@pytest.mark.parametrize(("one", "cdf"), SHAPES, ids=NAMES)
def test_draws_follow_their_distribution(one, cdf):
    # Kolmogorov-Smirnov on 2e5 draws; 14 tests at 1e-4: a false alarm in 700 seeds.
    # It sees a shift of the distribution function by 0.005.
    assert stats.kstest(drawn(one), cdf).pvalue > 1e-4


def test_the_test_sees_a_distribution_that_is_nearly_right():
    assert stats.kstest(drawn(source("t", 20)), stats.norm.cdf).pvalue < 1e-4
    assert stats.kstest(drawn(source("triangular")), stats.norm.cdf).pvalue < 1e-4


@pytest.mark.parametrize(("one", "cdf"), SHAPES[:8], ids=NAMES[:8])
def test_draws_have_the_stated_u(one, cdf):
    values = drawn(one)
    scatter = math.sqrt((np.mean(values**4) - 1) / values.size) / 2
    assert values.std() == pytest.approx(1.0, abs=5 * scatter)
    assert values.mean() == pytest.approx(0.0, abs=5 / math.sqrt(values.size))


@pytest.mark.parametrize(("shape", "u"), [("rectangular", 2.3), ("triangular", 1.6)])
def test_limits_of_96_and_104_give_the_published_u(shape, u):
    # JCGM 100:2008, 4.4.5 and 4.4.6: from memory, recomputed (2.309, 1.633).
    one = half_width_source("temperature", 4.0, ONE, shape)
    values = 100 + one.standard_uncertainty * drawn(
        Source("temperature", "B", shape, 1.0, ONE)
    )
    assert values.std() == pytest.approx(u, abs=0.05)
    assert 96 <= values.min() < 96.1
    assert 103.9 < values.max() <= 104


def test_a_curvilinear_trapezoid_reaches_beyond_its_limits_by_their_inexactness():
    values = drawn(source("curvilinear trapezoid", shape=0.5))
    limit = 1 / math.sqrt(1 / 3 + 0.25 / 9)
    assert 1.45 * limit < values.max() <= 1.5 * limit


def test_the_tails_of_t_are_those_of_t():
    # Beyond 6: of 2e5 draws 927 are expected with 3 degrees of freedom.
    values = drawn(source("t", 3))
    expected = 2 * stats.t.sf(6, 3) * values.size
    assert np.count_nonzero(abs(values) > 6) == pytest.approx(
        expected, abs=4 * math.sqrt(expected)
    )


def test_streams_of_different_names_seeds_and_blocks_have_nothing_in_common():
    rows = [
        drawn(source("normal", name=name), 1, seed)
        for name in ("a", "b", "ab")
        for seed in (1, 2)
    ]
    ten = drawn(source("normal", name="a"), 10, 1).reshape(10, BLOCK)
    found = np.corrcoef([*rows, *ten[1:]])
    # 105 pairs, each with a standard deviation of 0.0071: 4.5 of those.
    assert abs(found - np.eye(len(found))).max() < 4.5 / math.sqrt(BLOCK)


def test_sources_observed_together_share_their_chi_square():
    joint = Joint(("a", "b"), ((1.0, 0.0), (0.0, 1.0)), 4)
    pair = {name: source("t", 4, name=name) for name in "ab"}
    draws = Draws(pair, (joint,), 1, DrawMemory(0))
    blocks = [draws.block(k) for k in range(BLOCKS)]
    a, b = (np.concatenate([block[name] for block in blocks]) for name in "ab")
    assert stats.kstest(a, stats.t(4).cdf).pvalue > 1e-4
    # Uncorrelated, but wide together: their difference is t as well.
    assert stats.kstest((a - b) / ROOT2, stats.t(4).cdf).pvalue > 1e-4
    assert stats.spearmanr(abs(a), abs(b)).statistic > 0.1


# Memory.


def run(memory, names, blocks=2, seed=1):
    sources = {n: source("normal", name=n) for n in names}
    draws = Draws(sources, (), seed, memory)
    return [draws.block(k) for k in range(blocks)]


def same(one, two):
    return all(
        np.array_equal(a[name], b[name])
        for a, b in zip(one, two, strict=True)
        for name in a
    )


def test_kept_draws_are_the_same_objects_and_drawn_again_the_same_numbers():
    memory = DrawMemory()
    first, second = run(memory, "ab"), run(memory, "ab")
    assert first[0]["a"] is second[0]["a"]
    memory.empty()
    third = run(memory, "ab")
    assert first[0]["a"] is not third[0]["a"]
    assert same(first, third)
    assert same(first, run(DrawMemory(0), "ab"))


def test_memory_stays_within_its_limit_and_a_full_one_changes_no_number():
    memory = DrawMemory(limit_bytes=12_000_000)
    names = [f"s{i}" for i in range(40)]
    first = run(memory, names, blocks=3)
    assert 0 < memory.held_bytes <= 12_000_000
    again = run(memory, names, blocks=3)
    assert memory.held_bytes <= 12_000_000
    assert same(first, again)
    assert first[0]["s0"] is again[0]["s0"]  # what came first was kept


def test_what_was_not_used_for_longest_goes_first():
    memory = DrawMemory(limit_bytes=24_000_000)  # two pieces of 65 rows
    old, newer = (run(memory, [name], blocks=65) for name in "ab")
    run(memory, "a", blocks=65)
    run(memory, "c", blocks=65)
    assert run(memory, "a", blocks=1)[0]["a"] is old[0]["a"]
    assert run(memory, "b", blocks=1)[0]["b"] is not newer[0]["b"]


def test_empty_memory_holds_nothing():
    memory = DrawMemory()
    run(memory, "a")
    assert memory.held_bytes > 0
    memory.empty()
    assert memory.held_bytes == 0


def test_another_distribution_degrees_of_freedom_or_shape_is_drawn_anew():
    memory = DrawMemory()
    kinds = [
        source("t", 4),
        source("t", 5),
        source("trapezoidal", shape=0.1),
        source("trapezoidal", shape=0.2),
        source("normal"),
    ]
    firsts = {float(drawn(kind, 1, memory=memory)[0]) for kind in kinds}
    assert len(firsts) == len(kinds)


def test_kept_draws_cannot_be_changed():
    row = run(DrawMemory(), "a")[0]["a"]
    with pytest.raises(ValueError, match="read-only"):
        row += 1
