"""Acts from pages: the same calls as the API's doors; what is refused is told beside the form."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client

from findings.deferrals.models import Deferral
from tests.makers import NOW, make_site
from tests.people import member
from tests.workorders.desk.reader import content_of, reader, reader_for
from tests.workorders.desk.test_first_page import leak
from tests.workorders.scene import after_reading, gas_heard, in_state, ordered, repaired
from workorders.orders.models import RepairReport, WorkOrder
from workorders.orders.rules import OrderState

pytestmark = pytest.mark.django_db

HOUR = timedelta(hours=1)


def send(browser: Client, order: WorkOrder, name: str, **given: Any) -> Any:
    """Send a move's form as the page would."""
    return browser.post(f"/orders/{order.pk}/moves/{name}/", {"version": order.version, **given})


def act(browser: Client, finding: Any, name: str, **given: Any) -> Any:
    """Send the form of an act on a finding."""
    finding.refresh_from_db()
    return browser.post(f"/findings/{finding.pk}/acts/{name}/", {"version": finding.version, **given})


def state_of(order: WorkOrder) -> tuple[str, int]:
    """Return what is stored now."""
    order.refresh_from_db()
    return order.state, order.version


class TestAMove:
    def test_goes_back_to_the_order_in_its_new_state(self):
        order = ordered(leak(make_site()))

        answer = send(reader(order.site, "technician"), order, "start")

        assert (answer.status_code, answer.headers["Location"]) == (302, f"/orders/{order.pk}/")
        assert state_of(order)[0] == "in_progress"

    def test_made_from_an_old_version_is_refused_and_told_with_the_present_state(self):
        order = ordered(leak(make_site()))
        other, mine = reader(order.site, "technician"), reader(order.site, "manager")
        send(other, order, "start")

        answer = send(mine, order, "wait", wait_reason="parts", text="a seal")

        body = answer.content.decode()
        words = content_of(answer)
        assert answer.status_code == 412
        assert "made it in_progress at version 2" in words
        assert 'value="a seal"' in body
        assert state_of(order) == ("in_progress", 2)

    def test_can_be_sent_again_after_a_look(self):
        order = ordered(leak(make_site()))
        send(reader(order.site, "technician"), order, "start")
        browser = reader(order.site, "manager")

        send(browser, order, "wait", wait_reason="parts")
        order.version = 2
        answer = send(browser, order, "wait", wait_reason="parts")

        assert (answer.status_code, state_of(order)[0]) == (302, "waiting")

    def test_on_a_danger_starts_only_with_the_isolation_confirmed(self):
        order = ordered(gas_heard())
        browser = reader(order.site, "technician")

        refused = send(browser, order, "start")
        started = send(browser, order, "start", isolation_confirmed="on")

        assert refused.status_code == 400
        assert "only once the isolation is confirmed" in content_of(refused)
        assert (started.status_code, state_of(order)[0]) == (302, "in_progress")

    def test_without_its_evidence_is_told_beside_the_form(self):
        order = in_state(OrderState.IN_PROGRESS, leak(make_site()))

        answer = send(
            reader(order.site, "technician"),
            order,
            "report_repair",
            outcome="fixed",
            action_taken="New seal.",
        )

        assert answer.status_code == 422
        assert "still needs: “When it was done”" in content_of(answer)
        assert "Needed for this move." in content_of(answer)
        assert state_of(order)[0] == "in_progress"

    def test_reports_a_repair_with_its_parts_and_times_by_the_sites_clocks(self):
        order = in_state(OrderState.IN_PROGRESS, leak(make_site()))

        answer = send(
            reader(order.site, "technician"),
            order,
            "report_repair",
            outcome="fixed",
            action_taken="New seal.",
            repaired_at="2026-03-02T10:15",
            parts="seal 1/2, tape",
            labour_hours="1.5",
            cost="12.40",
        )

        report = RepairReport.objects.get(order=order)
        assert answer.status_code == 302
        assert report.repaired_at == NOW.replace(hour=9, minute=15)
        assert (report.parts, str(report.cost), report.currency) == (["seal 1/2", "tape"], "12.40", "EUR")

    def test_of_somebody_without_the_right_changes_nothing(self):
        order = ordered(leak(make_site()))

        answer = send(reader(order.site, "inspector"), order, "cancel", cancel_reason="duplicate")

        assert (answer.status_code, state_of(order)) == (403, ("ready", 1))

    @pytest.mark.parametrize("name", ["reopen", "close_all", "%00"])
    def test_that_no_page_offers_is_not_found(self, name):
        order = ordered(leak(make_site()))

        assert send(reader(order.site), order, name).status_code == 404

    @pytest.mark.parametrize("version", ["", "0", "x", "9" * 40, "-1"])
    def test_without_a_version_is_not_made(self, version):
        order = ordered(leak(make_site()))

        answer = reader(order.site).post(f"/orders/{order.pk}/moves/start/", {"version": version})

        assert answer.status_code == 400
        assert state_of(order) == ("ready", 1)

    @pytest.mark.parametrize(
        "when", ["0001-01-01T00:00", "9999-12-31T23:59", "2026-03-29T02:30", "nan", "\x00"]
    )
    def test_bears_any_moment(self, when):
        order = in_state(OrderState.IN_PROGRESS, leak(make_site()))

        answer = send(
            reader(order.site), order, "report_repair", outcome="fixed", action_taken="x", repaired_at=when
        )

        assert 400 <= answer.status_code < 500
        assert state_of(order)[0] == "in_progress"

    def test_needs_the_forms_own_token(self):
        order = ordered(leak(make_site()))
        browser = Client(enforce_csrf_checks=True)
        browser.force_login(member(order.site))

        answer = send(browser, order, "start")

        assert (answer.status_code, state_of(order)) == (403, ("ready", 1))
        assert "load the page again" in content_of(answer)

    def test_is_offered_only_to_those_who_may(self):
        order = ordered(leak(make_site()))

        offered = {
            role: f"/orders/{order.pk}/moves/start/"
            in reader(order.site, role).get(f"/orders/{order.pk}/").content.decode()
            for role in ("technician", "planner", "inspector", "manager")
        }

        assert offered == {"technician": True, "planner": False, "inspector": False, "manager": True}


