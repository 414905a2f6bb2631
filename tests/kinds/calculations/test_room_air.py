"""Screening of a room's air by name: figures, refusals and the cautions beside them."""

import pytest

from findings.kinds.calculations import InvalidInput, calculate

RELEASES = [
    ("dilution-air", {"gas": "methane", "release_kg_per_s": 1e-4}),
    (
        "room-concentration",
        {"gas": "acetylene", "release_m3_per_s": 1e-4, "air_m3_per_s": 0.1, "volume_m3": 50, "time_s": 600},
    ),
    ("room-oxygen", {"gas": "helium", "release_m3_per_s": 1e-3, "air_m3_per_s": 0.1}),
]


class TestEveryScreening:
    @pytest.mark.parametrize(("name", "data"), RELEASES)
    def test_says_that_it_is_no_clearance_and_no_gas_test(self, name, data):
        result = calculate(name, data)

        assert "screening_only" in {reason["code"] for reason in result["reasons"]}
        assert "not_a_gas_test" in {caution["key"] for caution in result["cautions"]}

    @pytest.mark.parametrize(("name", "data"), RELEASES[:2])
    def test_of_fuel_gas_warns_of_fire(self, name, data):
        assert "fuel_gas" in {caution["key"] for caution in calculate(name, data)["cautions"]}


class TestDilutionAir:
    def test_needs_half_for_a_secondary_release(self):
        primary, secondary = (
            calculate("dilution-air", {"gas": "hydrogen", "release_kg_per_s": 1e-5, "grade": grade})
            for grade in ("primary", "secondary")
        )

        assert secondary["least_fresh_air_m3_per_s"] == pytest.approx(primary["least_fresh_air_m3_per_s"] / 2)

    def test_shows_every_limit_and_takes_the_lowest(self):
        result = calculate("dilution-air", {"gas": "propane", "release_kg_per_s": 1e-5})

        assert (len(result["limits"]), result["lower_limit"]) == (
            2,
            min(row["lower"] for row in result["limits"]),
        )

    def test_takes_a_factor_or_a_grade(self):
        with pytest.raises(InvalidInput, match="/factor give it or the grade"):
            calculate(
                "dilution-air",
                {"gas": "propane", "release_kg_per_s": 1e-5, "factor": 0.1, "grade": "primary"},
            )

    def test_is_refused_for_what_does_not_burn(self):
        result = calculate("dilution-air", {"gas": "argon", "release_kg_per_s": 1e-5})

        assert (result["least_fresh_air_m3_per_s"], result["status"]) == (None, "refused")


class TestRoomOxygen:
    def test_has_a_state(self):
        result = calculate("room-oxygen", {"gas": "argon", "release_m3_per_s": 0.01, "air_m3_per_s": 0.1})

        assert (result["oxygen"], result["oxygen_state"]) == (pytest.approx(0.19), "deficient")

    def test_is_refused_for_what_burns(self):
        result = calculate("room-oxygen", {"gas": "propane", "release_m3_per_s": 0.01, "air_m3_per_s": 0.1})

        assert (result["oxygen"], result["reasons"][0]["code"]) == (None, "burns_first")
