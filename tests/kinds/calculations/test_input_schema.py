"""The check of a calculation's input: every wrong place by its pointer, long lists at a glance."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from findings.kinds.calculations import schemas
from findings.kinds.calculations.input_schema import MOST_PROBLEMS_OF_A_LIST, check

NUMBERS = schemas.bounded({"type": "number", "minimum": 0, "exclusiveMinimum": 0, "maximum": 9}, 5000, "n")
GAPS = schemas.bounded({"type": ["number", "null"], "minimum": 0, "maximum": 9}, 5000, "n")
WORDS = schemas.bounded({"type": "string", "enum": ["one", "two"]}, 5000, "w")


class TestList:
    @pytest.mark.parametrize(
        ("schema", "data"),
        [(NUMBERS, [1, 2.5, 9]), (GAPS, [None, 0, 9.0]), (GAPS, [None]), (WORDS, ["two", "one"])],
    )
    def test_that_fits_has_no_problem(self, schema, data):
        assert check(data, schema) == ()

    @pytest.mark.parametrize(
        ("schema", "wrong"),
        [
            (NUMBERS, 0),
            (NUMBERS, 9.1),
            (NUMBERS, None),
            (NUMBERS, True),
            (NUMBERS, "1"),
            (NUMBERS, math.nan),
            (NUMBERS, math.inf),
            (NUMBERS, 10**400),
            (GAPS, -1),
            (WORDS, "three"),
            (WORDS, ["one"]),
            (WORDS, None),
        ],
    )
    def test_names_the_place_that_is_wrong(self, schema, wrong):
        fits = 1 if schema is not WORDS else "one"

        assert [problem.pointer for problem in check([fits, fits, wrong, fits], schema)] == ["/2"]

    def test_names_its_first_wrong_places_only(self):
        assert len(check([-1] * 5000, NUMBERS)) == MOST_PROBLEMS_OF_A_LIST

    @given(
        st.lists(st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=3), min_size=1)
    )
    def test_is_judged_as_its_items_are(self, data):
        each = [place for n, item in enumerate(data) for place in check(item, GAPS["items"], f"/{n}")]

        assert list(check(data, GAPS)) == each[:MOST_PROBLEMS_OF_A_LIST]
