"""What a contact-probe reading says of a bearing: state, severity, order, next look and date."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta

import pytest

from findings.kinds.wear_condition import recomputed, wear_condition
from findings.kinds.wear_evidence import GoodSince, TakenLevel, at_rated_speed, select
from findings.physics.wear_baseline import Setting, WearReading
from findings.physics.wear_ladder import DEFAULT_LADDER, Step

BEGAN = datetime(2026, 1, 1, 8, tzinfo=UTC)
SETTING = Setting("detector 3", "rod 100 mm", "contact_probe")
GOOD_DB = (23.1, 24.0, 22.4, 23.6, 24.3, 23.0)
"""Mean 23.4 dB, sd 0.69 dB."""


def taken(day: float, level_db: float, *, quiet: bool = True, severity: int | None = None, **changed):
    """Describe a reading on a day at 24.5 turns per second."""
    level = WearReading(level_db, SETTING, 24.5, None)._replace(**changed)
    at = BEGAN + timedelta(days=day)
    return TakenLevel(reading_id=f"r{day:g}", taken_at=at, level=level, quiet=quiet, severity=severity)


def good(*more: TakenLevel) -> list[TakenLevel]:
    """Return six weekly readings of a good machine, and what came after."""
    return [*(taken(7 * week, level) for week, level in enumerate(GOOD_DB)), *more]


def found(judged: TakenLevel, history: list[TakenLevel] | None = None, **changed):
    """Judge a reading after six good ones."""
    given = {"ladder": DEFAULT_LADDER, "good_since": GoodSince(BEGAN)}
    return wear_condition(select(judged, good() if history is None else history, **{**given, **changed}))


def codes(condition) -> set[str]:
    return {reason.code for reason in condition.reasons}


class TestTheBaseline:
    def test_is_of_the_first_six_quiet_readings_so_that_a_rise_is_no_measure_of_itself(self):
        risen = [taken(50 + day, 30.0 + day) for day in range(4)]

        condition = found(taken(60, 40.0), good(*risen))

        assert condition.inputs["baseline_reading_ids"] == [f"r{7 * week}" for week in range(6)]
        assert condition.figures["baseline"]["mean_db"] == pytest.approx(23.4)

    def test_is_of_all_until_the_moment_that_somebody_set(self):
        since = GoodSince(BEGAN, BEGAN + timedelta(days=44))

        condition = found(taken(60, 24.0), good(taken(43, 23.5), taken(50, 23.5)), good_since=since)

        assert condition.figures["baseline"]["count"] == 7

    def test_begins_anew_with_a_new_bearing(self):
        since = GoodSince(BEGAN + timedelta(days=20))

        condition = found(taken(60, 24.0), good_since=since)

        assert condition.state == "not_determined"
        assert condition.figures["baseline"]["count"] == 3

    @pytest.mark.parametrize(
        "changed",
        [
            {"setting": SETTING._replace(instrument="detector 4")},
            {"setting": SETTING._replace(probe="rod 300 mm")},
            {"speed_hz": 30.0},
            {"load": 0.8},
        ],
    )
    def test_is_only_of_what_compares_with_the_reading(self, changed):
        condition = found(taken(60, 24.0, **changed))

        assert (condition.state, condition.order_due) == ("not_determined", None)
        assert condition.severity is None
        assert {"too_few_readings", "others_not_comparable"} <= codes(condition)

    def test_needs_somebody_who_said_that_the_machine_was_good(self):
        assert "good_state_not_confirmed" in codes(found(taken(60, 24.0), good_since=None))

    def test_leaves_out_a_reading_that_named_a_fault(self):
        history = [taken(0, 31.0, quiet=False), *good()[1:]]

        assert found(taken(60, 24.0), history).figures["baseline"]["count"] == 5


class TestWhatALevelSays:
    @pytest.mark.parametrize(
        ("rise_db", "state", "severity", "order_due"),
        [
            (0.0, "no_step_reached", 1, False),
            (5.0, "confirm_by_second_reading", 2, False),  # over the limit of 3.7 dB, below the ladder
            (8.0, "confirm_by_second_reading", 2, False),
            (12.0, "confirm_by_second_reading", 3, False),
            (16.0, "work_order_due", 4, True),
            (35.0, "work_order_due", 5, True),
        ],
    )
    def test_follows_the_ladder(self, rise_db, state, severity, order_due):
        condition = found(taken(60, 23.4 + rise_db))

        assert (condition.state, condition.severity) == (state, severity)
        assert condition.order_due is order_due
        assert condition.opens_finding is (rise_db > 0.0)

    def test_calls_for_an_order_at_the_second_alarm(self):
        condition = found(taken(60, 33.0), good(taken(55, 32.0)))

        assert (condition.state, condition.order_due) == ("work_order_due", True)

    def test_is_not_confirmed_by_an_alarm_with_another_probe(self):
        other = taken(55, 32.0, setting=SETTING._replace(probe="rod 300 mm"))

        assert found(taken(60, 33.0), good(other)).order_due is False

    def test_contradicts_a_quiet_reading_in_words(self):
        assert "quiet_contradicted" in codes(found(taken(60, 33.0)))
        assert "quiet_contradicted" not in codes(found(taken(60, 33.0, quiet=False)))

    def test_cannot_unsay_what_somebody_heard(self):
        condition = found(taken(60, 23.4, quiet=False))

        assert condition.order_due is None
        assert "heard_but_not_loud" in codes(condition)

    def test_leaves_a_first_alarm_open_where_the_inspector_judged_it_severe(self):
        assert found(taken(60, 33.0, quiet=False, severity=4)).order_due is None
        assert found(taken(60, 33.0, quiet=False, severity=3)).order_due is False

    def test_tells_that_a_first_alarm_was_not_confirmed(self):
        assert "alarm_not_confirmed" in codes(found(taken(60, 23.4), good(taken(55, 33.0))))

    def test_of_a_slow_shaft_clears_nothing(self):
        slow = [taken(7 * week, level, speed_hz=0.3) for week, level in enumerate(GOOD_DB)]

        quiet = found(taken(60, 23.4, speed_hz=0.3), slow)
        loud = found(taken(60, 41.0, speed_hz=0.3), slow)

        assert (quiet.state, quiet.severity, quiet.order_due) == ("level_does_not_decide", None, None)
        assert "slow_shaft" in codes(quiet)
        assert (loud.severity, loud.order_due) == (4, True)

    def test_far_below_the_baseline_is_read_again_soon(self):
        condition = found(taken(60, 12.0))

        assert (condition.severity, condition.order_due, condition.look_again_days) == (None, None, 7)

    def test_follows_a_ladder_of_the_site(self):
        ladder = (
            Step("watch", 6.0, "Watch.", "site", one_reading=False),
            Step("halt", 20.0, "Halt.", "site", one_reading=True),
        )

        condition = found(taken(60, 43.5), ladder=ladder)

        assert (condition.figures["step_key"], condition.severity) == ("halt", 5)


class TestTheNextLook:
    def test_is_sooner_the_higher_the_step(self):
        no_trend = {"trend_since": BEGAN + timedelta(days=59)}
        rises = (0.0, 8.0, 12.0, 16.0, 35.0)

        days = [found(taken(60, 23.4 + rise), **no_trend).look_again_days for rise in rises]

        assert days == [90, 14, 7, 7, 1]

    def test_is_tightened_by_a_rise_beyond_doubt(self):
        rising = [taken(50 + 10 * step, 23.0 + 0.2 * step + 0.1 * (step % 2)) for step in range(8)]

        condition = found(taken(135, 24.9), good(*rising))

        assert condition.state == "no_step_reached"
        assert condition.figures["trend"]["upward"] is True
        assert condition.look_again_days == 45

    def test_never_lies_beyond_the_earliest_day_of_the_next_step(self):
        rising = [taken(50 + 5 * step, 24.0 + 0.55 * step + 0.1 * (step % 2)) for step in range(5)]

        condition = found(taken(75, 26.9), good(*rising), trend_since=BEGAN + timedelta(days=49))

        low = datetime.fromisoformat(condition.figures["next_step"]["from_at"])
        assert condition.look_again_days <= (low - (BEGAN + timedelta(days=75))).days < 45


class TestTheDate:
    def test_is_given_with_its_interval_for_the_next_step(self):
        rising = [taken(50 + 30 * step, 24.0 + 0.9 * step + 0.2 * (step % 2)) for step in range(4)]

        next_step = found(taken(170, 27.5), good(*rising)).figures["next_step"]

        assert (next_step["key"], next_step["rise_db"]) == ("lubricate", 8.0)
        assert next_step["from_at"] < next_step["at"] < next_step["until_at"]

    def test_is_refused_without_a_significant_trend(self):
        next_step = found(taken(60, 23.4)).figures["next_step"]

        assert (next_step["from_at"], next_step["at"], next_step["until_at"]) == (None, None, None)
        assert [reason["code"] for reason in next_step["reasons"]] == ["no_trend"]

    def test_counts_only_what_was_read_since_the_last_greasing(self):
        rising = [taken(50 + 10 * step, 24.0 + 0.5 * step) for step in range(8)]

        condition = found(taken(130, 24.0), good(*rising), trend_since=BEGAN + timedelta(days=125))

        assert condition.figures["trend"]["slope_db_per_day"] is None
        assert condition.figures["trend"]["upward"] is None


class TestItsInputs:
    @pytest.mark.parametrize("judged", [taken(60, 33.0), taken(60, 23.4, quiet=False, severity=5)])
    def test_compute_the_same_once_more(self, judged):
        condition = found(judged, good(taken(50, 26.0), taken(55, 24.0, speed_hz=40.0)))

        again = recomputed(json.loads(json.dumps(condition.inputs)))

        assert again == condition

    def test_name_the_good_state_and_every_step(self):
        inputs = found(taken(60, 24.0), good_since=GoodSince(BEGAN, None, "g-1")).inputs

        assert inputs["good_since"]["id"] == "g-1"
        assert [step["key"] for step in inputs["ladder"]] == ["lubricate", "early_damage", "advanced", "stop"]


class TestTheRatedSpeed:
    def test_stands_in_where_none_was_noted_and_is_said(self):
        history = [at_rated_speed(taken(7 * n, db, speed_hz=None), 24.5) for n, db in enumerate(GOOD_DB)]

        condition = found(at_rated_speed(taken(60, 24.0, speed_hz=None), 24.5), history)

        assert condition.state == "no_step_reached"
        assert "speed_from_particulars" in codes(condition)

    def test_never_replaces_a_speed_that_was_noted(self):
        assert at_rated_speed(taken(0, 24.0, speed_hz=10.0), 24.5).level.speed_hz == 10.0
