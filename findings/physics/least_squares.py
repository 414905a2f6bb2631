"""Linear least squares by Householder reflections, in plain Python, for a handful of unknowns.

The normal equations are never formed: they square the condition of the problem. On the Longley data they
lose four digits that the reflections keep.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

Row = Sequence[float]
Matrix = tuple[tuple[float, ...], ...]

SINGULAR = 1e-12
"""A column whose new part is smaller than this share of its length adds nothing."""


class Singular(ValueError):
    """Raised where the rows can't tell the unknowns apart."""


class Solution(NamedTuple):
    """A least-squares solution of p unknowns.

    ``inverse_factor`` is R⁻¹ (p x p, upper triangular), so that (X'X)⁻¹ = R⁻¹R⁻ᵀ; ``residual_square`` is the
    sum of the squared residuals.
    """

    coefficients: tuple[float, ...]
    inverse_factor: Matrix
    residual_square: float


def solve(rows: Sequence[Row], values: Row) -> Solution:
    """Return the coefficients b that minimise |values - rows b|², rows n x p with n >= p.

    Raises Singular where there are too few rows or they aren't independent. Source: Householder's method as
    in Golub and Van Loan, Matrix Computations, section 5.3 (from memory).
    """
    work = [[*map(float, row), float(value)] for row, value in zip(rows, values, strict=True)]
    count = len(work[0]) - 1 if work else 0
    if len(work) < count or not count:
        msg = "there are fewer rows than unknowns"
        raise Singular(msg)
    lengths = [math.hypot(*(row[column] for row in work)) for column in range(count)]
    for column in range(count):
        _reflect(work, column)
        if abs(work[column][column]) <= SINGULAR * lengths[column]:
            msg = "the rows don't tell the unknowns apart"
            raise Singular(msg)
    factor = _inverse(work, count)
    right = [row[count] for row in work]
    coefficients = tuple(math.fsum(map(float.__mul__, factor[i], right)) for i in range(count))
    return Solution(coefficients, factor, math.fsum(value * value for value in right[count:]))


def _reflect(work: list[list[float]], column: int) -> None:
    """Clear a column below its diagonal in place, by one reflection of the rows from there on."""
    below = work[column:]
    length = math.hypot(*(row[column] for row in below))
    if length == 0.0:
        return
    mirror = [row[column] for row in below]
    mirror[0] += math.copysign(length, mirror[0])
    half = math.fsum(part * part for part in mirror) / 2.0
    for other in range(column, len(work[0])):
        share = math.fsum(part * row[other] for part, row in zip(mirror, below, strict=True)) / half
        for part, row in zip(mirror, below, strict=True):
            row[other] -= share * part


def _inverse(work: list[list[float]], count: int) -> Matrix:
    """Return the inverse of the upper triangle that stands in the first rows."""
    inverse = [[0.0] * count for _ in range(count)]
    for column in range(count):
        inverse[column][column] = 1.0 / work[column][column]
        for row in range(column - 1, -1, -1):
            later = math.fsum(work[row][k] * inverse[k][column] for k in range(row + 1, column + 1))
            inverse[row][column] = -later / work[row][row]
    return tuple(map(tuple, inverse))


def half_leverage(inverse_factor: Matrix, row: Row) -> tuple[float, ...]:
    """Return R⁻ᵀ x, whose squared length is the leverage of the row x."""
    return tuple(
        math.fsum(inverse_factor[i][column] * row[i] for i in range(column + 1))
        for column in range(len(inverse_factor))
    )


def leverage(inverse_factor: Matrix, row: Row) -> float:
    """Return x'(X'X)⁻¹x: how little the rows of the fit say at the row x."""
    return math.fsum(part * part for part in half_leverage(inverse_factor, row))
