"""Calculations on bearings and gears: what reaches a person who asks by name."""

import pytest

from findings.kinds.calculations import CALCULATIONS, calculate

SETTING = {"instrument": "detector 3", "probe": "rod 100 mm", "contact": "held by hand", "speed_hz": 24.5}
GOOD = [{"level_db": level} for level in (23.1, 24.0, 22.4, 23.6, 24.3, 23.0, 22.9, 23.8)]
BASE = {"baseline_readings": GOOD, "good_state": "confirmed", **SETTING}


def example(name, **changes):
    return calculate(name, {**CALCULATIONS[name].example, **changes})


def codes(reasons):
    return {reason["code"] for reason in reasons}


class TestBaseline:
    def test_gives_mean_and_limit(self):
        result = calculate("wear-baseline", {"readings": GOOD, "good_state": "confirmed", **SETTING})

        assert (result["mean"]["value_db"], result["plain_limit_db"]) == pytest.approx(
            (23.3875, 25.4279), abs=1e-4
        )

    def test_is_refused_unless_somebody_vouches_for_the_machine(self):
        result = calculate("wear-baseline", {"readings": GOOD, **SETTING})

        assert (result["limit_db"], codes(result["mean"]["reasons"])) == (None, {"good_state_not_confirmed"})

    def test_lets_a_reading_tell_its_own_speed(self):
        result = calculate(
            "wear-baseline", {"readings": [*GOOD, {"level_db": 23, "speed_hz": 12}], **SETTING}
        )

        assert "speeds_mixed" in codes(result["mean"]["reasons"])


class TestLevel:
    def test_calls_for_work(self):
        result = example("wear-level")

        assert (result["state"], result["step_key"], result["work_order"]) == (
            "work_order_due",
            "early_damage",
            True,
        )

    def test_without_a_baseline_is_not_determined(self):
        result = calculate("wear-level", {"readings": GOOD[:1], **SETTING})

        assert (result["state"], result["alarm"], codes(result["reasons"])) == (
            "not_determined",
            None,
            {"no_baseline"},
        )

    def test_follows_the_sites_ladder(self):
        ladder = [{"key": "look", "rise_db": 2, "one_reading": "yes", "meaning": "Have a look."}]

        result = calculate("wear-level", {**BASE, "readings": [{"level_db": 25.6}], "ladder": ladder})

        assert (result["step_meaning"], result["work_order"]) == ("Have a look.", True)

    def test_names_a_broken_ladder(self):
        ladder = [{"key": "look", "rise_db": 2, "one_reading": "no"}]

        result = calculate("wear-level", {**BASE, "readings": GOOD, "ladder": ladder})

        assert codes(result["reasons"]) == {"ladder_confirmation"}

    @pytest.mark.parametrize("name", ["wear-baseline", "wear-level", "wear-trend", "relubrication"])
    def test_comes_with_the_cautions_of_turning_machines(self, name):
        keys = [caution["key"] for caution in example(name)["cautions"]]

        assert keys[:2] == ["rotation", "contact_probe"]


class TestTrend:
    def test_gives_both_intervals(self):
        result = example("wear-trend")

        assert [
            round(result[name][f"{end}_day"], 3)
            for name in ("line_crossing", "reading_crossing")
            for end in ("low", "value", "high")
        ] == [355.761, 387.599, 428.073, 348.254, 387.599, 435.579]

    def test_starts_anew_after_a_repair(self):
        result = example("wear-trend", since_day=150)

        assert codes(result["line_crossing"]["reasons"]) == {"too_few_readings"}

    def test_without_a_threshold_gives_the_slope_only(self):
        data = dict(CALCULATIONS["wear-trend"].example)
        del data["threshold_db"]

        assert "line_crossing" not in calculate("wear-trend", data)


class TestGrease:
    def test_gives_charge_and_interval(self):
        result = example("relubrication", speed_hz=25, temperature_k=343.15)

        assert (result["charge"]["value_kg"], result["interval_hours"]) == pytest.approx(
            (0.01485, 11199.3), rel=1e-5
        )

    def test_refuses_the_interval_and_keeps_the_charge(self):
        result = example("relubrication", speed_limit_hz=10)

        assert (result["interval_hours"], result["charge"]["status"]) == (None, "estimated")

    def test_tells_what_a_greasing_did(self):
        result = example("greasing-record")

        assert (result["outcome"], result["advice"]) == ("back_at_baseline", "done")


class TestFrequencies:
    def test_band_the_search(self):
        outer = example("bearing-frequencies")["outer_ring"]

        assert (outer["low_hz"], outer["value_hz"], outer["high_hz"]) == pytest.approx(
            (0.98 * 107.364, 107.364, 1.02 * 107.364), rel=1e-5
        )

    def test_turn_with_the_outer_ring(self):
        cages = [
            example("bearing-frequencies", rotating=ring)["cage"]["value_hz"] for ring in ("inner", "outer")
        ]

        assert sum(cages) == pytest.approx(29.95)
