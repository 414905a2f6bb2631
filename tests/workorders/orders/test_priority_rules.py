"""Which order comes first."""

from datetime import UTC, datetime
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workorders.orders.rules import (
    HAZARD_FLOORS,
    ConsequenceArea,
    Hazard,
    Priority,
    PriorityClass,
    PriorityTable,
    consequence_of,
    cost_of_delay,
    likelihood_of,
    prioritise,
    rank_key,
)

TABLE = PriorityTable()
FOUND_AT = datetime(2025, 6, 2, 6, 30, tzinfo=UTC)
STEPS = st.integers(1, 5)
MONEY = st.none() | st.decimals(0, 100_000, places=2)


def codes(priority: Priority) -> list[str]:
    return [reason.code for reason in priority.reasons]


class TestFourOrders:
    """Four orders of one morning: an air leak, a gearbox bearing, a gas flange, a hard-to-reach leak."""

    AIR = prioritise(TABLE, consequence=2, likelihood=4, cost_of_delay_per_day=Decimal("9.50"))
    BEARING = prioritise(
        TABLE,
        consequence=4,
        likelihood=3,
        cost_of_delay_per_day=cost_of_delay(
            failure_probability_per_day=Decimal("0.004"), failure_cost=Decimal(18000)
        ),
    )
    FLANGE = prioritise(
        TABLE,
        consequence=2,
        likelihood=2,
        hazard=Hazard.FUEL_GAS,
        cost_of_delay_per_day=Decimal("1.20"),
    )
    REACH = prioritise(TABLE, consequence=2, likelihood=5, cost_of_delay_per_day=Decimal(31))

    def test_classes(self) -> None:
        found = [item.priority for item in (self.AIR, self.BEARING, self.FLANGE, self.REACH)]

        assert found == ["P3", "P2", "P1", "P3"]

    def test_the_bearing_costs_72_a_day_and_is_lifted_by_it(self) -> None:
        assert self.BEARING.cost_of_delay_per_day == 72
        assert codes(self.BEARING) == ["matrix", "cost_of_delay"]

    @pytest.mark.parametrize(
        ("priority", "hours", "per_hour"),
        [(AIR, "0.5", "19.00"), (BEARING, "6", "12.00"), (REACH, "4", "7.75")],
    )
    def test_money_per_hour_of_work(self, priority: Priority, hours: str, per_hour: str) -> None:
        key = rank_key(priority, trade_hours=Decimal(hours), found_at=FOUND_AT)

        assert -key[2] == Decimal(per_hour)

    def test_order(self) -> None:
        hours = {
            "A": (self.AIR, "0.5"),
            "B": (self.BEARING, "6"),
            "C": (self.FLANGE, "2"),
            "D": (self.REACH, "4"),
        }
        keys = {
            name: rank_key(priority, trade_hours=Decimal(time), found_at=FOUND_AT)
            for name, (priority, time) in hours.items()
        }

        assert sorted(keys, key=lambda name: keys[name]) == ["C", "B", "A", "D"]


class TestMatrix:
    @pytest.mark.parametrize(
        ("consequence", "likelihood", "step"),
        [(3, 5, "P2"), (4, 4, "P2"), (2, 4, "P3"), (3, 4, "P3"), (1, 5, "P4"), (2, 3, "P4"), (5, 1, "P2")],
    )
    def test_gives_the_class(self, consequence: int, likelihood: int, step: str) -> None:
        assert prioritise(TABLE, consequence=consequence, likelihood=likelihood).priority == step

    @pytest.mark.parametrize("step", [0, 6, -1])
    def test_refuses_a_step_outside_the_scale(self, step: int) -> None:
        with pytest.raises(ValueError, match="1 to 5"):
            prioritise(TABLE, consequence=step, likelihood=3)