class TestActsOnAFinding:
    def test_open_an_order_once(self):
        finding = leak(make_site())
        browser = reader(finding.site, "planner")

        first = act(browser, finding, "order", title="Mend the coupling")
        again = act(browser, finding, "order")

        assert (first.status_code, again.status_code) == (302, 409)
        assert "is on W-1 already" in content_of(again)

    def test_dismiss_it_in_words(self):
        finding = leak(make_site())
        browser = reader(finding.site, "inspector")

        mute = act(browser, finding, "dismiss", dismiss_reason="no_fault_found", text="no")
        told = act(
            browser, finding, "dismiss", dismiss_reason="no_fault_found", text="A relief valve at work."
        )

        finding.refresh_from_db()
        assert (mute.status_code, told.status_code, finding.status) == (400, 302, "dismissed")

    def test_judge_a_repair_by_a_reading_after_it(self):
        finding = leak(make_site())
        repaired(ordered(finding, at=NOW + HOUR), NOW + 2 * HOUR)
        reading = after_reading(finding, NOW + 3 * HOUR)
        browser = reader(finding.site, "inspector")

        page = content_of(browser.get(f"/findings/{finding.pk}/"))
        answer = act(browser, finding, "verify", reading_id=str(reading.pk))

        finding.refresh_from_db()
        assert "Judge the repair" in page
        assert (answer.status_code, finding.status) == (302, "closed")
        assert "Check: passed" in content_of(browser.get(f"/findings/{finding.pk}/"))

    def test_judge_by_no_other_reading(self):
        finding, other = leak(make_site()), leak(make_site())
        repaired(ordered(finding, at=NOW + HOUR), NOW + 2 * HOUR)
        stranger = after_reading(other, NOW + 3 * HOUR)

        answer = act(reader(finding.site), finding, "verify", reading_id=str(stranger.pk))

        finding.refresh_from_db()
        assert (answer.status_code, finding.status) == (400, "repaired")

    def test_are_refused_without_their_right(self):
        finding = leak(make_site())

        answer = act(
            reader(finding.site, "technician"),
            finding,
            "close",
            closure_reason="branch_isolated",
            closure_text="Valve 12 is locked shut.",
        )

        finding.refresh_from_db()
        assert (answer.status_code, finding.status) == (403, "open")


class TestADeferral:
    def asked(self, finding: Any, browser: Client) -> Deferral:
        answer = act(
            browser,
            finding,
            "defer",
            reason="shutdown_needed",
            text="The line stops on Sunday.",
            until_at="2026-03-08T06:00",
            interim_measures="Taped off, air watched.",
        )
        assert answer.status_code == 302
        return Deferral.objects.get(finding=finding)

    def test_of_a_danger_takes_two_people(self):
        gas = gas_heard()
        asker, other = reader(gas.site), reader(gas.site)
        deferral = self.asked(gas, asker)
        path = f"/deferrals/{deferral.pk}/approve/"

        own = asker.post(path, {"version": deferral.version})
        shown = content_of(other.get(f"/sites/{gas.site.code}/"))
        granted = other.post(path, {"version": deferral.version})

        gas.refresh_from_db()
        assert "The line stops on Sunday." in shown
        assert (own.status_code, granted.status_code, gas.status) == (403, 302, "deferred")

    def test_can_be_refused(self):
        finding = leak(make_site())
        deferral = self.asked(finding, reader(finding.site, "technician"))

        answer = reader(finding.site).post(f"/deferrals/{deferral.pk}/refuse/", {"version": deferral.version})

        finding.refresh_from_db()
        assert (answer.status_code, finding.status) == (302, "open")

    @pytest.mark.parametrize(
        ("answer", "data", "status"), [("grant", {"version": 1}, 404), ("approve", {}, 400)]
    )
    def test_takes_no_other_answer(self, answer, data, status):
        finding = leak(make_site())
        deferral = self.asked(finding, reader(finding.site, "technician"))

        assert reader(finding.site).post(f"/deferrals/{deferral.pk}/{answer}/", data).status_code == status

    def test_is_not_a_strangers_to_answer(self):
        finding = leak(make_site())
        deferral = self.asked(finding, reader(finding.site, "technician"))

        for browser in (reader(make_site()), reader_for(member(make_site(), "inspector"))):
            assert browser.post(f"/deferrals/{deferral.pk}/approve/", {"version": 1}).status_code == 404
