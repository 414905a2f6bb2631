"""A whole system's leak flow by machines' cycles and by a line through decays."""

import math
import random

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import given
from hypothesis import strategies as st

from findings.physics.reference_states import STATES
from findings.physics.uncertainty import Uncertain
from findings.physics.whole_system import (
    DecayStep,
    Machine,
    cycle_share,
    decay_line_flow,
    line_at,
    machines_flow,
)

ANY = st.floats(allow_nan=True, allow_infinity=True)
PSI, CFM, ATMOSPHERE_PA = 6894.757, 4.719474e-4, 101352.93
# NAVFAC MO-209, tables 5-3 and 5-4: mean pressure in psig against loss in scfm, and three of the decays in
# psig and minutes; the volume of 629 ft3 follows from them.
MEAN_PSIG, LOSS_SCFM = [85, 75, 65, 55, 45, 35, 25], [40, 34, 28, 21, 15, 9, 3]
DECAYS = [(90, 80, 10.70), (70, 60, 15.29), (40, 30, 47.55)]


def codes(estimate):
    return {reason.code for reason in estimate.reasons}


def decay_steps(rows):
    return [
        DecayStep(a * PSI + ATMOSPHERE_PA, b * PSI + ATMOSPHERE_PA, minutes * 60) for a, b, minutes in rows
    ]


def by_line(rows=DECAYS, *, psig=85, volume_u=0.0, temperature_k=293.15):
    return decay_line_flow(
        decay_steps(rows),
        Uncertain(17.8113, volume_u),
        psig * PSI + ATMOSPHERE_PA,
        temperature_k=temperature_k,
        atmosphere_pa=ATMOSPHERE_PA,
        state=STATES["us_68f"],
    )


class TestCycleShare:
    def test_is_the_time_on_load(self):
        # Open textbook fluid-power-systems, chapter 6, example 5: 30 s on, 10 s off is 75 %.
        assert cycle_share([30.0], [10.0], 0.0) == Uncertain(0.75, 0.0)

    def test_is_as_unsure_as_its_timing(self):
        # Computed: d(L/(L+U)) with 1 s on each of 30 s and 10 s.
        assert cycle_share([30.0], [10.0], 1.0).u == pytest.approx(math.hypot(10, 30) / 1600)

    def test_of_scattered_cycles_holds_the_truth(self):
        # Simulated: ten cycles of a share of 0.25, each time scattered by 15 %.
        source, held = random.Random(6), 0
        for _ in range(1000):
            on, off = ([source.gauss(mean, 0.15 * mean) for _ in range(10)] for mean in (30.0, 90.0))
            share = cycle_share(on, off, 0.0)
            held += abs(share.value - 0.25) <= 2.26 * share.u  # Student's factor for nine degrees
        assert held / 1000 == pytest.approx(0.95, abs=0.025)


class TestMachines:
    BASE = Machine([600.0] * 3, [0.0] * 3, Uncertain(0.1, 0.005))
    TRIM = Machine([30.0] * 3, [90.0] * 3, Uncertain(0.08, 0.004))

    def test_add_what_each_delivers(self):
        assert machines_flow([self.BASE, self.TRIM]).value == pytest.approx(0.1 + 0.02)

    def test_that_share_a_capacitys_error_add_it_straight(self):
        estimate = machines_flow([self.BASE, self.TRIM], time_u_s=0.0, shared_capacity_relative_u=0.05)

        assert estimate.u == pytest.approx(math.hypot(0.005, 0.001, 0.05 * 0.12))

    def test_say_when_cycles_are_few(self):
        assert codes(machines_flow([Machine([30.0], [90.0], Uncertain(0.08))])) == {"few_cycles"}

    @pytest.mark.parametrize(
        ("machine", "code"),
        [
            (Machine([30.0], [], Uncertain(0.08)), "cycles_incomplete"),
            (Machine([0.0], [0.0], Uncertain(0.08)), "cycles_incomplete"),
            (Machine([-1.0], [5.0], Uncertain(0.08)), "cycles_incomplete"),
            (Machine([math.nan], [5.0], Uncertain(0.08)), "cycles_incomplete"),
            (Machine([30.0], [90.0], Uncertain(0.0)), "capacity_not_positive"),
            (Machine([30.0], [90.0], Uncertain(0.08, -1.0)), "uncertainty_negative"),
        ],
    )
    def test_are_refused(self, machine, code):
        assert code in codes(machines_flow([self.BASE, machine]))

    def test_that_never_load_measure_nothing(self):
        assert codes(machines_flow([Machine([0.0] * 3, [60.0] * 3, Uncertain(0.08))])) == {"never_loaded"}

    @given(st.lists(st.tuples(st.lists(ANY, max_size=3), st.lists(ANY, max_size=3), ANY, ANY), max_size=3))
    def test_of_any_numbers_are_a_value_or_a_refusal(self, rows):
        machines = [Machine(on, off, Uncertain(value, u)) for on, off, value, u in rows]

        assert machines_flow(machines).is_refused or machines_flow(machines).value >= 0.0


