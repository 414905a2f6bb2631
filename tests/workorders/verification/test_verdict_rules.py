"""Did the repair hold?"""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workorders.orders.rules import MOVES, MoveName, Reason
from workorders.verification.rules import (
    Heard,
    Judgement,
    Verdict,
    VerdictLimits,
    WearSaid,
    judge_discharge,
    judge_leak,
    judge_wear,
    may_judge,
)

REPAIRED_AT = datetime(2025, 6, 11, 8, tzinfo=UTC)
BEFORE = Heard(
    observed_at=REPAIRED_AT - timedelta(days=5),
    instrument_family="F1",
    level_db=48.0,
    background_db=15.0,
    distance_m=1.0,
    pressure_gauge_pa=650_000.0,
)
SILENT = replace(BEFORE, observed_at=REPAIRED_AT + timedelta(days=2), level_db=16.0)


def judged(**changes: object) -> Judgement:
    return judge_leak(BEFORE, replace(SILENT, **changes), repaired_at=REPAIRED_AT)  # type: ignore[arg-type]


def codes(judgement: Judgement) -> list[str]:
    return [reason.code for reason in judgement.reasons]


class TestLeak:
    def test_passes_when_nothing_stands_out_any_more(self) -> None:
        found = judged()

        assert (found.verdict, found.residual_flow_m3_per_s) == (Verdict.PASSED, 0.0)

    def test_lower_but_still_heard_is_partial(self) -> None:
        found = judged(level_db=30.0, flow_m3_per_s=0.0005)

        assert (found.verdict, found.residual_flow_m3_per_s) == (Verdict.PARTIAL, 0.0005)

    def test_partial_without_a_flow_asks_for_an_estimate(self) -> None:
        assert codes(judged(level_db=30.0)) == ["still_heard", "residual_unknown"]

    def test_less_than_the_margin_is_failed(self) -> None:
        assert judged(level_db=42.1).verdict is Verdict.FAILED

    def test_the_margin_itself_is_no_longer_failed(self) -> None:
        assert judged(level_db=42.0).verdict is Verdict.PARTIAL

    def test_nothing_heard_needs_no_level(self) -> None:
        assert judged(level_db=None, heard=False).verdict is Verdict.PASSED

    @pytest.mark.parametrize(
        ("changes", "code"),
        [
            ({"instrument_family": "F2"}, "other_instrument"),
            ({"distance_m": 1.3}, "other_distance"),
            ({"distance_m": None}, "distance_missing"),
            ({"pressure_gauge_pa": 580_000.0}, "other_pressure"),
            ({"pressure_gauge_pa": None}, "pressure_missing"),
            ({"observed_at": REPAIRED_AT}, "not_after_repair"),
            ({"background_db": 44.0, "level_db": 45.0}, "masked"),
            ({"background_db": None, "level_db": None, "heard": False}, "background_missing"),
            ({"background_db": None}, "background_missing"),
            ({"level_db": None}, "level_missing"),
        ],
    )
    def test_cannot_tell_under_unlike_conditions(self, changes: dict[str, object], code: str) -> None:
        found = judged(**changes)

        assert (found.verdict, codes(found)) == (Verdict.CANNOT_TELL, [code])

    def test_a_gasket_needs_no_pressure(self) -> None:
        before = replace(BEFORE, pressure_gauge_pa=None)

        found = judge_leak(
            before, replace(SILENT, pressure_gauge_pa=None), repaired_at=REPAIRED_AT, pressurised=False
        )

        assert found.verdict is Verdict.PASSED

    def test_a_site_may_set_its_own_margin(self) -> None:
        strict = VerdictLimits(drop_db=20.0)

        found = judge_leak(BEFORE, replace(SILENT, level_db=30.0), repaired_at=REPAIRED_AT, limits=strict)

        assert found.verdict is Verdict.FAILED

    @pytest.mark.parametrize(
        ("after_flow", "verdict"),
        [(0.0, "passed"), (0.00006, "passed"), (0.001, "partial"), (0.003, "failed"), (0.004, "failed")],
    )
    def test_measured_flows_outweigh_levels(self, after_flow: float, verdict: str) -> None:
        before = replace(BEFORE, flow_m3_per_s=0.003, flow_measured=True)
        after = replace(SILENT, flow_m3_per_s=after_flow, flow_measured=True)

        assert judge_leak(before, after, repaired_at=REPAIRED_AT).verdict == verdict

    @given(st.floats(0, 60), st.floats(0, 60))
    def test_a_louder_after_is_never_judged_better(self, one: float, other: float) -> None:
        order = [Verdict.PASSED, Verdict.PARTIAL, Verdict.FAILED]
        quiet, loud = sorted((one, other))

        found = [order.index(judged(level_db=level).verdict) for level in (quiet, loud)]

        assert found[0] <= found[1]


