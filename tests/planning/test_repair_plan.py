"""The best set of repairs for a budget."""

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from findings.planning.repair_plan import Budget, Candidate, PlanRefused, best_plan

D = Decimal
# Costs, budget and results derived by hand; the flows, 108 a year per m3/h, are chosen to give them.
FIVE = [
    Candidate("a", D(12 * 108), D(590)),
    Candidate("b", D(9 * 108), D(450)),
    Candidate("c", D(9 * 108), D(500)),
    Candidate("d", D(1 * 108), D(50), mandatory=True),
    Candidate("e", D(7 * 108), D(400)),
]
AMOUNTS = st.decimals(D("0"), D("900"), places=2)


def codes(plan):
    return [reason.code for reason in plan.reasons]


class TestPlan:
    def test_beats_taking_the_best_ratio_first(self):
        plan = best_plan(FIVE, Budget(D(1000)))

        assert (plan.chosen, plan.net, plan.cost) == (("b", "c", "d"), D(1052), D(1000))
        assert FIVE[0].net + FIVE[3].net == D(764)

    def test_does_what_safety_asks_even_beyond_the_budget(self):
        plan = best_plan(FIVE, Budget(D(20)))

        assert (plan.chosen, codes(plan)[0]) == (("d",), "mandatory_over_budget")
        assert "take 30 money more" in plan.reasons[0].text

    def test_spends_hours_too(self):
        repairs = [
            Candidate("x", D(100), D(1), D(8)),
            Candidate("y", D(60), D(1), D(4)),
            Candidate("z", D(60), D(1), D(4)),
        ]

        plan = best_plan(repairs, Budget(D(10), D(8)))

        assert (plan.chosen, plan.hours) == (("y", "z"), D(8))

    def test_leaves_out_what_does_not_pay(self):
        assert best_plan([Candidate("x", D(10), D("10.00"))], Budget()).chosen == ()

    def test_without_a_limit_takes_all_that_pays(self):
        assert best_plan(FIVE, Budget()).chosen == ("a", "b", "c", "d", "e")

    def test_says_that_savings_are_added(self):
        assert codes(best_plan(FIVE, Budget(D(1000)))) == ["savings_added"]

    def test_counts_cents(self):
        repairs = [Candidate("x", D("5.00"), D("1.01")), Candidate("y", D("4.99"), D("1.00"))]

        assert best_plan(repairs, Budget(D("1.009"))).chosen == ("y",)

    def test_that_is_not_proven_tells_its_gap(self):
        repairs = [Candidate(str(k), D(4 * k), D(2 * k)) for k in range(500, 540)]

        plan = best_plan(repairs, Budget(D(9999)), most_nodes=300)

        assert not plan.is_proven
        assert 0 < plan.gap < D("0.05")
        assert codes(plan)[0] == "not_proven"

    @settings(max_examples=60)
    @given(
        st.lists(st.tuples(AMOUNTS, AMOUNTS, AMOUNTS, st.booleans()), max_size=8),
        st.none() | AMOUNTS,
        st.none() | AMOUNTS,
        AMOUNTS,
    )
    def test_gains_no_less_with_more_money(self, rows, money, hours, more):
        repairs = [Candidate(str(place), *row) for place, row in enumerate(rows)]

        plan = best_plan(repairs, Budget(money, hours))
        richer = best_plan(repairs, Budget(None if money is None else money + more, hours))

        assert plan.is_proven
        assert plan.net <= richer.net
        kept = "mandatory_over_budget" in codes(plan)
        assert kept or money is None or plan.cost <= money
        assert kept or hours is None or plan.hours <= hours


class TestRefusal:
    @pytest.mark.parametrize(
        ("repairs", "budget", "code"),
        [
            ([FIVE[0]] * 2, Budget(), "key_twice"),
            ([Candidate("x", D("NaN"), D(1))], Budget(), "amount_impossible"),
            ([Candidate("x", D(1), D(-1))], Budget(), "amount_impossible"),
            ([], Budget(D(-1)), "amount_impossible"),
            ([Candidate("x", D("1e-13"), D(0))], Budget(), "too_fine"),
            ([Candidate(str(k), D(1), D(0)) for k in range(501)], Budget(), "too_many_candidates"),
        ],
    )
    def test_has_its_reason(self, repairs, budget, code):
        with pytest.raises(PlanRefused) as refusal:
            best_plan(repairs, budget)

        assert refusal.value.reason.code == code
