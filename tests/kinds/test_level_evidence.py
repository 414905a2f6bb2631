"""From a detector's reading to a flow: each step, and each reason why not."""

import json
import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from findings.kinds.level_evidence import LevelEvidence, flow_from_level, level_at_1_m
from findings.physics.estimate import Estimate
from findings.physics.level_model import CalibrationPoint, LeakFamily, LevelModel, fit, predict, prior_model

# A fitting in the compressor room of an invented plant: 7 bar gauge, heard at 2 m.
READING = LevelEvidence(
    level_db=52.0,
    background_db=38.0,
    distance_m=2.0,
    distance_u_m=0.1,
    air_temperature_k=293.15,
    relative_humidity=0.5,
    air_pressure_pa=101325.0,
    upstream_absolute_pa=801325.0,
    family=LeakFamily.HOLE,
    absolute_scale=True,
)


def leaks(count, **offsets):
    """Return measured leaks along a line of their own, spread in level and pressure."""
    shift = offsets.get("shift", 0.0)
    return [
        CalibrationPoint(
            level_db=45.0 + 2.5 * i + shift,
            pressure_ratio=4.0 + (i * 5) % 7,
            flow_m3_per_s=4e-6 * 10 ** (0.06 * 2.5 * i + 0.1 * (-1) ** i),
            flow_u_m3_per_s=0.0,
        )
        for i in range(count)
    ]


def codes(estimate):
    return [reason.code for reason in estimate.reasons]


class TestLevelAtOneMetre:
    def test_takes_off_the_background_then_goes_to_one_metre(self):
        # 52 dB with 42 dB behind it is 51.5424 dB alone; 20 lg 2 + 1.31824 dB to 1 m.
        heard = level_at_1_m(replace(READING, background_db=42.0))

        assert heard.estimate.value == pytest.approx(51.5424 + 6.0206 + 1.31824, abs=1e-4)

    def test_brings_an_upper_bound_to_one_metre_too(self):
        heard = level_at_1_m(replace(READING, background_db=51.0))

        assert heard.estimate.value == pytest.approx(52.0 - 3.0206 + 6.0206 + 1.31824, abs=1e-4)

    def test_adds_up_what_makes_it_unsure(self):
        heard = level_at_1_m(replace(READING, level_u_db=1.0))

        assert heard.estimate.u == pytest.approx(math.hypot(1.0, 8.6859 * 0.1 / 2.0, 0.131824), rel=1e-5)

    def test_says_what_it_assumed(self):
        bare = replace(
            READING, background_db=None, distance_u_m=None, relative_humidity=None, air_temperature_k=None
        )
        heard = level_at_1_m(bare)

        assert [reason.code for reason in (*heard.remarks, *heard.estimate.reasons)] == [
            "background_not_read",
            "distance_uncertainty_assumed",
            "weather_assumed",
        ]


class TestWithoutMeasuredLeaks:
    def test_is_an_order_of_magnitude(self):
        estimate = flow_from_level(READING, prior_model())

        assert codes(estimate) == ["not_calibrated"]
        assert estimate.high / estimate.low > 100.0

    def test_is_the_priors_answer_at_one_metre(self):
        heard = level_at_1_m(READING).estimate

        expected = predict(prior_model(), heard.value, 801325.0 / 101325.0, heard.u)

        assert flow_from_level(READING, prior_model()).value == expected.value

    def test_takes_an_unknown_shape(self):
        unknown = replace(READING, family=LeakFamily.UNKNOWN)

        assert flow_from_level(unknown, prior_model()).value is not None


REFUSALS = {
    "no_absolute_reference": {"absolute_scale": False},
    "gas": {"gas": "nitrogen"},
    "vacuum": {"direction": "in", "upstream_absolute_pa": 101325.0, "downstream_absolute_pa": 3e4},
    "family": {"family": LeakFamily.PACKING},
    "background": {"background_db": 50.0},
    "distance": {"distance_m": 25.0},
    "regime": {"upstream_absolute_pa": 150000.0},
    "out_of_range": {"level_db": 20.0, "background_db": None},
    "saturated": {"level_db": 80.0, "upstream_absolute_pa": 220000.0},
    "pressure_missing": {"upstream_absolute_pa": None},
}


