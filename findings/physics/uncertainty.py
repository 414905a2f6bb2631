"""Propagation of uncertainty after the Guide (JCGM 100) and its supplement 1 (JCGM 101)."""

import math
import random
from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache
from statistics import NormalDist
from typing import NamedTuple

DERIVATIVE_STEP = 1e-4
"""Part of the standard uncertainty by which an input is moved to find its sensitivity."""
COVERAGE_95 = NormalDist().inv_cdf(0.975)


class Uncertain(NamedTuple):
    """A value and its standard uncertainty in the same unit."""

    value: float
    u: float = 0.0

    @property
    def relative(self) -> float:
        """Return the standard uncertainty as a part of the value's size."""
        return self.u / abs(self.value)


class Interval(NamedTuple):
    """Bounds that hold the value with the stated coverage."""

    low: float
    high: float


class Propagation(NamedTuple):
    """A result, its combined standard uncertainty and what each input adds: c_i u_i with sign."""

    value: float
    u: float
    contributions: tuple[float, ...]


Correlation = Mapping[tuple[int, int], float]


def rectangular(half_width: float) -> float:
    """Return the standard uncertainty of a value anywhere within the half width (JCGM 100, 4.3.7)."""
    return half_width / math.sqrt(3.0)


def triangular(half_width: float) -> float:
    """Return the standard uncertainty of a triangular distribution (JCGM 100, 4.3.9)."""
    return half_width / math.sqrt(6.0)


def combine(contributions: Sequence[float], correlation: Correlation | None = None) -> float:
    """Return the combined standard uncertainty of signed contributions c_i u_i (JCGM 100, 5.1.2 and 5.2.2).

    ``correlation`` maps index pairs (i, j) with i < j to coefficients between -1 and 1, else ValueError.
    """
    variance = math.fsum(part * part for part in contributions)
    for (i, j), coefficient in (correlation or {}).items():
        if i >= j or not -1.0 <= coefficient <= 1.0:
            msg = "a correlation names i < j and lies between -1 and 1"
            raise ValueError(msg)
        variance += 2.0 * coefficient * contributions[i] * contributions[j]
    return math.sqrt(max(variance, 0.0))


def propagate(
    model: Callable[..., float], inputs: Sequence[Uncertain], correlation: Correlation | None = None
) -> Propagation:
    """Return the model's value and its first-order uncertainty, sensitivities by central difference.

    ``model`` takes the inputs' values in order. Valid while the model is nearly linear within the
    uncertainties; beyond about 20 % use ``monte_carlo``. Source: JCGM 100, 5.1.3 note 2.
    """
    values = [item.value for item in inputs]
    contributions = []
    for index, item in enumerate(inputs):
        step = item.u * DERIVATIVE_STEP
        above, below = values.copy(), values.copy()
        above[index] += step
        below[index] -= step
        rise = (model(*above) - model(*below)) / (2.0 * DERIVATIVE_STEP) if step else 0.0
        contributions.append(rise)
    return Propagation(model(*values), combine(contributions, correlation), tuple(contributions))


def relative_of_powers(terms: Sequence[tuple[float, float]]) -> float:
    """Return the relative u of a product of powers from (exponent, relative u) (JCGM 100, 5.1.6)."""
    return math.sqrt(math.fsum((exponent * relative) ** 2 for exponent, relative in terms))


def effective_degrees_of_freedom(contributions: Sequence[float], degrees: Sequence[float]) -> float:
    """Return the Welch-Satterthwaite degrees of freedom (JCGM 100, G.4.1), infinite if unlimited."""
    spread = math.fsum(part**4 / nu for part, nu in zip(contributions, degrees, strict=True))
    return math.inf if spread == 0.0 else combine(contributions) ** 4 / spread


def _beta_fraction(a: float, b: float, x: float) -> float:
    """Return the continued fraction of the incomplete beta function (DLMF 8.17.22) by Lentz's method."""
    tiny = 1e-300
    c, d = 1.0, 1.0 / max(1.0 - (a + b) * x / (a + 1.0), tiny)
    result = d
    for m in range(1, 500):
        even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        for term in (even, odd):
            d = 1.0 / (1.0 + term * d or tiny)
            c = 1.0 + term / c or tiny
            result *= c * d
        if abs(c * d - 1.0) < 1e-15:
            break
    return result


def _beta_part(a: float, b: float, x: float) -> float:
    """Return the regularised incomplete beta function I_x(a, b), 0 <= x <= 1."""
    if x <= 0.0 or x >= 1.0:
        return min(max(x, 0.0), 1.0)
    log_front = math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x)
    if x < (a + 1.0) / (a + b + 2.0):
        return math.exp(log_front) * _beta_fraction(a, b, x) / a
    return 1.0 - math.exp(log_front) * _beta_fraction(b, a, 1.0 - x) / b


def outside_probability(ratio: float, degrees: float) -> float:
    """Return the probability that Student's t with ``degrees`` of freedom lies beyond -/+ ``ratio``.

    The two-sided p of a value divided by its standard uncertainty. Source: DLMF 8.17; JCGM 100, G.3.
    """
    return _beta_part(degrees / 2.0, 0.5, degrees / (degrees + ratio * ratio))


@lru_cache(maxsize=512)
def coverage_factor(degrees: float = math.inf, level: float = 0.95) -> float:
    """Return the factor k of the two-sided interval: Student's t, or the normal one from 1e6 degrees on.

    ``degrees`` is at least 1 and ``level`` lies between 0 and 1, else ValueError. Source: JCGM 100, G.3.
    """
    if not (degrees >= 1.0 and 0.0 < level < 1.0):
        msg = "degrees of freedom start at 1, a level lies between 0 and 1"
        raise ValueError(msg)
    if degrees >= 1e6:
        return NormalDist().inv_cdf(0.5 + level / 2.0)
    low, high = 0.0, 1e6
    for _ in range(200):
        middle = (low + high) / 2.0
        outside = outside_probability(middle, degrees)
        low, high = (middle, high) if outside > 1.0 - level else (low, middle)
    return (low + high) / 2.0


def interval(value: float, u: float, *, factor: float = COVERAGE_95, floor: float = -math.inf) -> Interval:
    """Return value -/+ factor u, its lower end not below the floor (a flow doesn't run backwards)."""
    return Interval(max(value - factor * u, min(floor, value)), value + factor * u)


def monte_carlo(
    draw: Callable[[random.Random], float], *, draws: int, seed: int, level: float = 0.95
) -> tuple[Uncertain, Interval]:
    """Return mean, standard deviation and the equal-tailed interval of repeated draws.

    The same seed gives the same answer. At least 1e5 draws for a page, 1e6 for a check. Source: JCGM 101, 7.
    """
    source = random.Random(seed)  # noqa: S311 - a repeatable simulation, not a secret
    results = sorted(draw(source) for _ in range(draws))
    mean = math.fsum(results) / draws
    spread = math.sqrt(math.fsum((result - mean) ** 2 for result in results) / (draws - 1))
    tail = (1.0 - level) / 2.0
    low, high = results[int(tail * draws)], results[min(int((1.0 - tail) * draws), draws - 1)]
    return Uncertain(mean, spread), Interval(low, high)
