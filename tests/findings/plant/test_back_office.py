"""The back office: edits go through the acts, facts stay as they are."""

import pytest
from django.test import Client
from django.urls import reverse

from findings.logbook.models import Entry
from findings.plant.models import Area, Asset, Membership, Site
from findings.supply.models import DatedValue
from findings.supply.rules import Quantity
from plantcare.people.models import ApiKey, User
from tests import makers, people

pytestmark = pytest.mark.django_db
READ_ONLY = ["visitrequest", "survey", "reading", "finding", "losssegment", "deferral", "entry"]
EDITABLE = [
    *["site", "membership", "area", "asset", "measuringpoint", "supplysystem", "compressor"],
    *["connection", "datedvalue", "instrument", "route"],
]


@pytest.fixture
def office():
    client = Client()
    client.force_login(people.make_superuser("root"))
    return client


def page(model, name="changelist", *args):
    return reverse(f"admin:findings_{model}_{name}", args=args)


class TestBackOffice:
    @pytest.mark.parametrize("model", [*READ_ONLY, *EDITABLE])
    def test_lists_everything_to_a_superuser(self, office, model):
        assert office.get(page(model)).status_code == 200

    @pytest.mark.parametrize("model", READ_ONLY)
    def test_adds_no_fact(self, office, model):
        assert office.get(page(model, "add")).status_code == 403

    @pytest.mark.parametrize("model", EDITABLE)
    def test_opens_a_form_for_what_has_an_act(self, office, model):
        assert office.get(page(model, "add")).status_code == 200

    def test_is_shut_for_staff_without_every_right(self):
        client = Client()
        client.force_login(people.make_user(is_staff=True))

        assert client.get(page("site")).status_code == 403

    def test_makes_a_site_by_the_act(self, office):
        given = {
            "code": "TBW",
            "name": "Tarnbeck Biscuit Works",
            "time_zone": "Europe/Berlin",
            "currency": "EUR",
            "unit_system": "metric",
            "atmosphere_pa": "101325",
        }

        answer = office.post(page("site", "add"), given)

        assert answer.status_code == 302
        site = Site.objects.get(code="TBW")
        assert Membership.objects.get(site=site).role == "manager"
        assert Entry.objects.get(site=site).act == "site.added"

    def test_says_why_an_act_was_refused(self, office):
        given = {"code": "X", "name": "X", "time_zone": "Mars/Base", "currency": "EUR"}
        form = {**given, "unit_system": "metric", "atmosphere_pa": "101325"}

        answer = office.post(page("site", "add"), form, follow=True)

        assert "tz database" in answer.content.decode()
        assert not Site.objects.filter(code="X").exists()

    def test_changes_an_area_and_logs_it(self, office):
        area = makers.make_area()

        office.post(
            page("area", "change", area.pk), {"code": area.code, "name": "Ovens", "seen_version": "1"}
        )

        area.refresh_from_db()
        assert (area.name, area.version) == ("Ovens", 2)
        assert Entry.objects.get().detail == {"changed": {"name": ["Wrapping hall", "Ovens"]}}

    def test_overwrites_no_newer_version(self, office):
        area = makers.make_area()
        Area.objects.filter(pk=area.pk).update(version=2, name="Newer")

        office.post(
            page("area", "change", area.pk), {"code": area.code, "name": "Older", "seen_version": "1"}
        )

        assert Area.objects.get(pk=area.pk).name == "Newer"

    def test_refuses_a_circle_of_assets(self, office):
        parent = makers.make_asset()
        part = makers.make_asset(parent=parent)
        form = {
            "code": parent.code,
            "name": parent.name,
            "area": str(parent.area_id),
            "parent": str(part.pk),
            "criticality": "B",
            "running_windows": "[]",
            "seen_version": "1",
        }

        answer = office.post(page("asset", "change", parent.pk), form, follow=True)

        assert "part of itself" in answer.content.decode()
        assert Asset.objects.get(pk=parent.pk).parent_id is None

    def test_shows_a_price_but_changes_none(self, office):
        price = makers.make_value(makers.make_site(), Quantity.ELECTRICITY_PRICE_PER_KWH, "0.20")

        answer = office.post(page("datedvalue", "change", price.pk), {"value": "9"})

        assert answer.status_code == 403
        assert DatedValue.objects.get(pk=price.pk).value == price.value

    def test_deletes_nothing(self, office):
        area = makers.make_area()

        assert office.post(page("area", "delete", area.pk), {"post": "yes"}).status_code == 403

    def test_ends_a_membership_by_the_act(self, office):
        site = makers.make_site()
        people.member(site, "manager")
        user = people.member(site, "planner")
        membership = Membership.objects.get(user=user)

        office.post(page("membership"), {"action": "end", "_selected_action": [str(membership.pk)]})

        membership.refresh_from_db()
        assert membership.ended_at is not None
        assert Entry.objects.get().act == "membership.ended"


class TestPeopleInTheBackOffice:
    def test_are_made_but_never_deleted(self, office):
        form = {"username": "ines", "password1": people.PASSWORD, "password2": people.PASSWORD}

        made = office.post(reverse("admin:people_user_add"), {**form, "usable_password": "true"})

        user = User.objects.get(username="ines")
        assert made.status_code == 302
        assert office.post(reverse("admin:people_user_delete", args=[user.pk])).status_code == 403

    def test_are_not_shown_to_staff_who_are_no_superusers(self):
        client = Client()
        client.force_login(people.make_user(is_staff=True))

        assert client.get(reverse("admin:people_user_changelist")).status_code == 403

    def test_show_keys_without_their_digest(self, office):
        people.api_for(people.make_user(), scopes=["view"])
        key = ApiKey.objects.get()

        page = office.get(reverse("admin:people_apikey_change", args=[key.pk])).content.decode()

        assert key.prefix in page
        assert "igest" not in page
