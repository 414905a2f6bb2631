"""Routes and visits: where to walk, and which visit a reading answers."""

from datetime import date, timedelta

import pytest

from findings.logbook.models import Entry
from findings.plant.models import MeasuringPoint
from findings.routes import actions, queries
from findings.routes.models import Stop, VisitRequest
from findings.routes.rules import EARLY, VisitReason, answers
from plantcare.api.identifiers import uuid7
from tests import makers, people

DUE = date(2026, 6, 30)


class TestAnswers:
    @pytest.mark.parametrize("reason", ["verification", "requested"])
    def test_the_next_reading_answers_a_plain_request(self, reason):
        assert answers(reason, DUE, DUE - timedelta(days=100))

    @pytest.mark.parametrize("reason", ["periodic", "after_repair"])
    def test_a_look_after_some_time_is_answered_only_near_its_day(self, reason):
        assert not answers(reason, DUE, DUE - EARLY - timedelta(days=1))
        assert answers(reason, DUE, DUE - EARLY)
        assert answers(reason, DUE, DUE + timedelta(days=100))


@pytest.fixture
def site():
    return makers.make_site()


@pytest.fixture
def api(site):
    return people.api_as("planner", site)


@pytest.mark.django_db
class TestStops:
    def test_are_replaced_in_the_order_given(self, api, site):
        asset = makers.make_asset(site, access_restrictions=["confined space: permit"])
        a, b, c = (makers.make_point(asset=asset) for _ in range(3))
        route = makers.make_route(points=[a, b])

        answer = api.post(
            f"/routes/{route.pk}/stops", {"point_ids": [str(p.pk) for p in (c, a)]}, version=1
        ).json()

        assert [(s["position"], s["point_id"]) for s in answer["stops"]] == [(1, str(c.pk)), (2, str(a.pk))]
        assert answer["stops"][0]["access_restrictions"] == ["confined space: permit"]
        assert answer["version"] == 2
        assert Entry.objects.get().act == "route.stops_set"

    def test_are_not_replaced_blindly_or_from_an_old_version(self, api, site):
        route = makers.make_route(points=[makers.make_point(site)])

        blind = api.post(f"/routes/{route.pk}/stops", {"point_ids": []})
        late = api.post(f"/routes/{route.pk}/stops", {"point_ids": []}, version=9)

        assert (blind.status_code, late.status_code) == (428, 412)
        assert Stop.objects.count() == 1

    def test_refuse_foreign_repeated_and_retired_points(self, api, site):
        point, foreign = makers.make_point(site), makers.make_point(makers.make_us_site())
        gone = makers.make_point(site, retired_at=makers.NOW)
        route = makers.make_route(points=[point])

        def codes(*points):
            answer = api.post(
                f"/routes/{route.pk}/stops", {"point_ids": [str(p.pk) for p in points]}, version=1
            )
            return [(e["pointer"], e["code"]) for e in answer.json()["errors"]]

        assert codes(point, foreign) == [("/point_ids/1", "unknown_reference")]
        assert codes(point, point) == [("/point_ids/1", "point_repeated")]
        assert codes(point, gone) == [("/point_ids/1", "point_retired")]
        assert queries.stops_of(route.pk)[0].point == point


@pytest.mark.django_db
class TestVisitRequests:
    def test_are_asked_for_once_per_origin(self, site):
        point = makers.make_point(site)
        who = people.actor_at(site, "planner")
        wish = {
            "actor": who,
            "at": makers.NOW,
            "site_id": site.pk,
            "point_id": point.pk,
            "reason": VisitReason.PERIODIC,
            "origin": "rule:periodic:2026-06",
        }

        first = actions.request_visit(**wish, due_on=DUE)
        again = actions.request_visit(**wish, due_on=DUE + timedelta(days=9))

        assert first == again
        assert again.due_on == DUE
        assert Entry.objects.count() == 1

    def test_leave_the_logbook_to_the_act_they_are_part_of(self, site):
        point = makers.make_point(site)

        actions.request_visit(
            actor=people.actor_at(site),
            at=makers.NOW,
            site_id=site.pk,
            point_id=point.pk,
            reason="verification",
            origin="order:1",
            due_on=DUE,
            log=False,
        )

        assert VisitRequest.objects.count() == 1
        assert not Entry.objects.exists()

    def test_are_done_by_a_reading_that_answers_them(self, site):
        point = makers.make_point(site)
        soon = makers.make_visit(point, due_on=DUE)
        later = makers.make_visit(point, reason="after_repair", due_on=DUE + timedelta(days=90))
        elsewhere = makers.make_visit(makers.make_point(site), due_on=DUE)
        reading_id = uuid7()

        done = actions.visit_done(site_id=site.pk, point_id=point.pk, reading_id=reading_id, on=DUE)

        assert done == 1
        states = dict(VisitRequest.objects.values_list("pk", "state"))
        assert states == {soon.pk: "done", later.pk: "wanted", elsewhere.pk: "wanted"}
        assert VisitRequest.objects.get(pk=soon.pk).reading_id == reading_id

    def test_are_dropped_once_and_with_a_reason(self, api, site):
        visit = makers.make_visit(makers.make_point(site))
        path = f"/visit-requests/{visit.pk}/drop"

        assert api.post(path, {"reason": " "}).status_code == 400
        assert api.post(path, {"reason": "line removed"}).json()["state"] == "dropped"
        assert api.post(path, {"reason": "line removed"}).json()["code"] == "visit_settled"

    def test_are_listed_by_urgency(self, api, site):
        point = makers.make_point(site)
        late = makers.make_visit(point, due_on=DUE)
        early = makers.make_visit(point, due_on=DUE - timedelta(days=30))
        makers.make_visit(point, state="dropped", due_on=DUE)

        rows = api.get("/visit-requests", state="wanted").json()["results"]

        assert [row["id"] for row in rows] == [str(early.pk), str(late.pk)]
        assert list(queries.wanted_visits(site.pk, due_by=DUE - timedelta(days=1))) == [early]

    def test_take_a_point_of_the_site_only(self, site):
        foreign = makers.make_point(makers.make_us_site())

        answer = people.api_as("planner", site).post(
            "/visit-requests", {"point_id": str(foreign.pk), "due_on": "2026-05-01"}
        )

        assert (answer.status_code, answer.json()["code"]) == (400, "unknown_reference")
        assert MeasuringPoint.objects.count() == 1
