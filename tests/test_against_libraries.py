"""Random models against two independent libraries, and against a plain simulation.

The libraries (extra `crosscheck`) propagate linearly by differentiation of their own;
the simulation draws with another generator, in one plain loop over arrays.
"""

import math
from dataclasses import dataclass

import numpy as np
import pytest

from benchproof.reasoning.budgets.budget import budget_of
from benchproof.reasoning.budgets.covariation import correlation_of
from benchproof.reasoning.budgets.formulas import Formula
from benchproof.reasoning.budgets.graph import Graph
from benchproof.reasoning.budgets.secondorder import second_order
from benchproof.reasoning.montecarlo.runs import monte_carlo_of
from benchproof.values.sources import Estimate, Joint, Source
from benchproof.values.units import unit_of

ONE = unit_of("")
MISSING = "install the extra `crosscheck` to compare with it"

# Each step takes the module of its functions first, so that one text serves the kit
# (numpy) and each library.
STEPS = {
    "sum": (lambda m, a, b: a + b, 2),
    "difference": (lambda m, a, b: a - b, 2),
    "product": (lambda m, a, b: a * b, 2),
    "ratio": (lambda m, a, b: a / b, 2),
    "root": (lambda m, a: m.sqrt(a), 1),
    "exponential": (lambda m, a: m.exp(a), 1),
    "sine": (lambda m, a: m.sin(a), 1),
}


def allowed(step, values):
    """Keep values within ±50 and well away from where a step has no derivative."""
    if step == "ratio" and abs(values[1]) < 0.2:
        return False
    if step == "root" and values[0] < 0.05:
        return False
    if step == "exponential" and abs(values[0]) > 3:
        return False
    return abs(STEPS[step][0](np, *values)) <= 50


@dataclass(frozen=True)
class Model:
    """Sources of unit slope or not, inputs that share them, steps that share all.

    `sources` has u and degrees of freedom; `inputs` a value and a slope for each
    source; `steps` a name, the step and its arguments; `r` correlates the first two
    sources.
    """

    sources: dict
    inputs: dict
    steps: list
    r: float = 0.0

    def graph(self, shapes=None):
        made = {
            n: Source(n, "B", (shapes or {}).get(n, "normal"), u, ONE, dof)
            for n, (u, dof) in self.sources.items()
        }
        inputs = {
            n: Estimate(value, tuple((made[s], c) for s, c in slopes.items()))
            for n, (value, slopes) in self.inputs.items()
        }
        formulas = {n: Formula(n, ONE, own(s), a) for n, s, a in self.steps}
        units = dict.fromkeys([*inputs, *formulas], ONE)
        pair = tuple(self.sources)[:2]
        joint = Joint(pair, ((1.0, self.r), (self.r, 1.0)))
        return Graph(inputs, units, formulas, (joint,) if self.r else ())

    def evaluate(self, module, errors):
        """Return every quantity from the sources' errors, in a library's numbers."""
        values = {
            n: value + sum(c * errors[s] for s, c in slopes.items())
            for n, (value, slopes) in self.inputs.items()
        }
        for name, step, arguments in self.steps:
            values[name] = STEPS[step][0](module, *(values[a] for a in arguments))
        return values


def own(step):
    """Bind a step to numpy, as a formula of a notebook is."""
    function = STEPS[step][0]
    return lambda *arguments: function(np, *arguments)


def model(seed, *, correlated=False, size=0.1):
    rng = np.random.default_rng(seed)
    names = [f"s{i}" for i in range(rng.integers(2, 6))]
    sources = {
        n: (float(rng.uniform(size / 50, size)), float(rng.integers(2, 40)))
        for n in names
    }
    inputs = {
        f"x{i}": (
            float(rng.uniform(0.5, 3)),
            {
                n: float(rng.uniform(-1, 1))
                for n in names
                if rng.random() < 0.7 or n == names[0]
            },
        )
        for i in range(rng.integers(2, 5))
    }
    values, steps = {n: value for n, (value, _) in inputs.items()}, []
    while len(steps) < rng.integers(3, 9):
        step = str(rng.choice(list(STEPS)))
        arguments = tuple(str(n) for n in rng.choice(list(values), size=STEPS[step][1]))
        if allowed(step, [values[n] for n in arguments]):
            name = f"y{len(steps)}"
            values[name] = float(STEPS[step][0](np, *(values[n] for n in arguments)))
            steps.append((name, step, arguments))
    r = float(rng.uniform(-0.95, 0.95)) if correlated else 0.0
    return Model(sources, inputs, steps, r)


