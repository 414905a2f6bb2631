"""Verifying a repair: what the verdict does to the finding, its order and the next visit."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from findings.kinds.base import Kind
from findings.logbook.queries import history_of
from findings.losses.queries import segments_of
from findings.plant.rules import Right
from findings.register.models import Finding
from findings.routes.models import VisitRequest
from plantcare.api.actor import Actor
from plantcare.api.problems import Forbidden
from tests.findings.conditions.bearings import Bearing
from tests.makers import NOW, make_asset, make_point, make_site
from tests.people import actor_at
from tests.workorders.scene import (
    LOUD,
    SILENT,
    after_reading,
    air_point,
    at_once,
    gas_heard,
    heard,
    listen,
    ordered,
    repaired,
    walk,
)
from workorders.orders.actions import open_due_orders
from workorders.orders.models import OrderFinding, WorkOrder
from workorders.verification.actions import (
    FindingNotRepaired,
    ReadingBeforeRepair,
    ReadingElsewhere,
    VerifierIsRepairer,
    judge_waiting,
    verify,
)
from workorders.verification.models import Verification

JOB = Actor.job("judge-repairs")
REPAIR = NOW + timedelta(hours=4)
CHECK = NOW + timedelta(days=2)
METERED: dict[str, Any] = {"flow_m3_per_s": 0.01, "flow_method": "flow_meter", "flow_u_m3_per_s": 0.001}


def mended(finding: Finding | None = None, by: Actor | None = None) -> tuple[Finding, WorkOrder]:
    """Hear a fault, order its repair and report it."""
    finding = finding or heard(**METERED)
    order = repaired(ordered(finding), REPAIR, by)
    finding.refresh_from_db()
    return finding, order


def judged(finding: Finding, reading_id: Any, by: Actor | None = None, **stated: Any) -> Verification:
    """Judge a reading as an inspector."""
    return verify(
        actor=by or actor_at(finding.site, "inspector"),
        at=CHECK,
        finding_id=finding.pk,
        reading_id=reading_id,
        rights=frozenset({Right.VERIFY}),
        **stated,
    )


@pytest.mark.django_db
class TestPassed:
    def test_closes_the_finding_on_that_reading(self) -> None:
        finding, _ = mended()
        reading = after_reading(finding, CHECK)

        judged(finding, reading.pk)

        finding.refresh_from_db()
        assert (finding.status, finding.closing_reading_id) == ("closed", reading.pk)

    def test_closes_the_order(self) -> None:
        finding, order = mended()

        judged(finding, after_reading(finding, CHECK).pk)

        order.refresh_from_db()
        assert (order.state, order.ended_at) == ("closed", CHECK)

    def test_asks_to_look_again_after_two_months(self) -> None:
        finding, _ = mended()

        judged(finding, after_reading(finding, CHECK).pk)

        visit = VisitRequest.objects.get(reason="after_repair")
        assert (visit.origin, visit.due_on) == (f"after-repair:{finding.pk}:1", date(2026, 5, 3))

    def test_confirms_the_end_of_the_loss(self) -> None:
        finding, _ = mended()

        judged(finding, after_reading(finding, CHECK).pk)

        assert segments_of(finding.pk).get().end_confirmed_at is not None

    def test_leaves_an_order_open_for_its_other_findings(self) -> None:
        site = make_site()
        one, other = heard(air_point(site)), heard(air_point(site))
        order = repaired(ordered(one, other), REPAIR)

        judged(one, after_reading(one, CHECK).pk)

        order.refresh_from_db()
        assert order.state == "repaired"
        assert OrderFinding.objects.get(finding=one).ended_at == CHECK

    def test_of_the_last_finding_closes_the_order(self) -> None:
        site = make_site()
        one, other = heard(air_point(site)), heard(air_point(site))
        order = repaired(ordered(one, other), REPAIR)

        for finding in (one, other):
            judged(finding, after_reading(finding, CHECK).pk)

        order.refresh_from_db()
        assert order.state == "closed"

    def test_and_leaking_again_gets_a_new_order(self) -> None:
        finding, order = mended()
        judged(finding, after_reading(finding, CHECK).pk)
        listen(finding.point, CHECK + timedelta(days=9))

        open_due_orders(actor=JOB, at=CHECK + timedelta(days=9))

        assert WorkOrder.objects.exclude(pk=order.pk).get().state == "ready"


@pytest.mark.django_db
class TestFailed:
    def test_opens_the_finding_again(self) -> None:
        finding, _ = mended()

        judged(
            finding, after_reading(finding, CHECK, **LOUD, kind="pressure_leak", medium="compressed_air").pk
        )

        finding.refresh_from_db()
        assert finding.status == "open"

    def test_brings_the_order_back_to_ready_with_a_new_clock(self) -> None:
        finding, order = mended()

        verdict = judged(finding, still_loud(finding)).verdict

        order.refresh_from_db()
        assert (verdict, order.state, order.clock_from_at) == ("failed", "ready", CHECK)

    def test_lets_the_loss_run_on_from_the_repair(self) -> None:
        finding, _ = mended()

        judged(finding, still_loud(finding))

        assert [segment.ended_at for segment in segments_of(finding.pk)] == [REPAIR, None]

    def test_keeps_the_order_tied_to_its_finding(self) -> None:
        finding, order = mended()

        judged(finding, still_loud(finding))

        assert OrderFinding.objects.get(finding=finding).order_id == order.pk

    def test_may_be_repaired_and_proven_the_second_time(self) -> None:
        finding, order = mended()
        judged(finding, still_loud(finding))
        again = CHECK + timedelta(days=1)
        repaired(WorkOrder.objects.get(pk=order.pk), again)
        later = again + timedelta(days=1)

        judged(finding, after_reading(finding, later).pk)

        order.refresh_from_db()
        assert order.state == "closed"

    def test_in_part_keeps_what_is_left(self) -> None:
        finding, order = mended()
        reading = listen(
            finding.point, CHECK, flow_m3_per_s=0.004, flow_method="flow_meter", flow_u_m3_per_s=1e-4
        )

        verification = judged(finding, reading.reading.pk)

        order.refresh_from_db()
        assert (verification.verdict, verification.residual_m3_per_s, order.state) == (
            "partial",
            Decimal("0.004"),
            "ready",
        )


@pytest.mark.django_db
class TestCannotTell:
    def test_under_other_pressure_changes_nothing_but_the_record(self) -> None:
        finding, order = mended()
        reading = after_reading(finding, CHECK, pressure_gauge_pa=100_000.0)

        verification = judged(finding, reading.pk)

        order.refresh_from_db()
        finding.refresh_from_db()
        assert (verification.verdict, order.state, finding.status) == ("cannot_tell", "repaired", "repaired")

    def test_says_why(self) -> None:
        finding, _ = mended()
        reading = after_reading(finding, CHECK, pressure_gauge_pa=100_000.0)

        assert [reason["code"] for reason in judged(finding, reading.pk).reasons] == ["other_pressure"]


@pytest.mark.django_db
class TestVerify:
    def test_judges_a_reading_once(self) -> None:
        finding, _ = mended()
        reading = after_reading(finding, CHECK)

        first, second = (judged(finding, reading.pk) for _ in range(2))

        assert first.pk == second.pk

    def test_writes_one_entry_of_its_own(self) -> None:
        finding, _ = mended()

        verification = judged(finding, after_reading(finding, CHECK).pk)

        assert [entry.act for entry in history_of(verification.pk)] == ["verification.passed"]

    def test_takes_the_right(self) -> None:
        finding, _ = mended()

        with pytest.raises(Forbidden):
            verify(
                actor=actor_at(finding.site, "technician"),
                at=CHECK,
                finding_id=finding.pk,
                reading_id=after_reading(finding, CHECK).pk,
                rights=frozenset({Right.REPAIR}),
            )

    def test_refuses_a_reading_of_another_point(self) -> None:
        finding, _ = mended()
        elsewhere = listen(air_point(finding.site), CHECK).reading

        with pytest.raises(ReadingElsewhere):
            judged(finding, elsewhere.pk)

    def test_refuses_a_reading_before_the_repair(self) -> None:
        finding = heard()
        early = after_reading(finding, NOW + timedelta(hours=1))
        mended(finding)

        with pytest.raises(ReadingBeforeRepair):
            judged(finding, early.pk)

    def test_refuses_what_was_never_repaired(self) -> None:
        finding = heard()

        with pytest.raises(FindingNotRepaired):
            judged(finding, after_reading(finding, CHECK).pk)


@pytest.mark.django_db
class TestSafety:
    def test_is_not_judged_by_the_repairer(self) -> None:
        finding = gas_heard()
        manager = actor_at(finding.site, "manager")
        mended(finding, manager)

        with pytest.raises(VerifierIsRepairer):
            judged(finding, after_reading(finding, CHECK).pk, manager)

    def test_is_not_judged_on_the_repairers_own_reading(self) -> None:
        finding = gas_heard()
        manager = actor_at(finding.site, "manager")
        mended(finding, manager)
        own = after_reading(finding, CHECK, by=manager)

        with pytest.raises(VerifierIsRepairer):
            judged(finding, own.pk)

    def test_is_not_judged_on_a_walk_of_the_repairer(self) -> None:
        finding = gas_heard()
        manager = actor_at(finding.site, "manager")
        mended(finding, manager)
        survey = walk(finding.site, CHECK, inspector_id=manager.user_id)

        with pytest.raises(VerifierIsRepairer):
            judged(finding, after_reading(finding, CHECK, survey=survey).pk)

    def test_is_judged_by_somebody_else(self) -> None:
        finding = gas_heard()
        mended(finding)

        assert judged(finding, after_reading(finding, CHECK).pk).verdict == "passed"

    def test_alone_keeps_judge_and_repairer_apart(self) -> None:
        finding = heard()
        manager = actor_at(finding.site, "manager")
        mended(finding, manager)

        assert judged(finding, after_reading(finding, CHECK).pk, manager).verdict == "passed"


@pytest.mark.django_db
class TestElectricalGear:
    def test_passes_on_a_qualified_statement_while_live(self) -> None:
        finding = discharge()

        verdict = judged(finding, silent_gear(finding), energised=True, qualified=True).verdict

        assert verdict == "passed"

    def test_proves_nothing_while_switched_off(self) -> None:
        finding = discharge()

        assert judged(finding, silent_gear(finding), energised=False, qualified=True).verdict == "cannot_tell"

    def test_is_left_to_people_by_the_job(self) -> None:
        silent_gear(discharge())

        judge_waiting(actor=JOB, at=CHECK)

        assert not Verification.objects.exists()


@pytest.mark.django_db
class TestWear:
    def test_passes_back_at_the_machines_own_baseline(self) -> None:
        bearing = Bearing().good()
        finding = mended(bearing.worn(52.0))[0]
        reading = bearing.listen(24.0, at=CHECK).reading

        assert judged(finding, reading.pk).verdict == "passed"

    def test_is_partial_above_the_baseline_however_far_it_fell(self) -> None:
        bearing = Bearing().good()
        finding = mended(bearing.worn(62.0))[0]
        reading = bearing.listen(36.0, at=CHECK).reading

        assert judged(finding, reading.pk).verdict == "partial"
        finding.refresh_from_db()
        assert (finding.status, finding.condition_severity) == ("open", 3)

    def test_cannot_tell_at_another_speed(self) -> None:
        bearing = Bearing().good()
        finding = mended(bearing.worn(52.0))[0]
        reading = bearing.listen(24.0, at=CHECK, shaft_speed_hz=40.0).reading

        verification = judged(finding, reading.pk)

        assert verification.verdict == "cannot_tell"
        assert "others_not_comparable" in {reason["code"] for reason in verification.reasons}

    def test_stays_open_after_a_new_bearing_until_it_has_a_baseline(self) -> None:
        bearing = Bearing().good()
        finding = mended(bearing.worn(52.0))[0]
        bearing.confirm(REPAIR, cause="new_bearing")
        early = judged(finding, bearing.listen(21.0, at=CHECK).reading.pk)
        for day in range(1, 6):
            bearing.listen(21.0, at=CHECK + timedelta(days=day))
        late = judged(finding, bearing.listen(21.5, at=CHECK + timedelta(days=7)).reading.pk)

        assert (early.verdict, early.reasons[0]["code"]) == ("cannot_tell", "no_baseline_yet")
        assert late.verdict == "passed"

    def test_is_judged_by_the_job_too(self) -> None:
        bearing = Bearing().good()
        mended(bearing.worn(52.0))
        bearing.listen(24.0, at=CHECK)

        assert judge_waiting(actor=JOB, at=CHECK)["passed"] == 1


@pytest.mark.django_db
class TestJudgeWaiting:
    def test_judges_what_was_read_after_its_repair(self) -> None:
        finding, _ = mended()
        after_reading(finding, CHECK)

        counts = judge_waiting(actor=JOB, at=CHECK)

        assert (counts["passed"], counts["failed"], counts["refused"]) == (1, 0, 0)

    def test_changes_nothing_the_second_time(self) -> None:
        finding, _ = mended()
        after_reading(finding, CHECK)
        judge_waiting(actor=JOB, at=CHECK)

        assert set(judge_waiting(actor=JOB, at=CHECK).values()) == {0}

    def test_leaves_a_repairers_own_reading_of_a_hazard(self) -> None:
        finding = gas_heard()
        manager = actor_at(finding.site, "manager")
        mended(finding, manager)
        after_reading(finding, CHECK, by=manager)

        assert judge_waiting(actor=JOB, at=CHECK)["refused"] == 1


@pytest.mark.django_db(transaction=True)
class TestTwoAtOnce:
    def test_judge_each_reading_once(self) -> None:
        site = make_site()
        for _ in range(3):
            finding, _ = mended(heard(air_point(site)))
            after_reading(finding, CHECK)

        results = at_once(*[lambda: judge_waiting(actor=JOB, at=CHECK)] * 2)

        assert [type(result) for result in results] == [dict, dict]
        assert Verification.objects.count() == 3
        assert set(WorkOrder.objects.values_list("state", flat=True)) == {"closed"}


def still_loud(finding: Finding) -> Any:
    """Take a reading as loud as before and return its id."""
    return listen(finding.point, CHECK, **METERED).reading.pk


def discharge() -> Finding:
    """Hear discharge in a panel, and report it repaired."""
    point = make_point(asset=make_asset(name="Panel 4"), method="electrical")
    found = heard(point, kind=Kind.ELECTRICAL_DISCHARGE, medium="", pressure_gauge_pa=None)
    return mended(found)[0]


def silent_gear(finding: Finding) -> Any:
    """Hear nothing at a panel and return the reading's id."""
    return listen(finding.point, CHECK, **{**SILENT, "pressure_gauge_pa": None}).reading.pk
