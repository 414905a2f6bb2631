"""Two sites with one thing of every kind; every text of the second carries a word of its own."""

from __future__ import annotations

from dataclasses import dataclass

from plantcare.people.models import User
from tests import makers
from tests.api.furnishing import furnish
from tests.api.ledger import ids_of
from tests.api.siteplan import HOME, MARKER, ROLES, SitePlan, key_for
from tests.people import make_user, member


@dataclass
class TwoSites:
    """The own site, the other one, and somebody who works at both."""

    home: SitePlan
    other: SitePlan
    key_of_both: str
    key_of_nowhere: str
    superuser: User

    def secrets_of_other(self) -> set[str]:
        """Return everything that must never be told at home: ids, people's ids, and the word."""
        ids = ids_of(self.other.site.pk) | {str(user.public_id) for user in self.other.people.values()}
        return ids | {self.other["api_key"].prefix, str(self.other["api_key"].pk), MARKER.lower()}


def two_sites() -> TwoSites:
    """Build both sites."""
    home, other = found_site(HOME), found_site(MARKER)
    for site in (home, other):
        furnish(site)
    both = make_user(f"{HOME}.both")
    for site in (home, other):
        for role in ("manager", "integrator"):
            member(site.site, role, both)
    nowhere = make_user(f"{HOME}.nowhere")
    superuser = make_user(f"{HOME}.root", is_superuser=True, is_staff=True)
    return TwoSites(home, other, key_for(both), key_for(nowhere), superuser)


def found_site(word: str) -> SitePlan:
    """Make a site with one person for each role, and an owner with all of them."""
    site = makers.make_site(f"{word}-S", name=f"{word} Works")
    people = {}
    for role in ROLES:
        values = {"first_name": word, "last_name": role.title()}
        people[role] = member(site, role, make_user(f"{word}.{role}", **values))
    people["owner"] = make_user(f"{word}.owner", first_name=word, last_name="Owner")
    for role in ROLES:
        member(site, role, people["owner"])
    return SitePlan(word, site, people, {name: key_for(user) for name, user in people.items()})
