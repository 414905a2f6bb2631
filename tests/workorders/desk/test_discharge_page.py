"""What a finding's page shows of a discharge, and what can be done about it there."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from findings.conditions.models import Condition
from findings.panels.queries import kept_shut
from tests.findings.panels.scene import DAY, FOUND, ON_CONDITION, Panel
from tests.makers import NOW
from tests.workorders.desk.reader import content_of, reader_for

pytestmark = pytest.mark.django_db


def test_the_class_the_rule_and_who_may_release_it_are_told():
    panel = Panel()
    panel.hear("tracking")
    panel.qualify(at=timezone.now())

    page = content_of(reader_for(panel.inspector).get(f"/findings/{panel.finding().pk}/"))

    assert "tracking-like" in page
    assert "Kept shut: open nothing here." in page
    assert panel.electrician.username in page


def test_an_inspector_judges_anew_and_both_judgements_are_shown():
    panel = Panel()
    panel.hear("tracking")
    finding = panel.finding()
    browser = reader_for(panel.inspector)
    given = {"version": finding.version, "sound": "corona-like", "reason": "Even and steady, no pauses."}

    sent = browser.post(f"/findings/{finding.pk}/acts/overrule/", given)

    page = content_of(browser.get(f"/findings/{finding.pk}/"))
    assert sent.status_code == 302
    assert "judged anew since" in page
    assert "Even and steady, no pauses." in page


def test_a_judgement_made_from_an_old_page_is_refused():
    panel = Panel()
    panel.hear("tracking")
    finding = panel.finding()
    given = {"version": finding.version, "sound": "corona-like", "reason": "Even and steady, no pauses."}
    panel.hear("arcing", NOW + DAY)

    sent = reader_for(panel.inspector).post(f"/findings/{finding.pk}/acts/overrule/", given)

    assert sent.status_code == 412
    assert Condition.objects.filter(overrules__isnull=False).count() == 0


def test_the_qualified_release_it_at_the_page():
    panel = Panel()
    panel.hear("tracking")
    now = timezone.now()
    panel.qualify(at=now)
    finding = panel.finding()
    until = (now + 2 * DAY).strftime("%Y-%m-%dT%H:%M")
    given = {"version": finding.version, "technique": "thermography", "found": FOUND}
    given |= {"conditions": ON_CONDITION, "until_at": until}

    sent = reader_for(panel.electrician).post(f"/findings/{finding.pk}/acts/release/", given)

    assert sent.status_code == 302
    assert kept_shut([panel.point.pk], now + timedelta(days=1)) == set()
