"""Who hears of what."""

from __future__ import annotations

from findings.plant.rules import Role
from workorders.inbox.rules import ASKING, TOLD, NoticeKind, People, Telling, addressees

PEOPLE = People(
    {
        Role.TECHNICIAN: frozenset({1, 2}),
        Role.PLANNER: frozenset({3}),
        Role.MANAGER: frozenset({4}),
    }
)
ESCALATED = TOLD["finding.escalated"]


class TestAddressees:
    def test_are_the_roles_people(self) -> None:
        assert addressees(TOLD["deferral.requested"], PEOPLE, actor=3) == {4}

    def test_leave_out_who_did_it(self) -> None:
        assert addressees(TOLD["deferral.requested"], PEOPLE, actor=4) == frozenset()

    def test_of_a_step_are_those_of_its_role(self) -> None:
        assert addressees(ESCALATED, PEOPLE, to_role=Role.PLANNER) == {3}

    def test_of_a_reminder_are_the_one_whom_the_order_names(self) -> None:
        assert addressees(ESCALATED, PEOPLE, to_role=Role.TECHNICIAN, assignee=2) == {2}

    def test_of_a_reminder_are_all_technicians_where_the_named_one_left(self) -> None:
        assert addressees(ESCALATED, PEOPLE, to_role=Role.TECHNICIAN, assignee=9) == {1, 2}

    def test_are_the_managers_where_nobody_has_the_role(self) -> None:
        assert addressees(ESCALATED, PEOPLE, to_role=Role.INSPECTOR) == {4}

    def test_never_work_elsewhere(self) -> None:
        told = TOLD["deferral.approved"]

        assert addressees(told, PEOPLE, requester=9) == frozenset()

    def test_are_nobody_where_a_site_has_no_people(self) -> None:
        assert addressees(ESCALATED, People({}), to_role=Role.MANAGER) == frozenset()

    def test_of_an_order_are_whoever_it_names_and_the_planner(self) -> None:
        assert addressees(TOLD["verification.failed"], PEOPLE, assignee=1) == {1, 3}


class TestKinds:
    def test_every_kind_comes_from_an_act(self) -> None:
        assert {telling.kind for telling in TOLD.values()} == set(NoticeKind)

    def test_a_closed_month_asks_nothing(self) -> None:
        assert NoticeKind.MONTH_CLOSED not in ASKING

    def test_an_escalation_asks(self) -> None:
        assert NoticeKind.ESCALATED in ASKING

    def test_nobody_is_told_by_default(self) -> None:
        assert addressees(Telling(NoticeKind.RESUMED), PEOPLE) == frozenset()
