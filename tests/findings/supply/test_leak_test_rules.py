"""From what was timed, metered or read on a gauge to the whole leakage of a system."""

from math import log

import pytest

from findings.supply.rules import (
    LeakTestMethod,
    SupplyRefused,
    assumed,
    at_reference,
    check_sent,
    check_testable,
    total_leakage,
)

SITE = {"atmosphere_pa": 101_325.0, "temperature_k": 293.15}
CYCLES = {"load_s": [30.0, 30.0, 30.0], "unload_s": [10.0, 10.0, 10.0]}
DECAY = {"start_pressure_gauge_pa": 700_000.0, "end_pressure_gauge_pa": 600_000.0, "duration_s": 300.0}


def refusal(check, *args, **kwargs):
    """Return (member, code) of the refusal, or None."""
    try:
        check(*args, **kwargs)
    except SupplyRefused as refused:
        return refused.member, refused.code
    return None


class TestLoadAndUnloadTimes:
    def test_give_the_share_of_the_capacity(self):
        # US DOE compressed-air sourcebook: 30 s on and 10 s off are 75 % of the capacity.
        flow = total_leakage(LeakTestMethod.LOAD_UNLOAD, CYCLES, capacity_m3_per_s=0.2, **SITE)

        assert flow.value == pytest.approx(0.15)
        assert 0.0 < flow.u < 0.01

    def test_need_a_capacity(self):
        sent = (LeakTestMethod.LOAD_UNLOAD, CYCLES)

        assert refusal(total_leakage, *sent, **SITE) == ("capacity_m3_per_s", "required")

    def test_say_that_the_delivery_is_taken_as_known(self):
        (reason,) = assumed(CYCLES, LeakTestMethod.LOAD_UNLOAD)

        assert reason.code == "capacity_uncertainty_assumed"

    def test_tell_nothing_of_a_machine_that_regulates(self):
        sent = (LeakTestMethod.LOAD_UNLOAD, "compressed_air", "variable_speed")

        assert refusal(check_testable, *sent) == ("compressor_id", "control_not_timed")


class TestPressureDecay:
    def test_gives_the_flow_at_the_start_pressure(self):
        flow = total_leakage(LeakTestMethod.PRESSURE_DECAY, DECAY, storage_m3=6.0, **SITE)

        # V p_a ln(p_a/p_b) / (p_ref t), absolute pressures, while every hole stays choked.
        expected = 6.0 * 801_325.0 * log(801_325.0 / 701_325.0) / (100_000.0 * 300.0)
        assert flow.value == pytest.approx(expected)

    def test_needs_the_volume_that_was_shut_in(self):
        assert refusal(total_leakage, LeakTestMethod.PRESSURE_DECAY, DECAY, **SITE) == (
            "volume_m3",
            "required",
        )

    def test_goes_before_the_storage_with_its_own_volume(self):
        sent = {**DECAY, "volume_m3": 3.0}
        own = total_leakage(LeakTestMethod.PRESSURE_DECAY, sent, storage_m3=6.0, **SITE)
        stored = total_leakage(LeakTestMethod.PRESSURE_DECAY, DECAY, storage_m3=6.0, **SITE)

        assert own.value == pytest.approx(stored.value / 2.0)

    def test_is_worked_out_for_air_only(self):
        assert refusal(check_testable, LeakTestMethod.PRESSURE_DECAY, "nitrogen", None) == (
            "method",
            "medium_not_testable",
        )


class TestBaseFlow:
    def test_is_what_the_meter_said(self):
        sent = {"flow_m3_per_s": 0.02, "flow_u_m3_per_s": 0.001}

        flow = total_leakage(LeakTestMethod.BASE_FLOW, sent, **SITE)

        assert (flow.value, flow.u) == pytest.approx((0.02, 0.001))
        assert flow.status == "measured"

    def test_of_a_vacuum_is_no_leak_test(self):
        assert refusal(check_testable, LeakTestMethod.BASE_FLOW, "vacuum", None) == (
            "method",
            "medium_not_testable",
        )


class TestWhatIsSent:
    @pytest.mark.parametrize("method", list(LeakTestMethod))
    def test_has_to_be_whole(self, method):
        assert refusal(check_sent, method, {})[1] == "required"

    def test_belongs_to_its_method(self):
        sent = {"flow_m3_per_s": 0.02, "duration_s": 60.0}

        assert refusal(check_sent, LeakTestMethod.BASE_FLOW, sent) == ("duration_s", "needless")


def test_a_delivery_at_altitude_is_less_at_the_reference():
    # 1000 m above the sea: 89,874 Pa.
    assert at_reference(0.1, atmosphere_pa=89_874.0) == pytest.approx(0.089874)