SEEDS = range(60)


# All are exact but for rounding; where large parts cancel, a few digits are lost.
def close(expected):
    return pytest.approx(expected, rel=1e-9, abs=1e-11)


# A library of correlated normal variables.


def with_gvar(found):
    library = pytest.importorskip("gvar", reason=MISSING)
    u = np.array([u for u, _ in found.sources.values()])
    correlation = np.eye(u.size)
    correlation[0, 1] = correlation[1, 0] = found.r
    drawn = library.gvar(np.zeros(u.size), correlation * np.outer(u, u))
    errors = dict(zip(found.sources, drawn, strict=True))
    return library, errors, found.evaluate(library, errors)


@pytest.mark.parametrize("correlated", [False, True])
@pytest.mark.parametrize("seed", SEEDS)
def test_value_and_u_of_random_models_agree_with_gvar(seed, correlated):
    found = model(seed, correlated=correlated)
    _, _, library = with_gvar(found)
    graph = found.graph()
    for name, expected in library.items():
        budget = budget_of(graph, name)
        assert budget.value == close(expected.mean)
        assert budget.standard_uncertainty == close(expected.sdev)


@pytest.mark.parametrize("correlated", [False, True])
@pytest.mark.parametrize("seed", SEEDS)
def test_correlations_of_random_results_agree_with_gvar(seed, correlated):
    found = model(seed, correlated=correlated)
    library, _, values = with_gvar(found)
    graph = found.graph()
    for first, second in [(found.steps[0][0], found.steps[-1][0]), ("x0", "x1")]:
        both = [values[first], values[second]]
        if min(value.sdev for value in both) < 1e-9:
            continue  # a correlation with an exact number has no meaning
        expected = library.evalcorr(both)[0, 1]
        assert correlation_of(graph, first, second) == pytest.approx(expected, abs=1e-9)


# JCGM 100:2008, equation (G.2b), written out here with the library's derivatives.
@pytest.mark.parametrize("seed", SEEDS)
def test_effective_degrees_of_freedom_agree_with_gvars_derivatives(seed):
    found = model(seed)
    _, errors, values = with_gvar(found)
    graph = found.graph()
    for name, value in values.items():
        parts = [
            (value.deriv(errors[s]) * u, dof) for s, (u, dof) in found.sources.items()
        ]
        if value.sdev < 1e-9:
            continue  # what cancels leaves rounding noise, and nothing to count
        fourth = sum(part**4 / dof for part, dof in parts)
        expected = sum(part**2 for part, _ in parts) ** 2 / fourth
        assert budget_of(graph, name).degrees_of_freedom == close(expected)


# A library of moments with first and second derivatives. Errors are normal: central
# moments 0, u², then standardised 0, 3, 0, 15, 0, 105.


def with_soerp(found):
    library = pytest.importorskip("soerp", reason=MISSING)
    functions = pytest.importorskip("soerp.umath", reason=MISSING)
    errors = {
        n: library.uv([0, u**2, 0, 3, 0, 15, 0, 105])
        for n, (u, _) in found.sources.items()
    }
    return errors, found.evaluate(functions, errors)


@pytest.mark.parametrize("seed", SEEDS)
def test_value_and_u_of_random_models_agree_with_soerp(seed):
    found = model(seed)
    errors, library = with_soerp(found)
    graph = found.graph()
    u = [u for u, _ in found.sources.values()]
    for name, expected in library.items():
        slopes = expected.gradient(list(errors.values()))
        budget = budget_of(graph, name)
        assert budget.value == close(expected.x)
        assert budget.standard_uncertainty == close(math.hypot(*np.multiply(slopes, u)))


