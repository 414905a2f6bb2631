"""The best choice under one or two limits."""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

from findings.planning.branch_and_bound import Thing, best_choice


def by_exhaustion(things, limits):
    best = 0
    for size in range(len(things) + 1):
        for chosen in combinations(things, size):
            taken = [sum(thing.takes[row] for thing in chosen) for row in range(len(limits))]
            if all(take <= limit for take, limit in zip(taken, limits, strict=True)):
                best = max(best, sum(thing.value for thing in chosen))
    return best


def by_milp(things, limits):
    rows = np.array([[thing.takes[row] for thing in things] for row in range(len(limits))])
    found = milp(
        [-thing.value for thing in things],
        constraints=LinearConstraint(rows, ub=limits),
        integrality=np.ones(len(things)),
        bounds=Bounds(0, 1),
        options={"mip_rel_gap": 0},
    )
    return round(-found.fun)


def drawn(seed, count, rows):
    source = np.random.default_rng(seed)
    things = [
        Thing(int(source.integers(1, 5000)), tuple(int(take) for take in source.integers(1, 1000, rows)))
        for _ in range(count)
    ]
    limits = [sum(thing.takes[row] for thing in things) // 4 for row in range(rows)]
    return things, limits


def check_feasible(choice, things, limits):
    for row, limit in enumerate(limits):
        assert sum(things[place].takes[row] for place in choice.chosen) <= limit
    assert sum(things[place].value for place in choice.chosen) == choice.value


class TestChoice:
    @pytest.mark.parametrize("rows", [1, 2])
    @settings(max_examples=80)
    @given(data=st.data())
    def test_is_the_best_of_all_sets(self, rows, data):
        things = data.draw(
            st.lists(
                st.builds(Thing, st.integers(1, 60), st.tuples(*[st.integers(0, 30)] * rows)), max_size=9
            )
        )
        limits = data.draw(st.tuples(*[st.integers(0, 90)] * rows))

        choice = best_choice(things, limits)

        check_feasible(choice, things, limits)
        assert (choice.value, choice.is_proven) == (by_exhaustion(things, limits), True)

    @pytest.mark.parametrize(("count", "rows"), [(60, 1), (300, 1), (500, 1), (40, 2), (120, 2), (300, 2)])
    def test_of_hundreds_agrees_with_a_mixed_integer_solver(self, count, rows):
        things, limits = drawn(count + rows, count, rows)

        choice = best_choice(things, limits, most_nodes=300_000)

        check_feasible(choice, things, limits)
        oracle = by_milp(things, limits)
        assert choice.value <= oracle <= choice.bound
        assert choice.value == oracle if choice.is_proven else choice.bound <= oracle * 1.002

    def test_that_is_not_proven_in_its_nodes_tells_a_true_bound(self):
        # Takes all even and an odd limit: the continuous bound never closes.
        things = [Thing(2 * k, (2 * k,)) for k in range(500, 540)]
        limits = [9999]

        choice = best_choice(things, limits, most_nodes=300)

        assert choice.nodes == 300
        assert not choice.is_proven
        assert choice.value <= 9998 <= choice.bound

    def test_takes_everything_that_fits(self):
        assert best_choice([Thing(3, (1,)), Thing(1, (0,))], [5]).chosen == {0, 1}

    def test_of_nothing_is_nothing(self):
        assert best_choice([], [5]).is_proven

    @pytest.mark.parametrize(
        ("things", "limits"),
        [
            ([Thing(0, (1,))], [5]),
            ([Thing(1, (-1,))], [5]),
            ([Thing(1, (1,))], [5, 5]),
            ([Thing(1, (1, 1, 1))], [5, 5, 5]),
            ([], [-1]),
        ],
    )
    def test_refuses_nonsense(self, things, limits):
        with pytest.raises(ValueError, match="limits"):
            best_choice(things, limits)
