"""What every page of the desk does: know the person, the site and what may be done there."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from typing import Any, ClassVar
from zoneinfo import ZoneInfo

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from findings.plant.access import POLICY
from findings.plant.rules import Right
from plantcare.api.problems import Forbidden, NotFound
from plantcare.web.pages import Page
from workorders.desk.queries.inbox import unseen
from workorders.desk.queries.sites import Site, sites_seen

LAST_SITE = "site"


class DeskPage(Page):
    """A page about one site, named in the address or by the thing that the address names."""

    template: ClassVar[str] = ""
    here: ClassVar[str] = ""
    site: Site
    sites: list[Site]
    rights: frozenset[Right]

    def see(self, code: str) -> Site:
        """Open the site with this code, or refuse: a foreign one answers like an unknown one."""
        self._learn()
        found = next((site for site in self.sites if site.code == code), None)
        if found is None:
            raise NotFound
        return self._open(found)

    def seen(self, found: Any) -> Any:
        """Open the site of a thing that a query found among the person's sites; None is not found."""
        site = None if found is None else next((s for s in self.sites if s.pk == found.site_id), None)
        if site is None:
            raise NotFound
        self._open(site)
        return found

    def site_ids(self) -> list[uuid.UUID]:
        """Return the sites where the person may at least look."""
        self._learn()
        return [site.pk for site in self.sites]

    def _learn(self) -> None:
        held = POLICY.rights_by_site(self.actor)
        self._held = {site_id: rights for site_id, rights in held.items() if Right.VIEW in rights}
        self.sites = sites_seen(self._held)

    def _open(self, site: Site) -> Site:
        self.site, self.rights = site, self._held[site.pk]
        self.require(self.need)
        if self.request.session.get(LAST_SITE) != site.code:
            self.request.session[LAST_SITE] = site.code
        return site

    def require(self, right: str) -> None:
        """Refuse unless the person holds the right on the open site."""
        if Right(right) not in self.rights:
            detail = f"This takes the right “{right}” on this site."
            raise Forbidden(detail)

    def now(self) -> str:
        """Return the present moment by the site's clocks, as a form's field has it."""
        return f"{self.at.astimezone(ZoneInfo(self.site.time_zone)):%Y-%m-%dT%H:%M}"

    def show(self, *, status: int = 200, template: str = "", **context: Any) -> HttpResponse:
        """Show the page with what every page needs."""
        user: Any = self.request.user
        shared = {
            "site": self.site,
            "sites": self.sites,
            "may": {right.value: True for right in self.rights},
            "units": user.unit_system,
            "zone": self.site.time_zone,
            "currency": self.site.currency,
            "at": self.at,
            "here": self.here,
            "unseen": unseen(self.actor.user_id, self.site.pk),
        }
        return render(self.request, template or self.template, {**shared, **context}, status=status)


class FirstPage(DeskPage):
    """Send a person on to the site they saw last, or the first of theirs."""

    needs: ClassVar[Mapping[str, str]] = {"GET": Right.VIEW}

    def get(self, request: HttpRequest) -> HttpResponse:
        """Choose the site; somebody without one is told whom to ask."""
        self.site_ids()
        if not self.sites:
            return render(request, "desk/no_site.html")
        last = request.session.get(LAST_SITE)
        chosen = next((site for site in self.sites if site.code == last), self.sites[0])
        return redirect("site_desk", code=chosen.code)
