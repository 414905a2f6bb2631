"""Calculations of seal tests: what reaches a person who asks by name."""

import pytest

from findings.kinds.calculations import CALCULATIONS, InvalidInput, calculate


def example(**changes):
    return calculate("seal-test", {**CALCULATIONS["seal-test"].example, **changes})


def codes(result):
    return {reason["code"] for reason in result["reasons"]}


class TestSource:
    def test_says_before_the_walk_that_it_is_too_weak(self):
        result = calculate("seal-source", {"open_level_db": 30, "background_db": 25})

        assert (result["strength"], codes(result)) == ("too_weak", {"source_too_weak"})

    def test_follows_the_chosen_reading_of_a_tenth(self):
        data = {"open_level_db": 44, "background_db": 0}

        limits = [
            calculate("seal-source", {**data, "criterion": criterion})["limit_level_db"]
            for criterion in ("amplitude", "displayed_number")
        ]

        assert limits == pytest.approx([24.0, 4.4])


class TestWalk:
    def test_places_the_leak_on_the_door(self):
        result = example()

        (leak,) = result["leaks"]
        assert (result["verdict"], leak["verdict"]) == ("fail", "fail")
        assert (
            leak["position"]["low_m"] == 2.0 < leak["position"]["value_m"] < leak["position"]["high_m"] == 3.0
        )

    def test_draws_a_plan(self):
        plan = example()["plan_svg"]

        assert plan.startswith("<svg ")
        assert "Proving cabinet 2, door" in plan

    def test_is_open_where_nobody_walked(self):
        result = example(points=CALCULATIONS["seal-test"].example["points"][:8])

        assert result["not_walked"] == [{"from_m": 3.5, "to_m": 0.0}]

    def test_refused_has_no_plan(self):
        result = example(points=[{"position_m": 0, "level_db": 18}])

        assert (result["verdict"], result["plan_svg"], codes(result)) == (
            "not_determined",
            None,
            {"too_few_points"},
        )

    @pytest.mark.parametrize("name", ["seal-source", "seal-test"])
    def test_comes_with_cautions(self, name):
        keys = {c["key"] for c in calculate(name, dict(CALCULATIONS[name].example))["cautions"]}

        assert keys == {"tone_source", "confined_space", "hearing"}

    def test_never_has_a_flow(self):
        result = example()

        assert not [name for name in result if "flow" in name]
        assert "sound_only" in codes(result)

    @pytest.mark.parametrize("changes", [{"door_width_m": 2.0}, {"shape": "line"}, {"seam_length_m": 9.0}])
    def test_wants_a_door_that_fits_the_seam(self, changes):
        with pytest.raises(InvalidInput, match="door_width_m"):
            example(**changes)
