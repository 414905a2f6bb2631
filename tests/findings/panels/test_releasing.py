"""Who may release an opening, and what an overrule does and doesn't."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import IntegrityError

from findings.conditions.models import Condition
from findings.logbook.models import Entry
from findings.panels import actions
from findings.panels.models import OpeningRelease, PanelParticulars
from findings.panels.queries import kept_shut
from plantcare.api.problems import Invalid
from tests.findings.panels.scene import DAY, FOUND, ON_CONDITION, Panel
from tests.makers import NOW
from tests.people import actor, api_as, api_for, member

pytestmark = pytest.mark.django_db


def overrule(panel: Panel, condition: Condition, sound: str = "mains hum", **values: Any) -> Condition:
    given = {
        "actor": actor(panel.inspector),
        "at": NOW + 2 * DAY,
        "reason": "The transformer hums beside it.",
    }
    return actions.overrule(condition_id=condition.pk, sound=sound, **{**given, **values})


class TestARelease:
    def test_is_for_the_qualified_only(self):
        panel = Panel()
        panel.hear()
        panel.qualify()

        with pytest.raises(actions.NotQualified, match=panel.electrician.username):
            panel.release(NOW + 2 * DAY, by=panel.inspector)

    def test_is_not_for_those_whose_qualification_has_run_out(self):
        panel = Panel()
        panel.hear()
        panel.qualify(days=1)

        with pytest.raises(actions.NotQualified):
            panel.release(NOW + 2 * DAY)

    def test_is_not_for_those_whose_qualification_was_ended(self):
        panel = Panel()
        panel.hear()
        held = panel.qualify()
        actions.void_qualification(
            actor=actor(panel.manager), at=NOW + DAY, qualification_id=held.pk, reason="Left the trade"
        )

        with pytest.raises(actions.NotQualified):
            panel.release(NOW + 2 * DAY)

    def test_takes_a_person_at_a_log_in(self):
        panel = Panel()
        panel.hear()
        panel.qualify()
        body = {"finding_id": str(panel.finding().pk), "technique": "thermography", "found": FOUND}
        body |= {"conditions": ON_CONDITION, "until_at": (NOW + 9 * DAY).isoformat()}

        answer = api_for(panel.electrician, ["view", "release_opening"]).post("/opening-releases", body)

        assert (answer.status_code, answer.json()["code"]) == (403, "person_required")

    def test_opens_what_is_shut_and_says_so_in_the_logbook(self):
        panel = Panel()
        panel.hear()
        panel.qualify()
        before = Entry.objects.count()

        panel.release(NOW + 2 * DAY)

        assert kept_shut([panel.point.pk], NOW + 3 * DAY) == set()
        assert [entry.act for entry in Entry.objects.order_by("sequence")[before:]] == [
            "finding.opening_released"
        ]

    def test_is_refused_where_nothing_is_shut(self):
        panel = Panel()
        panel.hear("hum")
        panel.qualify()

        with pytest.raises(actions.NotKeptShut):
            panel.release(NOW + 2 * DAY)

    @pytest.mark.parametrize(
        "values",
        [{"found": "fine"}, {"conditions": "ok"}, {"days": 32}, {"days": 0}, {"technique": "sniffing"}],
    )
    def test_says_what_was_found_on_which_terms(self, values):
        panel = Panel()
        panel.hear()
        panel.qualify()

        with pytest.raises(Invalid):
            panel.release(NOW + 2 * DAY, **values)

    def test_is_not_given_by_whoever_judged_the_discharge_away(self):
        panel = Panel()
        condition = panel.hear()
        panel.qualify(panel.inspector)
        overrule(panel, condition)

        with pytest.raises(actions.OverruledByTheSame):
            panel.release(NOW + 3 * DAY, by=panel.inspector)

    def test_is_held_to_the_qualified_by_the_database_too(self):
        panel = Panel()
        panel.hear()
        panel.qualify()
        release = panel.release(NOW + 2 * DAY)
        release.pk, release.by = None, panel.manager
        release._state.adding = True

        with pytest.raises(IntegrityError, match="qualified electrical person"):
            release.save(force_insert=True)

    def test_is_taken_back_once(self):
        panel = Panel()
        panel.hear()
        panel.qualify()
        release = panel.release(NOW + 2 * DAY)
        given = {"actor": actor(panel.manager), "at": NOW + 3 * DAY, "release_id": release.pk}
        actions.void_release(reason="Wet again", **given)

        with pytest.raises(actions.ReleaseVoid):
            actions.void_release(reason="Wet again", **given)
        assert kept_shut([panel.point.pk], NOW + 3 * DAY) == {panel.point.pk}


class TestAQualification:
    def test_is_not_confirmed_of_oneself(self):
        panel = Panel()

        with pytest.raises(actions.QualifiedByThemselves):
            panel.qualify(panel.manager)

    def test_is_for_people_of_the_site(self):
        panel = Panel()

        with pytest.raises(Invalid):
            panel.qualify(member(Panel().site, "technician"))

    def test_has_a_term_of_three_years_at_most(self):
        with pytest.raises(Invalid):
            Panel().qualify(days=1200)


class TestAnOverrule:
    def test_keeps_both_and_makes_way_for_the_inspectors_word(self):
        panel = Panel()
        computed = panel.hear()

        heard = overrule(panel, computed, "arcing-like")

        finding = panel.finding()
        assert Condition.objects.count() == 2
        assert (finding.condition_id, finding.condition_severity) == (heard.pk, 5)
        assert (heard.overrules_id, heard.judged_by_id) == (computed.pk, panel.inspector.pk)

    def test_to_hum_opens_nothing(self):
        panel = Panel()

        heard = overrule(panel, panel.hear())

        assert heard.keeps_shut
        assert kept_shut([panel.point.pk], NOW + 3 * DAY) == {panel.point.pk}

    def test_to_hum_does_not_shut_again_what_is_released(self):
        panel = Panel()
        condition = panel.hear()
        panel.qualify()
        panel.release(NOW + 2 * DAY)

        overrule(panel, condition, at=NOW + 3 * DAY)

        assert kept_shut([panel.point.pk], NOW + 3 * DAY) == set()

    def test_needs_a_reason_in_words(self):
        panel = Panel()

        with pytest.raises(Invalid):
            overrule(panel, panel.hear(), reason="hum")

    def test_is_answered_with_the_cautions(self):
        panel = Panel()
        condition = panel.hear()
        body = {"sound": "corona-like", "reason": "Even and steady, no pauses."}

        answer = api_as("inspector", panel.site).post(f"/conditions/{condition.pk}/overrule", body)

        assert (answer.status_code, answer.data["state"]) == (201, "corona-like")
        assert "qualified electrical person" in answer.data["cautions"][0]["text"]

    def test_of_a_judgement_set_aside_already_is_refused(self):
        panel = Panel()
        condition = panel.hear()
        body = {"sound": "corona-like", "reason": "Even and steady, no pauses."}
        api = api_as("inspector", panel.site)
        api.post(f"/conditions/{condition.pk}/overrule", body)

        answer = api.post(f"/conditions/{condition.pk}/overrule", body)

        assert (answer.status_code, answer.json()["code"]) == (409, "condition_overruled_already")


class TestParticulars:
    def test_hold_from_a_moment_on_once(self):
        panel = Panel()
        given = {"point_id": str(panel.point.pk), "from_at": NOW.isoformat(), "enclosure": "cabinet"}
        api = api_as("planner", panel.site)
        assert api.post("/panel-particulars", given).status_code == 201

        answer = api.post("/panel-particulars", given)

        assert (answer.status_code, answer.json()["code"]) == (409, "panel_particulars_stated")

    def test_are_voided_with_a_reason_and_kept(self):
        panel = Panel()
        given = {"actor": actor(panel.manager), "at": NOW}
        row = actions.add_particulars(
            point_id=panel.point.pk, from_at=NOW - timedelta(days=9), enclosure="cabinet", **given
        )
        actions.void_particulars(particulars_id=row.pk, reason="Another panel", **given)

        assert PanelParticulars.objects.get().void_reason == "Another panel"
        with pytest.raises(actions.ParticularsVoid):
            actions.void_particulars(particulars_id=row.pk, reason="Another panel", **given)

    @pytest.mark.parametrize("values", [{"nominal_v": 0.0}, {"mains_hz": 55}, {"enclosure": "tent"}])
    def test_refuse_what_no_panel_has(self, values):
        panel = Panel()
        given = {
            "point_id": str(panel.point.pk),
            "from_at": NOW.isoformat(),
            "enclosure": "cabinet",
            **values,
        }

        assert api_as("planner", panel.site).post("/panel-particulars", given).status_code == 400


def test_releases_are_only_added():
    panel = Panel()
    panel.hear()
    panel.qualify()
    panel.release(NOW + 2 * DAY)

    with pytest.raises(IntegrityError, match="only added"):
        OpeningRelease.objects.update(technique="other")
