"""Discharge class, rhythm and bursts, asked for by name."""

import pytest

from findings.kinds.calculations import CALCULATIONS, InvalidInput, calculate


def example(name, **changes):
    return dict(CALCULATIONS[name].example) | changes


class TestDischargeClass:
    def test_says_rule_grounds_and_follow_up(self):
        result = calculate("discharge-class", example("discharge-class"))

        assert (result["sound"], result["rule"]) == ("corona-like", "locked_even_many_orders")
        assert (result["follow_up"], result["keeps_doors_shut"]) == (True, True)
        assert "tracking-like" in {change["sound"] for change in result["changes"]}

    def test_doubts_corona_at_low_voltage(self):
        assert "unlikely" in calculate("discharge-class", example("discharge-class", nominal_v=400))["label"]

    def test_rising_hum_is_followed_up(self):
        hum = {"harmonics": 2, "high_share": 0.0, "high_share_at_most": 0.01}
        steady = calculate("discharge-class", example("discharge-class", **hum))
        rising = calculate("discharge-class", example("discharge-class", **hum, level_trend="rising"))

        assert (steady["sound"], steady["follow_up"], rising["follow_up"]) == ("mains hum", False, True)

    def test_wants_shares_that_fit(self):
        with pytest.raises(InvalidInput) as refusal:
            calculate("discharge-class", example("discharge-class", high_share_at_most=0.1))

        assert refusal.value.problems[0].pointer == "/high_share_at_most"


class TestSoundCharacter:
    @pytest.mark.parametrize(
        ("lines", "more", "character"),
        [
            ([{"frequency_hz": 30.0, "above_floor_db": 9.0}], {}, "rhythmic"),
            ([], {"kurtosis": 6.0}, "irregular impacts"),
            ([], {"kurtosis": 3.1}, "smooth"),
            ([], {}, "not determined"),
        ],
    )
    def test_is(self, lines, more, character):
        assert calculate("sound-character", {"lines": lines, **more})["character"] == character


class TestRhythmHits:
    def test_tell_the_part(self):
        hits = calculate("rhythm-hits", example("rhythm-hits"))["hits"]

        assert [(hit["name"], hit["match"]) for hit in hits] == [
            ("outer ring", "found"),
            ("inner ring", "not found"),
            ("twice the mains", "not found"),
        ]

    def test_want_each_part_once(self):
        part = {"name": "cage", "frequency_hz": 10.0}
        with pytest.raises(InvalidInput):
            calculate("rhythm-hits", {"lines": [], "parts": [part, part]})


class TestBurstKurtosis:
    def test_shrinks_in_noise(self):
        # Own derivation: 15 alone, 3.48 at a quarter of the noise's power, rms 0.15811.
        result = calculate("burst-kurtosis", {"period_s": 0.01, "decay_s": 0.001, "power_ratio": 0.25})

        assert (result["kurtosis"], result["kurtosis_in_noise"], result["rms"]) == pytest.approx(
            (15, 3.48, 0.15811), abs=5e-6
        )

    def test_is_refused_where_bursts_overlap(self):
        result = calculate("burst-kurtosis", {"period_s": 0.002, "decay_s": 0.001})

        assert (result["kurtosis"], result["reasons"][0]["code"]) == (None, "overlap")
