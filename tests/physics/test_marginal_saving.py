"""What a repaired leak saves on one machine and on a group."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from findings.physics.machine_group import Group
from findings.physics.marginal_saving import Machine, group_power_w, group_saving
from findings.physics.uncertainty import Uncertain

BASE = Machine("B", "load_unload", 0.1, 39_000.0, order=1)
TRIM = Machine("T", "variable_speed", 0.1, 40_000.0, order=2)
STRAIGHT = ["start_stop", "load_unload", "variable_displacement", "inlet_modulation", "none"]


def codes(saving):
    return {reason.code for reason in saving.reasons}


class TestOneMachine:
    @pytest.mark.parametrize(
        ("unloaded", "control", "money", "claim"),
        # Derived by hand: 75 kW, 720 m3/h, 60 % load, a leak of 30 m3/h, 6000 h at 0.15 per kWh.
        [
            (0.30, "load_unload", 1968.75, 3375.0),
            (0.70, "inlet_modulation", 843.75, 4125.0),
            (0.08, "variable_speed", 2587.5, 2962.5),
        ],
    )
    def test_saves_its_slope_and_not_its_mean(self, unloaded, control, money, claim):
        machine = Machine("M", control, 0.2, 75_000.0, unloaded_share=unloaded)

        saving = group_saving([machine], 0.12, Uncertain(30 / 3600))

        hours_price = 6000 * 0.15 / 1000
        assert saving.marginal_w * hours_price == pytest.approx(money, rel=1e-9)
        assert saving.proportional_w * hours_price == pytest.approx(claim, rel=1e-9)
        assert saving.average_w == pytest.approx(75_000 * 30 / 720)

    def test_that_blows_off_saves_nothing(self):
        saving = group_saving([Machine("M", "none", 0.2, 75_000.0)], 0.12, Uncertain(0.01, 0.002))

        assert (saving.marginal_w, saving.u_w, saving.high) == (0.0, 0.0, 0.0)
        assert saving.average_w > 0.0
        assert "control_saves_nothing" in codes(saving)

    @pytest.mark.parametrize("control", STRAIGHT)
    @settings(max_examples=30)
    @given(demand=st.floats(0.02, 0.2), part=st.floats(0.01, 0.9))
    def test_never_saves_more_than_the_full_load_value(self, control, demand, part):
        saving = group_saving([Machine("M", control, 0.2, 75_000.0)], demand, Uncertain(demand * part))

        assert 0.0 <= saving.marginal_w <= saving.average_w * (1 + 1e-9)
        assert "above_full_load_value" not in codes(saving)

    def test_says_when_a_cycling_machine_saves_more(self):
        saving = group_saving([Machine("M", "variable_speed", 0.1, 40_000.0)], 0.015, Uncertain(0.001))

        assert saving.marginal_w > saving.average_w
        assert "above_full_load_value" in codes(saving)

    def test_with_measured_points_uses_them(self):
        points = ((0.0, 0.1), (0.5, 0.7), (1.0, 1.0))
        machine = Machine("M", "load_unload", 0.1, 40_000.0, points=points)

        saving = group_saving([machine], 0.08, Uncertain(0.01))

        assert saving.marginal_w == pytest.approx(0.6 * 0.1 * 40_000)
        assert "measured_curve" in codes(saving)


class TestGroup:
    def test_answers_with_its_trim_machine_alone(self):
        saving = group_saving([TRIM, BASE], 0.15, Uncertain(0.005))

        assert saving.marginal_w == pytest.approx(0.88 * 0.05 * 40_000)
        assert (saving.trim, saving.step_w) == ("T", 0.0)
        assert "base_machines_save_nothing" in codes(saving)

    def test_saves_in_a_step_where_a_machine_can_stop(self):
        two = [BASE, Machine("C", "load_unload", 0.1, 40_000.0, order=2)]

        saving = group_saving(two, 0.102, Uncertain(0.004))

        assert saving.step_w == pytest.approx(0.25 * 40_000)
        assert saving.marginal_w == pytest.approx(0.75 * (0.02 * 40_000 + 0.02 * 39_000) + 10_000)
        assert saving.low <= saving.marginal_w - saving.step_w
        assert "step_by_stopping" in codes(saving)

    def test_of_base_machines_without_control_saves_nothing_before_one_can_stop(self):
        fixed = [Machine(key, "none", 0.1, 39_000.0, order=order) for order, key in enumerate("AB")]

        assert group_saving(fixed, 0.15, Uncertain(0.04)).marginal_w == 0.0
        assert group_saving(fixed, 0.15, Uncertain(0.06)).marginal_w == pytest.approx(39_000)

    @given(demand=st.floats(1e-6, 0.2), step=st.floats(1e-9, 1e-7))
    def test_has_power_without_jumps_but_where_a_machine_starts(self, demand, step):
        group = Group([BASE, TRIM])
        above = min(demand + step, 0.2)

        rise = group.power_w(above) - group.power_w(demand)

        assert rise <= 1.4 * 400_000 * step + 1e-6

    @given(demand=st.floats(0.001, 0.2))
    def test_puts_the_whole_demand_on_its_machines(self, demand):
        loads = group_power_w([BASE, TRIM], demand)

        assert math.fsum(load.flow_share * 0.1 for load in loads) == pytest.approx(demand)

    @settings(max_examples=50)
    @given(demand=st.floats(0.02, 0.2), first=st.floats(0.0005, 0.005), second=st.floats(0.0005, 0.005))
    def test_of_two_leaks_adds_up_when_taken_one_after_the_other(self, demand, first, second):
        together = group_saving([BASE, TRIM], demand, Uncertain(first + second), draws=10)
        one = group_saving([BASE, TRIM], demand, Uncertain(first), draws=10)
        other = group_saving([BASE, TRIM], demand - first, Uncertain(second), draws=10)

        assert together.marginal_w == pytest.approx(one.marginal_w + other.marginal_w, rel=1e-6, abs=1e-6)


class TestUncertainty:
    def test_is_first_order_inside_one_trim_range(self):
        saving = group_saving([BASE, TRIM], 0.15, Uncertain(0.005, 0.0005))

        own = 0.88 * 400_000 * 0.0005
        shared = 0.005 * 400_000 * 0.1 / math.sqrt(12)
        assert saving.u_w == pytest.approx(math.hypot(own, shared), rel=1e-6)
        assert saving.shared_u_w == pytest.approx(shared, rel=1e-6)

    def test_is_simulated_where_the_power_steps(self):
        two = [BASE, Machine("C", "load_unload", 0.1, 40_000.0, order=2)]

        saving = group_saving(two, 0.1055, Uncertain(0.005, 0.0005))

        assert "monte_carlo" in codes(saving)
        assert saving.low < saving.marginal_w < saving.high - 5_000

    def test_by_both_ways_agrees_where_the_power_is_straight(self):
        leak = Uncertain(0.02, 0.00399)
        machine = Machine("M", "load_unload", 0.2, 75_000.0)

        first_order = group_saving([machine], 0.12, leak)
        simulated = group_saving([machine], 0.12, leak._replace(u=0.00401))

        assert "monte_carlo" in codes(simulated) - codes(first_order)
        assert simulated.u_w == pytest.approx(first_order.u_w, rel=0.03)
        assert (simulated.low, simulated.high) == pytest.approx((first_order.low, first_order.high), rel=0.05)

    def test_is_the_same_for_the_same_seed(self):
        leak = Uncertain(0.01, 0.004)

        assert group_saving([TRIM], 0.05, leak, seed=3) == group_saving([TRIM], 0.05, leak, seed=3)


class TestRefusal:
    @pytest.mark.parametrize(
        ("machines", "demand", "leak", "code"),
        [
            ([], 0.1, 0.01, "no_machine"),
            ([BASE] * 31, 0.1, 0.01, "too_many_machines"),
            ([BASE], 0.11, 0.01, "demand_above_capacity"),
            ([BASE], 0.0, 0.01, "no_demand"),
            ([BASE], 0.05, 0.06, "leak_above_demand"),
            ([BASE], 0.05, 0.0, "no_leak"),
            ([BASE], math.nan, 0.01, "not_finite"),
            ([Machine("M", "by_hand", 0.1, 1.0)], 0.05, 0.01, "control_unknown"),
            ([Machine("M", "start_stop", 0.0, 1.0)], 0.05, 0.01, "rating_impossible"),
            (
                [Machine("M", "none", 0.1, 1e4, points=((0.6, 0.7), (1, 1)))],
                0.05,
                0.01,
                "outside_measured_points",
            ),
        ],
    )
    def test_has_no_figure_and_its_reason(self, machines, demand, leak, code):
        saving = group_saving(machines, demand, Uncertain(leak))

        assert saving.is_refused
        assert codes(saving) == {code}
        assert saving.estimate().is_refused

    def test_is_not_needed_for_a_whole_saving(self):
        estimate = group_saving([BASE, TRIM], 0.15, Uncertain(0.005, 0.001)).estimate()

        assert estimate.low <= estimate.value <= estimate.high
