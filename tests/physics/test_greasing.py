"""Greasings as the technician marked them."""

import math

import pytest

from findings.physics.greasing import Advice, GreaseStep, Mark, Outcome, greasing, portion_kg
from findings.physics.wear_baseline import Setting, WearReading, baseline

HAND = Setting("detector 3", "rod 100 mm", "held by hand")
CHARGE = 0.015
GOOD = baseline(
    [WearReading(level, HAND, 25.0) for level in (19.0, 21.0, 20.0, 19.5, 20.5, 20.0, 19.0, 21.0)],
    good_state_confirmed=True,
)


def step(mark, grams, level, **changes):
    return GreaseStep(mark, grams / 1000.0, WearReading(level, HAND, 25.0)._replace(**changes))


def done(after_db, *, grams=15.0, before_db=31.0, between=()):
    return (step(Mark.BEFORE, 0, before_db), *between, step(Mark.AFTER, grams, after_db))


def codes(result):
    return {reason.code for reason in result.reasons}


class TestGreasing:
    def test_brings_a_dry_bearing_back(self):
        result = greasing(done(20.5, grams=8.0), GOOD, CHARGE)

        assert (result.outcome, result.advice, result.change.value, result.left_kg) == (
            Outcome.BACK_AT_BASELINE,
            Advice.DONE,
            -10.5,
            pytest.approx(0.007),
        )

    @pytest.mark.parametrize(
        ("after", "outcome"), [(26.0, Outcome.LOWER), (30.0, Outcome.UNCHANGED), (35.0, Outcome.HIGHER)]
    )
    def test_that_does_not_help_points_to_damage(self, after, outcome):
        result = greasing(done(after), GOOD, CHARGE)

        assert (result.outcome, result.advice) == (outcome, Advice.INSPECT)
        assert "grease_did_not_help" in codes(result)

    def test_that_made_it_louder_points_to_damage_at_once(self):
        assert greasing(done(36.0, grams=5.0), GOOD, CHARGE).advice is Advice.INSPECT

    def test_that_was_marked_as_rising_takes_no_more_grease(self):
        between = [step(Mark.RISING, 5.0, 33.0)]

        assert greasing(done(30.0, grams=5.0, between=between), GOOD, CHARGE).advice is Advice.INSPECT

    def test_with_charge_left_is_for_a_person_to_decide(self):
        assert greasing(done(26.0, grams=5.0), GOOD, CHARGE).advice is Advice.ASK

    @pytest.mark.parametrize("base", [None, baseline([], good_state_confirmed=True)])
    def test_without_a_baseline_is_never_back(self, base):
        result = greasing(done(20.0), base, CHARGE)

        assert (result.outcome, result.advice) == (Outcome.LOWER, Advice.ASK)

    def test_of_a_slow_shaft_is_never_back(self):
        steps = (step(Mark.BEFORE, 0, 31.0, speed_hz=0.3), step(Mark.AFTER, 5, 20.0, speed_hz=0.3))
        slow = baseline(
            [WearReading(level, HAND, 0.3) for level in (19.0, 21.0, 20.0, 19.5, 20.5, 20.0)],
            good_state_confirmed=True,
        )

        assert greasing(steps, slow, CHARGE).outcome is Outcome.LOWER

    def test_that_overfills_is_said(self):
        assert "overfilled" in codes(greasing(done(20.0, grams=20.0), GOOD, CHARGE))

    def test_without_a_charge_is_said(self):
        assert "charge_unknown" in codes(greasing(done(20.0), GOOD, None))


class TestUnderWay:
    @pytest.mark.parametrize(
        ("steps", "advice"),
        [
            ([], Advice.ADD_A_PORTION),
            ([step(Mark.DURING, 5, 28.0)], Advice.ADD_A_PORTION),
            ([step(Mark.DURING, 5, 20.5)], Advice.STOP_AND_READ),
            ([step(Mark.RISING, 5, 28.0)], Advice.STOP_AND_READ),
            ([step(Mark.DURING, 5, 28.0), step(Mark.DURING, 15, 28.0)], Advice.STOP_AND_READ),
        ],
    )
    def test_says_whether_to_go_on(self, steps, advice):
        result = greasing([step(Mark.BEFORE, 0, 31.0), *steps], GOOD, CHARGE)

        assert (result.outcome, result.advice, result.change.value) == (Outcome.UNDER_WAY, advice, None)

    def test_adds_nothing_while_the_charge_is_unknown(self):
        assert greasing([step(Mark.BEFORE, 0, 31.0)], GOOD, None).advice is Advice.ASK

    def test_portions_are_a_third_to_a_half(self):
        assert portion_kg(0.03) == pytest.approx((0.01, 0.015))


class TestRefusals:
    @pytest.mark.parametrize(
        ("steps", "code"),
        [
            ([], "before_missing"),
            ([step(Mark.AFTER, 5, 20)], "before_missing"),
            ([*done(20.0), step(Mark.DURING, 20, 20)], "after_not_last"),
            ([*done(20.0), *done(20.0)], "before_missing"),
            (
                [step(Mark.BEFORE, 0, 31), step(Mark.DURING, 9, 30), step(Mark.AFTER, 5, 20)],
                "grease_decreases",
            ),
            ([step(Mark.BEFORE, 0, 31), step(Mark.AFTER, math.nan, 20)], "grease_decreases"),
            ([step(Mark.BEFORE, 3, 31), step(Mark.AFTER, 5, 20)], "grease_before"),
            (done(math.nan), "not_finite"),
            ([step(Mark.BEFORE, 0, 31), step(Mark.AFTER, 5, 20, speed_hz=20.0)], "settings_mixed"),
        ],
    )
    def test_of_records_out_of_order(self, steps, code):
        result = greasing(steps, GOOD, CHARGE)

        assert (result.outcome, result.change.value, result.grease_kg) == (Outcome.NOT_DETERMINED, None, None)
        assert code in codes(result)

    @pytest.mark.parametrize("charge", [0.0, -1.0, math.nan])
    def test_of_an_impossible_charge(self, charge):
        assert codes(greasing(done(20.0), GOOD, charge)) == {"charge_not_positive"}
