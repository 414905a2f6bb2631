"""The lines behind a figure add up to it, whatever the amounts."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workorders.statements.rules import FIGURES, ShownLines, shown_lines

amounts = st.decimals(0, 10**9, allow_nan=False, places=12)


def shown(values: list[Decimal], figure: str = "accrued_cost") -> ShownLines:
    column = FIGURES[figure].column
    lines = [
        {"finding_id": str(number), "label": f"F-{number}", column: format(value, "f")}
        for number, value in enumerate(values)
    ]
    total = format(sum(values, Decimal(0)), "f")
    return shown_lines({"currency": "EUR", "lines": lines, "total": {column: total}}, figure)


@given(st.lists(amounts, max_size=60))
def test_lines_add_up(values: list[Decimal]) -> None:
    found = shown(values)

    assert sum((line.value for line in found.lines if line.value is not None), Decimal(0)) == found.total


@given(st.lists(amounts, min_size=1, max_size=60))
def test_no_line_is_off_by_a_cent(values: list[Decimal]) -> None:
    by_id = {line.finding_id: line.value for line in shown(values).lines}

    told = [(value, by_id.get(str(number), Decimal(0))) for number, value in enumerate(values)]
    assert all(line is not None and abs(line - value) < Decimal("0.01") for value, line in told)


@given(st.lists(amounts, max_size=60))
def test_the_largest_comes_first(values: list[Decimal]) -> None:
    exact = [values[int(line.finding_id)] for line in shown(values).lines]

    assert exact == sorted(exact, reverse=True)


def test_thirds_of_a_cent_are_not_lost() -> None:
    found = shown([Decimal("0.333333333333")] * 3)

    assert [line.value for line in found.lines] == [Decimal("0.34"), Decimal("0.33"), Decimal("0.33")]


def test_what_lacks_a_price_comes_first_and_has_no_value() -> None:
    lines = [
        {"finding_id": "1", "label": "F-1", "accrued": "5"},
        {"finding_id": "2", "label": "F-2", "accrued": None},
    ]

    found = shown_lines({"currency": "EUR", "lines": lines, "total": {"accrued": None}}, "accrued_cost")

    assert [(line.label, line.value) for line in found.lines] == [("F-2", None), ("F-1", Decimal("5.00"))]
    assert found.total is None


def test_a_figure_without_lines_is_unknown() -> None:
    with pytest.raises(KeyError):
        shown([], "profit")
