"""Least squares against certified data, statsmodels and numpy."""

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.datasets import longley

from findings.physics.least_squares import Singular, leverage, solve

# NIST Statistical Reference Datasets, Longley, certified values (from memory).
LONGLEY = (
    -3482258.63459582,
    15.0618722713733,
    -0.358191792925910e-01,
    -2.02022980381683,
    -1.03322686717359,
    -0.511041056535807e-01,
    1829.15146461355,
)
LONGLEY_RESIDUAL_SD = 304.854073561965


def longley_rows():
    data = longley.load_pandas()
    return [[1.0, *row] for row in data.exog.to_numpy().tolist()], data.endog.tolist()


def test_reproduces_the_certified_coefficients_of_longley():
    solution = solve(*longley_rows())

    assert solution.coefficients == pytest.approx(LONGLEY, rel=1e-9)


def test_reproduces_the_certified_scatter_of_longley():
    solution = solve(*longley_rows())

    assert (solution.residual_square / 9) ** 0.5 == pytest.approx(LONGLEY_RESIDUAL_SD, rel=1e-11)


def test_standard_errors_are_those_of_statsmodels():
    rows, values = longley_rows()
    solution = solve(rows, values)
    variance = solution.residual_square / 9

    errors = [(variance * sum(part * part for part in row)) ** 0.5 for row in solution.inverse_factor]

    assert errors == pytest.approx(sm.OLS(values, rows).fit().bse, rel=1e-7)


def test_leverages_are_the_diagonal_of_the_hat_matrix():
    rng = np.random.default_rng(1)
    rows = rng.normal(size=(9, 3))
    hat = rows @ np.linalg.inv(rows.T @ rows) @ rows.T

    solution = solve(rows.tolist(), [0.0] * 9)

    assert [leverage(solution.inverse_factor, row) for row in rows.tolist()] == pytest.approx(np.diag(hat))


@pytest.mark.parametrize(
    "rows",
    [[], [[]], [[1.0, 2.0]], [[1.0, 2.0], [2.0, 4.0], [3.0, 6.0]], [[0.0, 1.0], [0.0, 2.0]]],
    ids=["no rows", "no unknowns", "too few", "proportional", "an empty column"],
)
def test_says_that_rows_do_not_tell_the_unknowns_apart(rows):
    with pytest.raises(Singular):
        solve(rows, [1.0] * len(rows))


@given(
    st.lists(st.tuples(*[st.floats(-10, 10)] * 2), min_size=4, max_size=8, unique_by=lambda row: row[0]),
    st.data(),
)
def test_finds_the_same_as_numpy_where_the_rows_are_sound(pairs, data):
    rows = np.array([[1.0, *pair] for pair in pairs])
    values = data.draw(st.lists(st.floats(-10, 10), min_size=len(rows), max_size=len(rows)))
    if np.linalg.cond(rows) > 1e5:
        return

    solution = solve(rows.tolist(), values)

    expected = np.linalg.lstsq(rows, np.array(values), rcond=None)[0]
    assert solution.coefficients == pytest.approx(expected, rel=1e-8, abs=1e-8)
