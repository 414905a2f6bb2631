"""Balances of leak flow and two-pass surveys by name."""

import pytest

from findings.kinds.calculations import InvalidInput, calculate


class TestLeakBalance:
    MEASURED = {"flow_m3_per_s": 0.06, "flow_u_m3_per_s": 0.004}
    FINDING = {"flow_m3_per_s": 0.02, "flow_u_m3_per_s": 0.004}

    def test_counts_what_leaked_at_each_moment(self):
        result = calculate(
            "leak-balance",
            {
                "measurements": [self.MEASURED | {"at_s": moment} for moment in (0, 100)],
                "findings": [self.FINDING | {"until_s": 50}, self.FINDING],
            },
        )

        assert [row["unexplained_m3_per_s"] for row in result["balances"]] == pytest.approx([0.02, 0.04])

    def test_wants_a_finding_to_end_after_it_begins(self):
        findings = [self.FINDING | {"since_s": 5, "until_s": 4}]

        with pytest.raises(InvalidInput, match="/findings/0/until_s must not be before"):
            calculate("leak-balance", {"measurements": [self.MEASURED], "findings": findings})


class TestTwoPassSurvey:
    def test_gives_chapmans_estimate(self):
        # Computed from Chapman's formula.
        result = calculate("two-pass-survey", {"first": 10, "second": 15, "both": 5})

        assert (result["there"], result["missed"]) == pytest.approx((28.33, 8.33), abs=5e-3)

    def test_refuses_counts_that_cannot_be(self):
        result = calculate("two-pass-survey", {"first": 3, "second": 5, "both": 4})

        assert (result["there"], result["status"]) == (None, "refused")
