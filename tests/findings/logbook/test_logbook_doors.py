"""The logbook: read by program, and proved to be whole."""

import pytest
from django.db import connection

from findings.logbook.models import Entry
from tests import makers, people

pytestmark = pytest.mark.django_db


@pytest.fixture
def site():
    return makers.make_site()


@pytest.fixture
def api(site):
    return people.api_as("manager", site)


@pytest.fixture
def area(api, site):
    area = makers.make_area(site)
    api.patch(f"/areas/{area.pk}", {"name": "Ovens"}, version=1)
    api.patch(f"/areas/{area.pk}", {"name": "Doughs"}, version=2)
    return area


class TestLogbookEntries:
    def test_tell_the_history_of_one_thing(self, api, site, area):
        api.post("/areas", {"site_id": str(site.pk), "code": "H9", "name": "Hall"})

        rows = api.get("/logbook-entries", subject_id=str(area.pk)).json()["results"]

        changes = [row["detail"]["changed"]["name"] for row in rows]
        assert changes == [["Ovens", "Doughs"], ["Wrapping hall", "Ovens"]]

    def test_name_who_acted_and_the_request(self, api, area):
        row = api.get("/logbook-entries").json()["results"][0]

        assert row["actor_name"].startswith("manager")
        assert row["request_id"]
        assert len(row["hash"]) == 64

    def test_are_read_only(self, api, area):
        assert api.post("/logbook-entries", {}).status_code == 405
        assert api.patch(f"/logbook-entries/{Entry.objects.first().pk}", {}, version=1).status_code == 405

    def test_refuse_an_unknown_filter(self, api):
        assert api.get("/logbook-entries", subject="x").json()["code"] == "unknown_parameter"


class TestLogbookCheck:
    def test_finds_the_chain_whole(self, api, site, area):
        answer = api.get("/logbook-check", site_id=str(site.pk)).json()

        assert answer == {"whole": True, "length": 2, "broken_at": None, "why": ""}

    def test_finds_an_altered_entry(self, api, site, area):
        with connection.cursor() as cursor:
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
            cursor.execute("ALTER TABLE findings_entry DISABLE TRIGGER only_added")
            cursor.execute("UPDATE findings_entry SET reason = 'forged' WHERE sequence = 1")

        answer = api.get("/logbook-check", site_id=str(site.pk)).json()

        assert (answer["whole"], answer["broken_at"]) == (False, 1)

    def test_asks_for_a_site(self, api):
        assert api.get("/logbook-check").json()["errors"][0]["pointer"] == "?site_id"