def quadratic(seed):
    """Products of sums and differences: polynomials of second degree."""
    rng = np.random.default_rng(seed)
    sources = {f"s{i}": (float(rng.uniform(0.05, 1)), 50.0) for i in range(3)}
    inputs = {
        f"x{i}": (float(rng.uniform(-1, 1)), {f"s{i}": 1.0, "s0": 0.5})
        for i in range(3)
    }
    left, right = rng.choice(["sum", "difference"], size=2)
    first, second = (
        tuple(str(n) for n in rng.choice(list(inputs), size=2, replace=False))
        for _ in range(2)
    )
    steps = [("a", left, first), ("b", right, second), ("y", "product", ("a", "b"))]
    return Model(sources, inputs, steps)


# For polynomials of second degree and normal sources both are exact.
@pytest.mark.parametrize("seed", range(30))
def test_the_second_order_of_quadratic_models_agrees_with_soerp(seed):
    found = quadratic(seed)
    _, library = with_soerp(found)
    graph = found.graph()
    second, expected = second_order(graph, "y"), library["y"]
    assert second.second == pytest.approx(math.sqrt(expected.var), rel=1e-8)
    assert graph.value("y") + second.value_shift == pytest.approx(
        expected.mean, rel=1e-8, abs=1e-9
    )


# A plain simulation: another generator, whole chunks, no control, no shared streams.

CHUNKS, CHUNK = 20, 50_000
SHAPES = ["normal", "rectangular", "triangular", "arcsine"]


def drawn_error(rng, shape, u):
    if shape == "normal":
        return u * rng.standard_normal(CHUNK)
    if shape == "rectangular":
        return rng.uniform(-u * math.sqrt(3), u * math.sqrt(3), CHUNK)
    if shape == "triangular":
        return rng.triangular(-u * math.sqrt(6), 0, u * math.sqrt(6), CHUNK)
    return u * math.sqrt(2) * np.sin(rng.uniform(-math.pi, math.pi, CHUNK))


def simulated(found, shapes, target, seed):
    """Return mean, u and both 95 % ends of every chunk, shape (chunks, 4)."""
    rng, rows = np.random.default_rng(seed), []
    first, second = list(found.sources)[:2]
    for _ in range(CHUNKS):
        errors = {
            n: drawn_error(rng, shapes[n], u) for n, (u, _) in found.sources.items()
        }
        if found.r:
            mixed = found.r * errors[first] / found.sources[first][0]
            mixed += math.sqrt(1 - found.r**2) * rng.standard_normal(CHUNK)
            errors[second] = found.sources[second][0] * mixed
        y = found.evaluate(np, errors)[target]
        rows.append([y.mean(), y.std(ddof=1), *np.quantile(y, [0.025, 0.975])])
    return np.array(rows)


def with_infinite_freedom(found):
    sources = {n: (u, math.inf) for n, (u, _) in found.sources.items()}
    return Model(sources, found.inputs, found.steps, found.r)


# Sources are up to 0.02 about values of 0.5 to 3, so that no draw leaves the domain of
# a root. Each figure of either side scatters by the standard deviation of the chunks'
# over √20, so that their difference scatters by √2 of that; six of those.
@pytest.mark.parametrize("correlated", [False, True])
@pytest.mark.parametrize("seed", [1, 4, 7, 12, 19])
def test_monte_carlo_agrees_with_a_plain_simulation(seed, correlated):
    found = with_infinite_freedom(model(seed, correlated=correlated, size=0.02))
    rng = np.random.default_rng(seed)
    shapes = {n: str(rng.choice(SHAPES)) for n in found.sources}
    if correlated:
        shapes |= dict.fromkeys(list(found.sources)[:2], "normal")
    target = found.steps[-1][0]
    rows = simulated(found, shapes, target, 1000 + seed)
    drawn = monte_carlo_of(found.graph(shapes), target, draws=CHUNKS * CHUNK)
    expected, scatter = rows.mean(axis=0), rows.std(axis=0, ddof=1)
    tolerance = 6 * math.sqrt(2) * scatter / math.sqrt(CHUNKS)
    figures = (drawn.value, drawn.standard_uncertainty, *drawn.symmetric)
    assert np.all(np.abs(np.array(figures) - expected) <= tolerance)
    # So it would see a change of two per cent of u.
    assert np.all(tolerance[:2] < 0.02 * drawn.standard_uncertainty)
