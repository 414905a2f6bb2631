"""Moving work orders: the whole square through the action, and what follows."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from findings.logbook.queries import history_of
from findings.register.actions import close_by_reading, close_by_reason, dismiss
from findings.register.models import Finding
from findings.routes.models import VisitRequest
from plantcare.api.problems import Forbidden
from tests.makers import NOW, make_site
from tests.people import actor_at, make_user
from tests.workorders.scene import (
    EVERY_RIGHT,
    after_reading,
    air_point,
    at_once,
    gas_heard,
    heard,
    in_state,
    listen,
    moved,
    ordered,
    repaired,
)
from workorders.orders.actions import (
    AssigneeUnknown,
    EvidenceMissing,
    EvidenceOutOfPlace,
    FindingsStillOpen,
    MoveNotAllowed,
    OrderChanged,
    ReadingElsewhere,
    RepairTimeRefused,
    move,
    settle_orders,
)
from workorders.orders.models import OrderFinding, RepairReport, WorkOrder
from workorders.orders.rules import MOVES, MoveName, OrderState

LEADS = {row.source: {r.name for r in MOVES if r.source is row.source} for row in MOVES}
LEADS_NOWHERE = [
    (state, name) for state in OrderState for name in MoveName if name not in LEADS.get(state, set())
]
LATER = NOW + timedelta(hours=2)
DAY_AFTER = NOW + timedelta(days=1)
REPORT: dict[str, Any] = {
    "outcome": "fixed",
    "action_taken": "Coupling tightened.",
    "repaired_at": NOW,
    "isolation_confirmed": True,
}
CLOSURE = {"closure_reason": "branch_isolated", "closure_text": "Valve 12 is locked shut."}
LEADS_ON = [
    ("draft", "release", "ready", {}),
    ("draft", "cancel", "cancelled", {"cancel_reason": "rejected"}),
    ("ready", "start", "in_progress", {}),
    ("ready", "wait", "waiting", {"wait_reason": "permit"}),
    ("ready", "cancel", "cancelled", {"cancel_reason": "duplicate"}),
    ("ready", "close", "closed", CLOSURE),
    ("scheduled", "start", "in_progress", {}),
    ("scheduled", "wait", "waiting", {"wait_reason": "parts"}),
    ("in_progress", "wait", "waiting", {"wait_reason": "access"}),
    ("in_progress", "report_repair", "repaired", REPORT),
    ("in_progress", "report_repair", "ready", {"outcome": "not_found", "text": "Silent today."}),
    ("in_progress", "report_repair", "waiting", {"outcome": "needs_shutdown", "text": "No valve."}),
    ("waiting", "resume", "ready", {}),
    ("waiting", "cancel", "cancelled", {"cancel_reason": "merged"}),
    ("repaired", "close", "closed", CLOSURE),
]


@pytest.mark.django_db
class TestSquare:
    @pytest.mark.parametrize(("state", "name"), LEADS_NOWHERE)
    def test_refuses_what_the_table_lacks_and_changes_nothing(
        self, state: OrderState, name: MoveName
    ) -> None:
        order = in_state(state)

        with pytest.raises(MoveNotAllowed):
            moved(order, name, LATER)

        assert WorkOrder.objects.get(pk=order.pk).version == order.version

    @pytest.mark.parametrize(("state", "name", "target", "proof"), LEADS_ON)
    def test_leads_where_the_table_says(
        self, state: str, name: str, target: str, proof: dict[str, Any]
    ) -> None:
        order = in_state(OrderState(state))

        after = moved(order, MoveName(name), LATER, **proof)

        assert (after.state, after.version) == (target, order.version + 1)

    def test_writes_one_entry_for_the_order(self) -> None:
        order = in_state(OrderState.READY)

        moved(order, MoveName.WAIT, wait_reason="parts", text="Ordered for Thursday.")

        last = history_of(order.pk).last()
        assert last is not None
        assert (last.act, last.reason, last.detail["to"]) == (
            "work_order.waiting",
            "Ordered for Thursday.",
            "waiting",
        )


@pytest.mark.django_db
class TestMove:
    def test_takes_the_right_of_its_row(self) -> None:
        order = in_state(OrderState.READY)

        with pytest.raises(Forbidden):
            move(
                actor=actor_at(order.site, "inspector"),
                at=LATER,
                order_id=order.pk,
                name=MoveName.CANCEL,
                evidence={"cancel_reason": "rejected"},
                rights=frozenset(),
            )

    def test_points_at_the_evidence_that_is_missing(self) -> None:
        order = in_state(OrderState.IN_PROGRESS)

        with pytest.raises(EvidenceMissing) as refused:
            moved(order, MoveName.REPORT_REPAIR, outcome="fixed")

        assert [error.pointer for error in refused.value.errors] == ["/action_taken", "/repaired_at"]

    @pytest.mark.parametrize(
        ("evidence", "pointer"), [("reading", "/reading_id"), ("assignee", "/assignee_id")]
    )
    def test_takes_an_id_only_where_it_is_looked_up(self, evidence: str, pointer: str) -> None:
        order = in_state(OrderState.READY)

        with pytest.raises(EvidenceOutOfPlace) as refused:
            moved(order, MoveName.WAIT, wait_reason="parts", **{evidence: order.pk})

        assert [error.pointer for error in refused.value.errors] == [pointer]

    def test_of_a_hazard_starts_only_behind_a_confirmed_isolation(self) -> None:
        order = ordered(gas_heard())

        with pytest.raises(EvidenceMissing, match="isolation"):
            moved(order, MoveName.START, isolation_confirmed=False)

    def test_schedules_only_who_repairs_here(self) -> None:
        order = in_state(OrderState.READY)

        with pytest.raises(AssigneeUnknown):
            moved(order, MoveName.SCHEDULE, scheduled_for=LATER, assignee=make_user().pk)

    def test_starts_in_the_name_of_who_starts_it(self) -> None:
        order = in_state(OrderState.READY)
        technician = actor_at(order.site, "technician")

        assert moved(order, MoveName.START, by=technician).assignee_id == technician.user_id

    def test_releases_with_a_clock_that_begins_then(self) -> None:
        order = in_state(OrderState.DRAFT)

        released = moved(order, MoveName.RELEASE, LATER)

        assert (released.clock_from_at, released.due_at - order.due_at) == (LATER, timedelta(hours=2))


@pytest.mark.django_db
class TestReportRepair:
    def test_keeps_what_was_done(self) -> None:
        order = in_state(OrderState.IN_PROGRESS)

        moved(
            order,
            MoveName.REPORT_REPAIR,
            LATER,
            **REPORT,
            cost=Decimal("84.50"),
            parts=["seal 20"],
            cause="worn",
        )

        report = RepairReport.objects.get(order=order)
        assert (report.cost, report.currency, report.parts, report.cause) == (
            Decimal("84.50"),
            "EUR",
            ["seal 20"],
            "worn",
        )

    def test_makes_its_findings_repaired(self) -> None:
        order = in_state(OrderState.REPAIRED)

        assert Finding.objects.get().status == "repaired"
        assert order.verify_by_at is not None

    def test_asks_for_a_visit_to_check_it(self) -> None:
        in_state(OrderState.REPAIRED)

        visit = VisitRequest.objects.get()
        assert (visit.reason, visit.state) == ("verification", "wanted")

    def test_leaves_a_fault_that_was_not_found_open(self) -> None:
        order = in_state(OrderState.IN_PROGRESS)

        moved(order, MoveName.REPORT_REPAIR, LATER, outcome="not_found", text="Silent today.")

        assert Finding.objects.get().status == "open"

    def test_refuses_a_repair_in_the_future(self) -> None:
        order = in_state(OrderState.IN_PROGRESS)

        with pytest.raises(RepairTimeRefused):
            moved(order, MoveName.REPORT_REPAIR, NOW, **{**REPORT, "repaired_at": LATER})


@pytest.mark.django_db
class TestEnd:
    def test_by_cancelling_closes_no_finding(self) -> None:
        in_state(OrderState.CANCELLED)

        assert Finding.objects.get().status == "open"

    def test_by_cancelling_lets_the_finding_be_ordered_again(self) -> None:
        order = in_state(OrderState.CANCELLED)

        assert ordered(Finding.objects.get(), at=LATER).number == order.number + 1

    def test_by_reason_closes_the_findings_with_it(self) -> None:
        in_state(OrderState.CLOSED)

        assert Finding.objects.get().closure_reason == "branch_isolated"

    def test_by_proof_is_refused_while_a_finding_is_open(self) -> None:
        order = in_state(OrderState.REPAIRED)

        with pytest.raises(FindingsStillOpen, match="F-1"):
            moved(order, MoveName.CLOSE, LATER, verification="v", verdict="passed")

    def test_is_undone_by_a_reading_at_its_point(self) -> None:
        order = in_state(OrderState.REPAIRED)
        proven_gone(order)
        reading = listen(Finding.objects.get().point, DAY_AFTER).reading

        reopened = moved(order, MoveName.REOPEN, DAY_AFTER, reading=reading.pk)

        assert (reopened.state, reopened.clock_from_at, reopened.ended_at) == ("ready", DAY_AFTER, None)
        assert OrderFinding.objects.get().ended_at is None

    def test_is_not_undone_by_a_reading_elsewhere(self) -> None:
        order = in_state(OrderState.CLOSED)
        reading = listen(air_point(order.site), LATER).reading

        with pytest.raises(ReadingElsewhere):
            moved(order, MoveName.REOPEN, LATER, reading=reading.pk)


@pytest.mark.django_db(transaction=True)
class TestTwoPlanners:
    def test_from_one_version_only_one_moves(self) -> None:
        order = ordered(heard())
        planners = [actor_at(order.site, "planner") for _ in range(3)]

        def wait(by: Any) -> WorkOrder:
            return move(
                actor=by,
                at=LATER,
                order_id=order.pk,
                name=MoveName.WAIT,
                evidence={"wait_reason": "parts"},
                rights=EVERY_RIGHT,
                version=order.version,
            )

        results = at_once(*(lambda by=by: wait(by) for by in planners))

        assert [type(result) for result in results].count(WorkOrder) == 1
        assert [type(result) for result in results].count(OrderChanged) == 2

    def test_the_refusal_names_both_states_and_who_was_first(self) -> None:
        order = ordered(heard())
        first = actor_at(order.site, "planner")
        moved(order, MoveName.WAIT, LATER, first, wait_reason="parts")

        with pytest.raises(OrderChanged) as refused:
            move(
                actor=actor_at(order.site, "planner"),
                at=LATER,
                order_id=order.pk,
                name=MoveName.START,
                evidence={},
                rights=EVERY_RIGHT,
                version=1,
            )

        assert first.name in refused.value.detail
        assert (refused.value.members["state"], refused.value.members["current_version"]) == ("waiting", 2)


@pytest.mark.django_db
class TestSettle:
    def test_closes_an_order_whose_finding_was_closed_by_reason(self) -> None:
        order = in_state(OrderState.READY)
        close_by_reason(
            actor=actor_at(order.site),
            at=LATER,
            finding_id=Finding.objects.get().pk,
            closure_reason="asset_decommissioned",
            closure_text="The line was taken away.",
        )

        settle_orders(actor=actor_at(order.site), at=LATER)

        assert WorkOrder.objects.get(pk=order.pk).state == "closed"

    def test_cancels_an_order_whose_finding_was_no_fault(self) -> None:
        order = in_state(OrderState.READY)
        dismiss(
            actor=actor_at(order.site),
            at=LATER,
            finding_id=Finding.objects.get().pk,
            dismiss_reason="no_fault_found",
            text="It was the fan beside it.",
        )

        settle_orders(actor=actor_at(order.site), at=LATER)

        settled = WorkOrder.objects.get(pk=order.pk)
        assert (settled.state, settled.cancel_reason) == ("cancelled", "rejected")

    def test_closes_an_order_whose_finding_was_proven_gone(self) -> None:
        order = in_state(OrderState.REPAIRED)

        proven_gone(order)

        assert WorkOrder.objects.get(pk=order.pk).state == "closed"

    def test_leaves_an_order_with_an_open_finding(self) -> None:
        site = make_site()
        order = ordered(heard(air_point(site)), heard(air_point(site)))

        assert settle_orders(actor=actor_at(order.site), at=LATER) == 0


@pytest.mark.django_db
def test_a_repair_of_two_findings_makes_both_repaired() -> None:
    site = make_site()

    repaired(ordered(heard(air_point(site)), heard(air_point(site))))

    assert set(Finding.objects.values_list("status", flat=True)) == {"repaired"}


def proven_gone(order: WorkOrder) -> None:
    """Close the finding of a repaired order by a silent reading, and let the order follow."""
    finding = Finding.objects.get()
    reading = after_reading(finding, LATER)
    actor = actor_at(order.site)
    close_by_reading(actor=actor, at=LATER, finding_id=finding.pk, reading_id=reading.pk)
    settle_orders(actor=actor, at=LATER)
