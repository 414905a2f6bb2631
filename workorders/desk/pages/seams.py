"""Seals: the seams of a site, and a walk along one, from the source's check to its result."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from typing import Any, ClassVar

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from findings.kinds.base import Kind
from findings.kinds.cautions import cautions
from findings.plant.rules import Right
from findings.seals import actions as seals
from findings.seals.rules import CONVENTIONS, NOT_SAID, NewPlace, NewWalk
from plantcare.api.failures import refusal_of
from plantcare.web.pages import REFUSED
from workorders.desk.pages.base import DeskPage
from workorders.desk.pages.seam_forms import AddPlace, BeginWalk
from workorders.desk.queries import seams


class Seams(DeskPage):
    """The seams of a site with their last walks."""

    needs: ClassVar[Mapping[str, str]] = {"GET": Right.VIEW}
    template = "desk/seams.html"
    here = "seams"

    def get(self, _request: HttpRequest, code: str) -> HttpResponse:
        """Show the list."""
        return self.show(found=seams.seams_of(self.see(code), self.at))


class SeamWalkBegin(DeskPage):
    """The check of the source: the first step of a walk."""

    needs: ClassVar[Mapping[str, str]] = {"GET": Right.RECORD, "POST": Right.RECORD}
    template = "desk/seam_begin.html"
    here = "seams"

    def get(self, request: HttpRequest, id: uuid.UUID) -> HttpResponse:  # noqa: A002 - the route's word
        """Show the form; ?corrects= names the walk that was wrong."""
        seam = self.seen(seams.seam_seen(id, self.site_ids()))
        initial = {"distance_m": seam.distance_m, "begun_at": self.at.isoformat()}
        form = BeginWalk(instruments=seams.instruments_of(self.site), initial=initial)
        return self._shown(request, seam, form)

    def post(self, request: HttpRequest, id: uuid.UUID) -> HttpResponse:  # noqa: A002
        """Begin the walk, or say what the source lacks."""
        seam = self.seen(seams.seam_seen(id, self.site_ids()))
        form = BeginWalk(request.POST, instruments=seams.instruments_of(self.site))
        wrong = self._corrected(request)
        if not form.is_valid():
            return self._shown(request, seam, form, status=400)
        try:
            walk = NewWalk(**form.cleaned_data, corrects_walk_id=None if wrong is None else wrong.pk)
            begun = seals.begin_walk(actor=self.actor, at=self.at, seam_id=seam.pk, walk=walk)
        except REFUSED as exc:
            refusal = refusal_of(exc)
            too_weak = isinstance(refusal, seals.SourceTooWeak)
            why = form.refuse(refusal)
            return self._shown(request, seam, form, why=why, too_weak=too_weak, status=refusal.status)
        return redirect("desk_seam_walk", id=begun.walk.pk)

    def _corrected(self, request: HttpRequest) -> Any:
        """Return the walk that this one corrects, if the address names one that the person may see."""
        named = request.GET.get("corrects", "")
        try:
            return seams.walk_seen(uuid.UUID(named), [self.site.pk])
        except ValueError:
            return None

    def _shown(
        self, request: HttpRequest, seam: Any, form: BeginWalk, *, status: int = 200, **context: Any
    ) -> HttpResponse:
        return self.show(
            seam=seam,
            form=form,
            corrects=self._corrected(request),
            convention=CONVENTIONS[seam.criterion],
            cautions=cautions(Kind.ENCLOSURE_LEAK, None),
            status=status,
            **context,
        )


class SeamWalk(DeskPage):
    """A walk: place by place while it goes on, then what it came to."""

    needs: ClassVar[Mapping[str, str]] = {"GET": Right.VIEW, "POST": Right.RECORD}
    http_method_names = ["get", "head", "options"]
    template = "desk/seam_walk.html"
    here = "seams"

    def get(self, _request: HttpRequest, id: uuid.UUID) -> HttpResponse:  # noqa: A002 - the route's word
        """Show the walk."""
        return self.shown(self.load(id))

    def load(self, walk_id: uuid.UUID) -> Any:
        """Return the walk when it is on one of the person's sites."""
        return self.seen(seams.walk_seen(walk_id, self.site_ids()))

    def shown(
        self, walk: Any, *, form: AddPlace | None = None, status: int = 200, **more: Any
    ) -> HttpResponse:
        """Show everything about it."""
        walked = seams.shown(walk)
        return self.show(
            walked=walked,
            walk=walk,
            seam=walk.seam,
            form=form or AddPlace(initial={"position_m": walked.next_m}),
            convention=CONVENTIONS[walk.seam.criterion],
            not_said=NOT_SAID,
            cautions=cautions(Kind.ENCLOSURE_LEAK, None),
            status=status,
            **more,
        )


class SeamWalkPlace(SeamWalk):
    """Add one place."""

    http_method_names = ["post", "options"]

    def post(self, request: HttpRequest, id: uuid.UUID) -> HttpResponse:  # noqa: A002
        """Keep it and go on to the next."""
        walk, form = self.load(id), AddPlace(request.POST)
        if not form.is_valid():
            return self.shown(walk, form=form, status=400)
        try:
            place = NewPlace(**form.cleaned_data)
            seals.take_places(actor=self.actor, at=self.at, walk_id=walk.pk, places=[place])
        except REFUSED as exc:
            refusal = refusal_of(exc)
            return self.shown(walk, form=form, why=form.refuse(refusal), status=refusal.status)
        return redirect("desk_seam_walk", id=walk.pk)


class SeamWalkFinish(SeamWalk):
    """Finish the walk."""

    http_method_names = ["post", "options"]

    def post(self, _request: HttpRequest, id: uuid.UUID) -> HttpResponse:  # noqa: A002
        """Judge it and show what it came to; one that can't be judged yet goes on."""
        walk = self.load(id)
        try:
            seals.finish_walk(actor=self.actor, at=self.at, walk_id=walk.pk, finished_at=self.at)
        except REFUSED as exc:
            refusal = refusal_of(exc)
            return self.shown(self.load(id), unfinished=refusal.detail, status=refusal.status)
        return redirect("desk_seam_walk", id=walk.pk)
