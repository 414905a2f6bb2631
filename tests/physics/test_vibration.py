"""The warning of a machine's vibration."""

import math

import pytest

from findings.physics.vibration import vibration_warning


class TestTheWarning:
    def test_lies_a_quarter_of_the_limit_over_the_baseline(self) -> None:
        # 0.8 + 0.25 * 4.5 = 1.925 mm/s: the example of a distributor's page on ISO 10816-3.
        assert vibration_warning(0.0008, 0.0045).value == pytest.approx(0.001925)

    def test_never_lies_above_five_quarters_of_the_limit(self) -> None:
        found = vibration_warning(0.005, 0.0045)

        assert found.value == pytest.approx(1.25 * 0.0045)
        assert {"capped", "baseline_above_zone_b"} <= {reason.code for reason in found.reasons}

    @pytest.mark.parametrize(
        ("baseline", "limit", "code"),
        [
            (0.0057, 0.0045, "baseline_above_warning"),
            (-0.001, 0.0045, "baseline_out_of_range"),
            (math.nan, 0.0045, "baseline_out_of_range"),
            (0.8, 4.5, "limit_out_of_range"),  # millimetres sent as metres
            (0.001, 0.0, "limit_out_of_range"),
        ],
    )
    def test_is_refused_for_what_cannot_be(self, baseline: float, limit: float, code: str) -> None:
        found = vibration_warning(baseline, limit)

        assert found.value is None
        assert code in {reason.code for reason in found.reasons}
