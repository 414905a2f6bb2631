"""The doors of the orders room."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from tests.makers import make_site
from tests.people import Api, api_as, api_for, member
from tests.workorders.scene import air_point, gas_heard, gas_point, heard, in_state, ordered
from workorders.orders.models import WorkOrder
from workorders.orders.rules import OrderState

SHUT = {"closure_reason": "branch_isolated", "closure_text": "Valve 12 is locked shut."}


@pytest.mark.django_db
class TestCreate:
    def test_answers_with_the_address_and_the_version(self) -> None:
        finding = heard()

        answer = api_as("planner", finding.site).post("/work-orders", {"finding_ids": [str(finding.pk)]})

        assert (answer.status_code, answer["ETag"]) == (201, '"v1"')
        assert answer["Location"].endswith(answer.json()["id"])

    def test_takes_an_assignee_by_the_id_that_the_outside_knows(self) -> None:
        finding = heard()
        technician = member(finding.site, "technician")
        body = {"finding_ids": [str(finding.pk)], "assignee_id": str(technician.public_id)}

        answer = api_as("planner", finding.site).post("/work-orders", body)

        assert answer.json()["assignee_id"] == str(technician.public_id)

    def test_tells_nobody_whether_a_person_exists(self) -> None:
        finding = heard()
        stranger = member(make_site(), "technician")
        ids = [str(stranger.public_id), str(finding.pk)]
        api = api_as("planner", finding.site)

        answers = [
            api.post("/work-orders", {"finding_ids": [str(finding.pk)], "assignee_id": one}).json()["code"]
            for one in ids
        ]

        assert answers == ["assignee_unknown", "assignee_unknown"]

    def test_of_a_foreign_finding_is_refused_as_unknown(self) -> None:
        finding = heard()

        answer = api_as("planner", make_site()).post("/work-orders", {"finding_ids": [str(finding.pk)]})

        assert (answer.status_code, answer.json()["code"]) == (400, "unknown_reference")

    def test_takes_the_right_to_plan(self) -> None:
        finding = heard()

        answer = api_as("technician", finding.site).post("/work-orders", {"finding_ids": [str(finding.pk)]})

        assert answer.status_code == 403
        assert not WorkOrder.objects.exists()

    def test_a_second_time_names_the_open_order(self) -> None:
        order = in_state(OrderState.READY)
        finding_id = listed(api_as("planner", order.site), f"/work-orders/{order.pk}")["findings"][0]["id"]

        answer = api_as("planner", order.site).post("/work-orders", {"finding_ids": [finding_id]})

        assert (answer.status_code, answer.json()["order_id"]) == (409, str(order.pk))


@pytest.mark.django_db
class TestList:
    def test_shows_only_the_sites_of_the_caller(self) -> None:
        mine, _ = ordered(heard()), ordered(heard())

        answer = listed(api_as("inspector", mine.site), "/work-orders")

        assert [row["id"] for row in answer["results"]] == [str(mine.pk)]

    @pytest.mark.parametrize(
        ("query", "count"),
        [
            ({"open": "true"}, 2),
            ({"open": "false"}, 1),
            ({"state": "ready,closed"}, 3),
            ({"is_safety": "true"}, 1),
            ({"priority": "P1"}, 1),
            ({"q": "pressure"}, 3),
            ({"q": "gearbox"}, 0),
        ],
    )
    def test_narrows(self, query: dict[str, str], count: int) -> None:
        site = make_site()
        ordered(gas_heard(gas_point(site)))
        ordered(heard(air_point(site)))
        in_state(OrderState.CLOSED, heard(air_point(site)))

        assert len(listed(api_as("planner", site), "/work-orders", **query)["results"]) == count

    @pytest.mark.parametrize(("overdue", "states"), [("true", ["ready"]), ("false", ["closed"])])
    def test_tells_what_is_late(self, overdue: str, states: list[str]) -> None:
        # The clock of the door is the real one: years after the promised time.
        site = make_site()
        long_ago = timezone.now() - timedelta(days=200)
        ordered(heard(air_point(site), long_ago), at=long_ago)
        in_state(OrderState.CLOSED, heard(air_point(site), long_ago), long_ago)

        rows = listed(api_as("planner", site), "/work-orders", overdue=overdue)["results"]

        assert [row["state"] for row in rows] == states

    def test_finds_the_orders_of_a_finding(self) -> None:
        finding = heard()
        order = ordered(finding)

        rows = listed(api_as("planner", order.site), "/work-orders", finding_id=str(finding.pk))["results"]

        assert [row["id"] for row in rows] == [str(order.pk)]

    def test_refuses_a_filter_it_does_not_know(self) -> None:
        order = ordered(heard())

        assert api_as("planner", order.site).get("/work-orders", status="open").status_code == 400

    @pytest.mark.parametrize("ordering", ["opened_at", "-opened_at", "due_at", "priority", "number"])
    def test_pages_in_every_order(self, ordering: str) -> None:
        site = make_site()
        for _ in range(3):
            ordered(heard(air_point(site)))
        api = api_as("planner", site)
        first = listed(api, "/work-orders", ordering=ordering, limit=2)

        second = api.get(first["next"].split("testserver")[1]).json()

        assert len({row["id"] for row in first["results"] + second["results"]}) == 3


@pytest.mark.django_db
class TestPaper:
    def test_shows_findings_cautions_reasons_and_reports(self) -> None:
        order = in_state(OrderState.REPAIRED, gas_heard())

        paper = listed(api_as("inspector", order.site), f"/work-orders/{order.pk}")

        assert (paper["findings"][0]["status"], paper["repair_reports"][0]["outcome"]) == (
            "repaired",
            "fixed",
        )
        assert paper["cautions"][0]["key"] == "fuel_gas"
        assert "hazard_floor" in {reason["code"] for reason in paper["priority_reasons"]}

    def test_offers_the_moves_that_the_caller_may_make(self) -> None:
        order = in_state(OrderState.READY, gas_heard())

        offered = listed(api_as("technician", order.site), f"/work-orders/{order.pk}")["allowed_moves"]

        assert offered == [
            {"move": "start", "target": "in_progress", "needs": ["isolation_confirmed"], "when": {}}
        ]

    def test_is_hidden_from_other_sites(self) -> None:
        order = ordered(heard())

        assert api_as("manager", make_site()).get(f"/work-orders/{order.pk}").status_code == 404


@pytest.mark.django_db
class TestMoves:
    def test_answer_with_the_new_state(self) -> None:
        order = in_state(OrderState.READY)

        answer = moved(api_as("technician", order.site), order, {"move": "start"})

        assert (answer.status_code, answer.json()["state"], answer["ETag"]) == (200, "in_progress", '"v2"')

    def test_are_refused_without_the_version(self) -> None:
        order = in_state(OrderState.READY)

        answer = api_as("technician", order.site).post(f"/work-orders/{order.pk}/moves", {"move": "start"})

        assert answer.status_code == 428

    def test_are_refused_from_an_older_version(self) -> None:
        order = in_state(OrderState.IN_PROGRESS)

        answer = api_as("manager", order.site).post(
            f"/work-orders/{order.pk}/moves", {"move": "wait", "wait_reason": "parts"}, version=1
        )

        assert (answer.status_code, answer.json()["current_version"]) == (412, 2)

    def test_name_the_right_that_is_missing(self) -> None:
        order = in_state(OrderState.READY)

        answer = moved(api_as("inspector", order.site), order, {"move": "start"})

        assert (answer.status_code, answer.json()["code"]) == (403, "right_missing")

    def test_name_the_evidence_that_is_missing(self) -> None:
        order = in_state(OrderState.IN_PROGRESS)

        answer = moved(api_as("technician", order.site), order, {"move": "report_repair", "outcome": "fixed"})

        assert answer.status_code == 422
        assert [error["pointer"] for error in answer.json()["errors"]] == ["/action_taken", "/repaired_at"]

    def test_take_no_verdict_from_outside(self) -> None:
        order = in_state(OrderState.REPAIRED)

        answer = moved(api_as("manager", order.site), order, {"move": "close", "verdict": "passed"})

        assert answer.json()["errors"][0]["code"] == "unknown_member"

    def test_close_by_a_reason(self) -> None:
        order = in_state(OrderState.READY)

        answer = moved(api_as("manager", order.site), order, {"move": "close", **SHUT})

        assert answer.json()["state"] == "closed"

    @pytest.mark.parametrize(
        "body",
        [
            {"move": "fly"},
            {"move": "start\x00"},
            {},
            {"move": "wait", "wait_reason": "weather"},
            {"move": "report_repair", "cost": "1e30"},
            {"move": "report_repair", "labour_hours": "-1"},
            {"move": "report_repair", "repaired_at": "0000-01-01T00:00:00Z"},
        ],
    )
    def test_refuse_nonsense_by_the_member(self, body: dict[str, Any]) -> None:
        order = in_state(OrderState.IN_PROGRESS)

        assert moved(api_as("manager", order.site), order, body).status_code == 400


@pytest.mark.django_db
class TestPriority:
    def test_is_raised_by_who_may_plan(self) -> None:
        order = in_state(OrderState.READY)

        answer = ranked(api_as("planner", order.site), order, {"priority": "P2"})

        assert (answer.json()["priority"], answer.json()["computed_priority"]) == (
            "P2",
            order.computed_priority,
        )

    def test_brings_its_own_due_time(self) -> None:
        order = in_state(OrderState.READY)

        answer = ranked(api_as("planner", order.site), order, {"priority": "P1"})

        assert answer.json()["due_at"] == (order.opened_at + timedelta(hours=24)).strftime(
            "%Y-%m-%dT%H:%M:%SZ"
        )

    def test_is_lowered_only_with_a_reason(self) -> None:
        order = in_state(OrderState.READY)
        api = api_as("planner", order.site)
        ranked(api, order, {"priority": "P1"})
        answers = [
            ranked(api, order, body).status_code
            for body in ({"priority": "P3"}, {"priority": "P3", "reason": "Stands still until May."})
        ]

        assert answers == [400, 200]

    def test_of_a_safety_order_never_falls_below_the_reckoned(self) -> None:
        order = ordered(gas_heard())

        answer = ranked(api_as("manager", order.site), order, {"priority": "P2", "reason": "It is small."})

        assert answer.json()["code"] == "priority_below_safety"


@pytest.mark.django_db
class TestChange:
    def test_says_it_anew_from_the_version_that_was_read(self) -> None:
        order = in_state(OrderState.READY)

        answer = api_as("planner", order.site).patch(
            f"/work-orders/{order.pk}", {"title": "Seal the coupling"}, version=1
        )

        assert (answer.json()["title"], answer.json()["version"]) == ("Seal the coupling", 2)

    def test_is_refused_once_the_order_has_ended(self) -> None:
        order = in_state(OrderState.CANCELLED)

        answer = api_as("planner", order.site).patch(
            f"/work-orders/{order.pk}", {"title": "Seal it"}, version=order.version
        )

        assert answer.json()["code"] == "order_ended"


@pytest.mark.django_db
class TestServiceLevels:
    def test_are_there_from_the_first_look(self) -> None:
        site = make_site()

        rows = listed(api_as("inspector", site), "/service-levels", site_id=str(site.pk))["results"]

        assert [(row["priority"], row["repair_hours"], row["repair_days"]) for row in rows] == [
            ("P1", "24.00", None),
            ("P2", None, 15),
            ("P3", None, 30),
            ("P4", None, 90),
        ]

    def test_are_changed_by_who_may_plan(self) -> None:
        answer = level_changed("planner", "P3", {"repair_days": 21})

        assert (answer.status_code, answer.json()["repair_days"]) == (200, 21)

    def test_of_hazard_classes_are_only_shortened(self) -> None:
        answer = level_changed("manager", "P1", {"repair_hours": "48.00"})

        assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (422, "/repair_hours")

    def test_are_given_in_hours_or_in_days(self) -> None:
        answer = level_changed("planner", "P3", {"repair_days": 21, "repair_hours": "3.00"})

        assert answer.status_code == 422

    def test_are_not_changed_by_who_may_only_look(self) -> None:
        assert level_changed("inspector", "P3", {"repair_days": 21}).status_code == 403

    def test_leave_orders_what_they_were_promised(self) -> None:
        order = in_state(OrderState.READY)
        level_changed("manager", order.priority, {"repair_days": 2}, site=order.site)

        due_at = order.due_at
        order.refresh_from_db()

        assert order.due_at == due_at


def listed(api: Api, path: str, **query: Any) -> Any:
    """Ask for a path and return its body."""
    answer = api.get(path, **query)
    assert answer.status_code == 200, answer.json()
    return answer.json()


def moved(api: Api, order: WorkOrder, body: dict[str, Any]) -> Any:
    """Ask for a move from the version that is stored."""
    order.refresh_from_db()
    return api.post(f"/work-orders/{order.pk}/moves", body, version=order.version)


def ranked(api: Api, order: WorkOrder, body: dict[str, Any]) -> Any:
    """Ask for a priority."""
    return api.post(f"/work-orders/{order.pk}/priority", body)


def level_changed(role: str, priority: str, body: dict[str, Any], site: Any = None) -> Any:
    """Ask for other times of a class."""
    site = site or make_site()
    api = api_for(member(site, role))
    rows = listed(api, "/service-levels", site_id=str(site.pk), priority=priority)["results"]
    return api.patch(f"/service-levels/{rows[0]['id']}", body, version=rows[0]["version"])
