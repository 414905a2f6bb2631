"""Say how the seam at a measuring point is tested from now on."""

from __future__ import annotations

from dataclasses import asdict
from datetime import datetime

from django.db import transaction

from findings.logbook import actions as logbook
from findings.plant.models import MeasuringPoint
from findings.seals.models import Seam
from findings.seals.rules import NewSeam, Problem, seam_problems
from plantcare.api.actor import Actor
from plantcare.api.problems import Conflict, FieldError, Invalid, NotFound, constraint_refusals


class SeamRefused(Invalid):
    """The seam can't be as it is described."""

    code = "seam_refused"
    title = "The seam can't be kept as it is described."


class SeamAtMoment(Conflict):
    """One description of a seam holds from one moment."""

    code = "seam_described_already"
    title = "A description of this point's seam begins at that moment already."


constraint_refusals["seam_once_per_moment"] = SeamAtMoment


def add_seam(*, actor: Actor, at: datetime, seam: NewSeam) -> Seam:
    """Add a description that holds from a moment on, in place of any older one. Raises SeamRefused."""
    refuse_if(SeamRefused, seam_problems(seam, at))
    with transaction.atomic():
        point = MeasuringPoint.objects.filter(pk=seam.point_id).first()
        if point is None:
            raise NotFound
        values = {**asdict(seam), "from_at": seam.from_at or at}
        row = Seam.objects.create(site_id=point.site_id, recorded_at=at, **values)
        told = ("point_id", "from_at", "length_m", "shape", "criterion")
        logbook.write(
            site_id=row.site_id,
            actor=actor,
            at=at,
            act="seam.described",
            subject_kind="seam",
            subject_id=row.pk,
            detail={name: values[name] for name in told},
        )
    return row


def refuse_if(refusal: type[Invalid], problems: list[Problem]) -> None:
    """Raise a refusal that names every problem, where there is one."""
    if problems:
        raise refusal(errors=[FieldError(f"/{one.member}", one.code, one.text) for one in problems])