class TestLine:
    def test_reads_the_published_loss(self):
        # NAVFAC MO-209: 47 scfm at 96 psig by its line with rounded coefficients.
        assert line_at(MEAN_PSIG, LOSS_SCFM, 96).value == pytest.approx(47, abs=0.5)

    @pytest.mark.parametrize("x", [25, 60, 96])
    def test_is_as_unsure_as_an_independent_fit_says(self, x):
        fit = sm.OLS(
            np.array(LOSS_SCFM, dtype=float), sm.add_constant(np.array(MEAN_PSIG, dtype=float))
        ).fit()
        judged = fit.get_prediction([1.0, x])

        assert line_at(MEAN_PSIG, LOSS_SCFM, x) == pytest.approx(
            (judged.predicted[0], judged.se[0]), rel=1e-9
        )


class TestDecayLine:
    def test_gives_the_published_loss_at_its_mean_pressure(self):
        # NAVFAC MO-209: 40 scfm at 85 psig; measured deviation 0.6 %.
        assert by_line().value / CFM == pytest.approx(40, rel=0.01)

    def test_gives_the_published_loss_at_working_pressure(self):
        # NAVFAC MO-209: 47 scfm at 96 psig, from all seven decays; three of them give it within 1 %.
        assert by_line(psig=96).value / CFM == pytest.approx(47, rel=0.01)

    def test_says_that_it_reads_beyond_the_decays(self):
        assert (codes(by_line(psig=96)), codes(by_line(psig=85))) == ({"read_beyond_tests"}, set())

    def test_carries_the_volumes_uncertainty(self):
        exact, unsure = by_line(), by_line(volume_u=1.78113)

        assert unsure.u == pytest.approx(math.hypot(exact.u, 0.1 * exact.value))

    def test_of_three_steps_has_students_interval(self):
        # Student's factor for one degree of freedom is 12.706 (JCGM 100, table G.2).
        estimate = by_line()

        assert (estimate.high - estimate.value) / estimate.u == pytest.approx(12.706, abs=1e-3)

    @pytest.mark.parametrize(
        ("rows", "changes", "code"),
        [
            (DECAYS[:2], {}, "too_few_steps"),
            ([(90, 80, 10.0)] * 3, {}, "one_pressure_only"),
            ([*DECAYS, (60, 70, 5.0)], {}, "no_pressure_fall"),
            ([*DECAYS, (60, 50, 0.0)], {}, "duration_out_of_range"),
            ([*DECAYS, (60, 50, math.nan)], {}, "not_finite"),
            (DECAYS, {"psig": 0}, "no_pressure_difference"),
            (DECAYS, {"psig": 10}, "no_loss_on_the_line"),
            (DECAYS, {"psig": 9000}, "pressure_out_of_range"),
            (DECAYS, {"temperature_k": 20.0}, "temperature_out_of_range"),
            (DECAYS, {"volume_u": -1.0}, "uncertainty_negative"),
        ],
    )
    def test_is_refused(self, rows, changes, code):
        assert code in codes(by_line(rows, **changes))

    @given(st.lists(st.tuples(ANY, ANY, ANY), max_size=5), ANY, ANY)
    def test_of_any_numbers_is_a_value_or_a_refusal(self, rows, working, u):
        estimate = by_line([*DECAYS, *rows], psig=working, volume_u=u)

        assert estimate.is_refused or estimate.value >= 0.0