class TestRefusal:
    @pytest.mark.parametrize(("code", "changed"), REFUSALS.items(), ids=list(REFUSALS))
    def test_names_its_one_reason(self, code, changed):
        estimate = flow_from_level(replace(READING, **changed), prior_model())

        assert (estimate.value, codes(estimate)) == (None, [code])

    @pytest.mark.parametrize("changed", REFUSALS.values(), ids=list(REFUSALS))
    def test_is_a_sentence_that_says_what_to_do_or_why(self, changed):
        (reason,) = flow_from_level(replace(READING, **changed), prior_model()).reasons

        assert len(reason.text) > 60
        assert reason.text[0].isupper()
        assert reason.text.endswith(".")
        assert "_" not in reason.text

    @pytest.mark.parametrize(
        ("changed", "code"),
        [
            ({"distance_m": None}, "distance"),
            ({"downstream_absolute_pa": 3e4}, "vacuum"),
            ({"downstream_absolute_pa": 3e5}, "regime"),
            ({"upstream_absolute_pa": 1e5}, "regime"),
            ({"upstream_absolute_pa": math.nan}, "not_finite"),
            ({"air_temperature_k": 400.0}, "air_temperature"),
            ({"background_db": math.inf}, "not_finite"),
            ({"level_db": 500.0}, "level_out_of_range"),
        ],
    )
    def test_of_what_the_chain_cannot_take(self, changed, code):
        assert codes(flow_from_level(replace(READING, **changed), prior_model())) == [code]

    def test_gives_every_reason_at_once(self):
        wrong = replace(READING, gas="nitrogen", absolute_scale=False, background_db=51.0)

        assert codes(flow_from_level(wrong, prior_model())) == ["no_absolute_reference", "gas", "background"]

    @pytest.mark.parametrize("word", [{"background_rule": "1/2"}, {"direction": "up"}, {"family": "crater"}])
    def test_of_a_word_that_means_nothing_is_an_error(self, word):
        with pytest.raises(ValueError):  # noqa: PT011 - the enumeration has its own words
            replace(READING, **word)

    def test_of_an_unknown_shape_where_holes_were_measured(self):
        (reason,) = flow_from_level(replace(READING, family=LeakFamily.UNKNOWN), fit(leaks(3))).reasons

        assert (reason.code, "its kind isn't recorded" in reason.text) == ("family", True)

    def test_outside_what_the_measured_leaks_cover_together(self):
        # Each within its own range, but no quiet leak was measured at a low pressure.
        along = [
            CalibrationPoint(45.0 + 2 * i, (3.0 + 0.5 * i) * 10 ** (0.07 * (-1) ** i), 1e-5 * 1.3**i, 0.0)
            for i in range(14)
        ]
        edge = replace(READING, level_db=62.0, background_db=None, upstream_absolute_pa=3.1 * 101325.0)

        assert codes(flow_from_level(edge, fit(along))) == ["leverage"]


class TestWithMeasuredLeaks:
    def test_a_relative_scale_is_taken_once_enough_were_measured(self):
        relative = replace(READING, absolute_scale=False)

        assert flow_from_level(relative, fit(leaks(8), use_prior=False)).value is not None

    def test_a_relative_scale_is_refused_where_the_prior_still_speaks(self):
        relative = replace(READING, absolute_scale=False)

        assert codes(flow_from_level(relative, fit(leaks(8)))) == ["no_absolute_reference"]

    def test_another_gas_is_taken_by_its_own_model(self):
        nitrogen = replace(READING, gas="nitrogen")

        assert flow_from_level(nitrogen, fit(leaks(8), gas="nitrogen")).value is not None

    def test_more_leaks_narrow_the_interval(self):
        widths = [
            math.log(estimate.high / estimate.low)
            for estimate in (flow_from_level(READING, fit(leaks(count))) for count in (0, 5, 11, 14))
        ]

        assert widths == sorted(widths, reverse=True)


class TestProvenance:
    def test_keeps_all_it_takes_to_compute_it_again(self):
        estimate = flow_from_level(READING, fit(leaks(5)))
        kept = json.loads(json.dumps(estimate.to_json()))["inputs"]

        again = flow_from_level(LevelEvidence(**kept["evidence"]), LevelModel.from_json(kept["model"]))

        assert again == estimate

    def test_shows_each_step(self):
        inputs = flow_from_level(replace(READING, background_db=42.0), prior_model()).inputs

        assert (
            inputs["background_status"],
            inputs["background_correction_db"],
            inputs["absorption_db_per_m"],
            inputs["level_at_1_m_db"],
        ) == (
            "corrected",
            pytest.approx(0.4576, abs=1e-4),
            pytest.approx(1.31824, abs=1e-5),
            inputs["level_db"],
        )

    def test_survives_json(self):
        estimate = flow_from_level(READING, prior_model())

        assert Estimate.from_json(json.loads(json.dumps(estimate.to_json()))) == estimate


@given(
    level=st.floats(),
    background=st.none() | st.floats(),
    distance=st.none() | st.floats(),
    upstream=st.none() | st.floats(),
    downstream=st.none() | st.floats(),
    temperature=st.none() | st.floats(),
    u=st.floats(),
)
def test_whatever_was_read_there_is_a_flow_or_a_reason(
    level, background, distance, upstream, downstream, temperature, u
):
    evidence = replace(
        READING,
        level_db=level,
        background_db=background,
        distance_m=distance,
        upstream_absolute_pa=upstream,
        downstream_absolute_pa=downstream,
        air_temperature_k=temperature,
        level_u_db=u,
    )

    estimate = flow_from_level(evidence, prior_model())

    assert (estimate.value is None) == estimate.is_refused
    assert json.dumps(estimate.to_json(), allow_nan=False)