class TestCostOfDelay:
    def test_at_the_limit_lifts_nothing(self) -> None:
        at_limit = prioritise(TABLE, consequence=2, likelihood=4, cost_of_delay_per_day=Decimal(50))

        assert at_limit.priority == "P3"

    def test_is_none_when_nothing_is_known(self) -> None:
        assert cost_of_delay() is None

    def test_unknown_is_said(self) -> None:
        assert "cost_of_delay_unknown" in codes(prioritise(TABLE, consequence=2, likelihood=4))

    def test_refuses_half_a_failure(self) -> None:
        with pytest.raises(ValueError, match="probability"):
            cost_of_delay(loss_cost_per_day=Decimal(1), failure_cost=Decimal(18000))

    @given(STEPS, STEPS, st.decimals(0, 10**9, places=2))
    def test_never_lifts_into_p1(self, consequence: int, likelihood: int, cost: Decimal) -> None:
        lifted = prioritise(TABLE, consequence=consequence, likelihood=likelihood, cost_of_delay_per_day=cost)

        assert lifted.priority is not PriorityClass.P1


class TestHazard:
    @given(STEPS, STEPS, MONEY, st.sampled_from(Hazard))
    def test_never_falls_below_its_floor(
        self, consequence: int, likelihood: int, cost: Decimal | None, hazard: Hazard
    ) -> None:
        found = prioritise(
            TABLE,
            consequence=consequence,
            likelihood=likelihood,
            hazard=hazard,
            cost_of_delay_per_day=cost,
        )

        assert found.priority.rank <= HAZARD_FLOORS[hazard].rank

    def test_may_be_tightened_by_the_site(self) -> None:
        tight = PriorityTable(hazard_floors={**HAZARD_FLOORS, Hazard.STEAM: PriorityClass.P1})

        assert prioritise(tight, consequence=1, likelihood=1, hazard=Hazard.STEAM).priority == "P1"

    @pytest.mark.parametrize("hazard", [Hazard.FUEL_GAS, Hazard.OXYGEN, Hazard.DISCHARGE])
    def test_is_not_loosened_or_left_out(self, hazard: Hazard) -> None:
        rest = {name: step for name, step in HAZARD_FLOORS.items() if name != hazard}

        with pytest.raises(ValueError, match=hazard):
            PriorityTable(hazard_floors=rest)


class TestLikelihood:
    @pytest.mark.parametrize(
        ("severity", "growth", "confidence", "step"),
        [
            (3, None, None, 3),
            (3, 2.9, 0.9, 3),
            (3, 3.0, 0.9, 4),
            (3, 6.0, 0.9, 5),
            (5, 9.0, 0.9, 5),
            (5, None, 0.4, 4),
            (3, None, 0.4, 3),
            (2, None, 0.1, 2),
        ],
    )
    def test_follows_condition_growth_and_confidence(
        self, severity: int, growth: float | None, confidence: float | None, step: int
    ) -> None:
        found, _ = likelihood_of(
            TABLE, severity=severity, growth_db_per_30_days=growth, confidence=confidence
        )

        assert found == step

    def test_says_why(self) -> None:
        _, reasons = likelihood_of(TABLE, severity=4, growth_db_per_30_days=4.0, confidence=0.3)

        assert [reason.code for reason in reasons] == ["severity", "growth", "low_confidence"]


class TestConsequence:
    def test_is_the_worst_and_names_safety_before_money(self) -> None:
        step, reason = consequence_of({ConsequenceArea.COST: 4, ConsequenceArea.SAFETY: 4})

        assert (step, reason.text) == (4, "Consequence 4 of 5, from safety.")


class TestRankKey:
    def test_puts_unknown_money_last_in_its_class(self) -> None:
        known = prioritise(TABLE, consequence=2, likelihood=4, cost_of_delay_per_day=Decimal("0.01"))
        unknown = prioritise(TABLE, consequence=2, likelihood=4)

        assert rank_key(known, trade_hours=Decimal(4), found_at=FOUND_AT) < rank_key(
            unknown, trade_hours=Decimal(4), found_at=FOUND_AT
        )


@pytest.mark.parametrize(
    "numbers",
    [
        {"p2_from": 8, "p3_from": 8},
        {"p2_from": 26},
        {"cost_of_delay_limit_per_day": Decimal(0)},
        {"cost_of_delay_limit_per_day": Decimal(-1)},
        {"growth_db_per_30_days": 7.0},
    ],
)
def test_a_table_out_of_order_is_refused(numbers: dict[str, int]) -> None:
    with pytest.raises(ValueError, match="must"):
        PriorityTable(**numbers)  # type: ignore[arg-type]