class TestWear:
    BEFORE = replace(BEFORE, distance_m=None, pressure_gauge_pa=None)
    AFTER = replace(BEFORE, observed_at=REPAIRED_AT + timedelta(days=1), level_db=33.0)
    BACK = WearSaid(alarm=False, at_baseline=True, named=False, reasons=())
    ALARM = WearSaid(alarm=True, at_baseline=False, named=False, reasons=(Reason("step_reached", "8 dB."),))
    UNTOLD = WearSaid(
        alarm=None, at_baseline=False, named=False, reasons=(Reason("speed_differs", "Another speed."),)
    )

    def judged(self, said: WearSaid | None, before: Heard | None = BEFORE, **after: Any) -> Judgement:
        return judge_wear(before, replace(self.AFTER, **after), repaired_at=REPAIRED_AT, said=said)

    def test_passes_back_at_the_machines_own_baseline(self) -> None:
        found = self.judged(self.BACK)

        assert (found.verdict, codes(found)) == (Verdict.PASSED, ["at_baseline"])

    def test_passes_without_a_reading_before_for_the_baseline_is_the_measure(self) -> None:
        assert self.judged(self.BACK, before=None).verdict is Verdict.PASSED

    @pytest.mark.parametrize(("level", "verdict"), [(45.0, "partial"), (45.1, "failed"), (60.0, "failed")])
    def test_above_the_baseline_the_drop_tells_partial_from_failed(self, level: float, verdict: str) -> None:
        assert self.judged(self.ALARM, level_db=level).verdict == verdict

    def test_a_large_drop_alone_never_passes(self) -> None:
        assert self.judged(self.ALARM, level_db=10.0).verdict is Verdict.PARTIAL

    def test_cannot_tell_from_what_does_not_compare(self) -> None:
        found = self.judged(self.UNTOLD)

        assert (found.verdict, codes(found)) == (Verdict.CANNOT_TELL, ["not_comparable", "speed_differs"])

    def test_says_that_there_is_no_baseline_yet(self) -> None:
        said = replace(self.UNTOLD, reasons=(Reason("too_few_readings", "None yet."),))

        assert codes(self.judged(said)) == ["no_baseline_yet", "too_few_readings"]

    def test_cannot_tell_where_somebody_still_hears_a_fault(self) -> None:
        assert codes(self.judged(replace(self.BACK, named=True))) == ["still_named"]

    def test_cannot_tell_without_a_level_by_contact_probe(self) -> None:
        assert codes(self.judged(None)) == ["not_by_probe"]

    def test_cannot_tell_from_a_reading_before_the_repair(self) -> None:
        found = self.judged(self.BACK, observed_at=REPAIRED_AT)

        assert (found.verdict, codes(found)) == (Verdict.CANNOT_TELL, ["not_after_repair"])


class TestDischarge:
    AFTER = Heard(observed_at=REPAIRED_AT + timedelta(hours=3), heard=False)

    def test_passes_on_a_qualified_statement_about_live_gear(self) -> None:
        found = judge_discharge(self.AFTER, repaired_at=REPAIRED_AT, energised=True, qualified=True)

        assert found.verdict is Verdict.PASSED

    @pytest.mark.parametrize(
        ("energised", "qualified", "code"),
        [(False, True, "not_energised"), (None, True, "not_energised"), (True, False, "not_qualified")],
    )
    def test_silence_alone_proves_nothing(self, energised: bool | None, qualified: bool, code: str) -> None:
        found = judge_discharge(self.AFTER, repaired_at=REPAIRED_AT, energised=energised, qualified=qualified)

        assert (found.verdict, codes(found)) == (Verdict.CANNOT_TELL, [code])

    def test_what_is_still_heard_failed_whoever_says_so(self) -> None:
        found = judge_discharge(
            replace(self.AFTER, heard=True), repaired_at=REPAIRED_AT, energised=True, qualified=False
        )

        assert found.verdict is Verdict.FAILED


class TestMayJudge:
    @pytest.mark.parametrize(
        ("judge", "hazard", "costly", "may"),
        [
            ("ines", True, True, True),
            ("tom", False, False, True),
            ("tom", True, False, False),
            ("tom", False, True, False),
        ],
    )
    def test_nobody_judges_their_own_where_it_matters(
        self, judge: str, hazard: bool, costly: bool, may: bool
    ) -> None:
        assert may_judge(repairer="tom", judge=judge, hazard=hazard, above_money_limit=costly) is may


def test_the_table_of_moves_speaks_the_same_verdicts() -> None:
    named = {
        value
        for move in MOVES
        if move.name in {MoveName.CLOSE, MoveName.REOPEN} and move.when and move.when[0] == "verdict"
        for value in move.when[1]
    }

    assert named == set(Verdict) - {Verdict.CANNOT_TELL}


def test_a_header_pressure_that_stands_in_is_said() -> None:
    judgement = judge_leak(replace(BEFORE, pressure_from_header=True), SILENT, repaired_at=REPAIRED_AT)

    assert judgement.verdict is Verdict.PASSED
    assert judgement.reasons[-1].code == "pressure_not_read"
