"""Numbers as technicians type them."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from findings.intake.rules.numbers import DecimalMark, parse_number


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("0,5", "0.5"),
        ("0.5", "0.5"),
        ("1.234,5", "1234.5"),
        ("1,234.5", "1234.5"),
        ("1 234,5", "1234.5"),
        ("1\u202f234,5", "1234.5"),
        ("1'234.5", "1234.5"),
        ("1.234.567", "1234567"),
        ("−3,25", "-3.25"),
        ("1e3", "1000"),
        (" 42 ", "42"),
        (".5", "0.5"),
    ],
)
def test_an_unmistakable_number_is_read_without_doubt(text: str, value: str) -> None:
    number = parse_number(text)

    assert (number.value, number.doubt, number.error) == (Decimal(value), "", "")


@pytest.mark.parametrize("text", ["1,234", "12.345", "999,001"])
def test_one_sign_before_three_digits_is_doubted(text: str) -> None:
    assert "could also mean" in parse_number(text).doubt


@pytest.mark.parametrize(
    ("text", "mark", "value"),
    [
        ("1,234", DecimalMark.COMMA, "1.234"),
        ("1,234", DecimalMark.POINT, "1234"),
        ("1.234", DecimalMark.COMMA, "1234"),
        ("1.234", DecimalMark.POINT, "1.234"),
    ],
)
def test_a_declared_mark_settles_it(text: str, mark: DecimalMark, value: str) -> None:
    number = parse_number(text, mark)

    assert (number.value, number.doubt) == (Decimal(value), "")


@pytest.mark.parametrize(
    "text", ["", "abc", "1.2.3,4,5", "12,34,5", "--3", "1e99", "9" * 30, "NaN", "inf", "1_000", "٣٫٥x"]
)
def test_what_is_no_number_is_refused_in_words(text: str) -> None:
    number = parse_number(text)

    assert number.value is None
    assert number.error


def test_a_group_of_two_digits_is_no_thousands_mark() -> None:
    assert parse_number("12,34", DecimalMark.POINT).error


@given(st.decimals(min_value=-(10**9), max_value=10**9, places=3, allow_nan=False))
def test_either_mark_reads_back_what_it_wrote(value: Decimal) -> None:
    text = f"{value:f}"

    assert parse_number(text, DecimalMark.POINT).value == value
    assert parse_number(text.replace(".", ","), DecimalMark.COMMA).value == value


@given(st.text(max_size=30))
def test_no_text_breaks_it(text: str) -> None:
    number = parse_number(text)

    assert (number.value is None) == bool(number.error)
