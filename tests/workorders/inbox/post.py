"""What tests of the inbox stand on: a site with its people, and the job that tells them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from findings.plant.models import Site
from plantcare.api.actor import Actor
from plantcare.people.models import User
from tests.makers import NOW, make_site
from tests.people import actor, member
from workorders.inbox.actions import tell
from workorders.inbox.models import Mail, Notice, Preference

JOB = Actor.job("tell_people")
MINUTE, DAY = timedelta(minutes=1), timedelta(days=1)


@dataclass(frozen=True)
class Crew:
    """One person for each role at a site."""

    site: Site
    planner: User
    technician: User
    manager: User
    inspector: User

    def act(self, role: str) -> Actor:
        """Return somebody as the actions see them."""
        return actor(getattr(self, role))


def crew(site: Site | None = None) -> Crew:
    """Give a site its people, each with a mail address."""
    site = site or make_site()
    people = {role: member(site, role) for role in ("planner", "technician", "manager", "inspector")}
    for role, user in people.items():
        user.email = f"{role}@plant.example"
        user.save()
    return Crew(site, **people)


def told(at: datetime = NOW, **given: Any) -> dict[str, int]:
    """Run the job that tells people."""
    return tell(actor=JOB, at=at, **given)


def heard_by(user: User) -> list[str]:
    """Return the kinds of notices that a person got, oldest first."""
    rows = Notice.objects.filter(user=user).order_by("news__sequence")
    return list(rows.values_list("news__kind", flat=True))


def mails_to(user: User) -> list[Mail]:
    """Return the mails to a person, oldest first."""
    return list(Mail.objects.filter(user=user).order_by("created_at", "id"))


def wish(user: User, site: Site, **values: Any) -> Preference:
    """Let a person choose how to be written to."""
    return Preference.objects.create(user=user, site=site, **values)
