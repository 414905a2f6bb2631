"""Read what is said of panels, who is qualified, what is released, and what is kept shut."""

from __future__ import annotations

import uuid
from collections.abc import Collection, Sequence
from datetime import datetime, timedelta
from typing import Any

from django.db import connection
from django.db.models import Exists, Max, OuterRef, Q, QuerySet, Subquery, TextField
from django.db.models.fields.json import KeyTextTransform
from django.db.models.functions import Cast

from findings.conditions.models import Condition
from findings.kinds.base import Kind
from findings.kinds.condition import ConditionSource
from findings.kinds.discharge_condition import Surroundings
from findings.kinds.level_rise import LevelRise, level_rise
from findings.panels.models import ElectricalQualification, OpeningRelease, PanelParticulars
from findings.panels.rules import ReleaseState, state_of, usual_mains_hz
from findings.plant.models import MeasuringPoint
from findings.plant.rules import Method
from findings.readings.models import Reading
from findings.recordings import queries as recordings
from findings.recordings.models import Recording, RecordingAnalysis
from findings.recordings.rules import ANALYSIS_VERSION
from findings.register.models import OPEN, Finding
from findings.register.queries import findings

DISCHARGE = Kind.ELECTRICAL_DISCHARGE
OVERRULED = Exists(Condition.objects.filter(overrules=OuterRef("pk")))
LOOKED_BACK = timedelta(days=730)
MOST_COMPARED = 10
SAME_DISTANCE = 0.1
"""Share of the distance by which two readings may differ and still compare: 0.8 dB by the law of distance."""


def particulars() -> QuerySet[PanelParticulars]:
    """Return all panel particulars, void ones too."""
    return PanelParticulars.objects.all()


def qualifications() -> QuerySet[ElectricalQualification]:
    """Return all qualifications with their people, void and ended ones too."""
    return ElectricalQualification.objects.select_related("user", "confirmed_by", "void_by")


def discharges() -> QuerySet[Condition]:
    """Return what was judged of electrical equipment, with ``overruled``."""
    rows = Condition.objects.filter(kind=DISCHARGE).select_related("point", "reading", "judged_by")
    return rows.annotate(overruled=OVERRULED).order_by("-at", "-recorded_at", "-id")


def releases() -> QuerySet[OpeningRelease]:
    """Return all releases with ``discharge_recorded_at``, the newest judgement that kept the point shut."""
    newest = (
        Condition.objects.filter(kind=DISCHARGE, keeps_shut=True, point_id=OuterRef("point_id"))
        .values("point_id")
        .annotate(newest=Max("recorded_at"))
        .values("newest")
    )
    rows = OpeningRelease.objects.select_related("by", "void_by", "finding", "qualification")
    return rows.annotate(discharge_recorded_at=Subquery(newest))


def release_state(release: Any, moment: datetime) -> ReleaseState:
    """Return where a release of :func:`releases` stands."""
    return state_of(
        moment,
        at=release.at,
        until_at=release.until_at,
        void_at=release.void_at,
        discharge_recorded_at=release.discharge_recorded_at,
    )


def kept_shut(point_ids: Collection[uuid.UUID], moment: datetime) -> set[uuid.UUID]:
    """Return those of the points whose enclosure is kept shut at a moment, by the database's own law."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT point FROM unnest(%s::uuid[]) AS point WHERE plantcare_kept_shut(point, %s)",
            [list(point_ids), moment],
        )
        return {row[0] for row in cursor.fetchall()}


def qualified_now(site_id: uuid.UUID, moment: datetime) -> list[ElectricalQualification]:
    """Return the qualifications that hold at a site, for a refusal that says whom to ask."""
    rows = qualifications().filter(site_id=site_id, void_at__isnull=True, user__is_active=True)
    return list(rows.filter(at__lte=moment, until_at__gt=moment).order_by("user__username", "-until_at"))


def who_may_release(site_id: uuid.UUID, moment: datetime) -> str:
    """Say who may release an opening at a site."""
    names = [row.user.get_full_name() or row.user.username for row in qualified_now(site_id, moment)]
    if not names:
        return (
            "Nobody at this site is confirmed as a qualified electrical person now; a manager confirms one."
        )
    return f"May release it: {', '.join(dict.fromkeys(names))}."


def particulars_at(point_id: uuid.UUID, moment: datetime) -> PanelParticulars | None:
    """Return the particulars that hold at a moment."""
    rows = particulars().filter(point_id=point_id, from_at__lte=moment, void_at__isnull=True)
    return rows.order_by("-from_at", "-recorded_at").first()


def surroundings(reading: Reading) -> Surroundings:
    """Return what is known beside the sound at the moment of a reading."""
    point: MeasuringPoint = reading.point
    panel = particulars_at(point.pk, reading.taken_at)
    stated = None if panel is None else panel.mains_hz
    return Surroundings(
        rise=rise_of(reading),
        nominal_v=None if panel is None else panel.nominal_v,
        mains_hz=float(stated or usual_mains_hz(reading.site.unit_system)),
        known_electrical=panel is not None or point.method == Method.ELECTRICAL,
        leak_beside=_leak_beside(reading),
        is_open=Finding.objects.filter(OPEN, point=point, kind=DISCHARGE).exists(),
    )


def rise_of(reading: Reading) -> LevelRise:
    """Return how a level stands against earlier ones of its point, instrument, attachment and distance."""
    if reading.instrument_id is None or reading.level_db is None:
        return LevelRise()
    rows = Reading.objects.filter(
        _near(reading.distance_m),
        point_id=reading.point_id,
        instrument_id=reading.instrument_id,
        attachment=reading.attachment,
        level_db__isnull=False,
        taken_at__lt=reading.taken_at,
        taken_at__gte=reading.taken_at - LOOKED_BACK,
    ).exclude(Exists(Reading.objects.filter(corrects=OuterRef("pk"))))
    newest_first = rows.order_by("-taken_at", "-id").values_list("level_db", flat=True)
    earlier = list(newest_first[:MOST_COMPARED])
    return level_rise(reading.level_db, [level for level in reversed(earlier) if level is not None])


def _near(distance_m: float | None) -> Q:
    if distance_m is None:
        return Q(distance_m__isnull=True)
    return Q(
        distance_m__gte=distance_m * (1.0 - SAME_DISTANCE), distance_m__lte=distance_m * (1.0 + SAME_DISTANCE)
    )


def _leak_beside(reading: Reading) -> bool:
    leaks = [Kind.PRESSURE_LEAK, Kind.VACUUM_LEAK]
    loud = Finding.objects.filter(
        asset_id=reading.point.asset_id, kind__in=leaks, status__in=["open", "deferred"]
    )
    return loud.filter(found_at__lte=reading.taken_at).exists()


def unjudged_analyses(site_ids: Sequence[uuid.UUID] | None = None) -> QuerySet[RecordingAnalysis]:
    """Return the analyses of recordings at electrical equipment without a judgement, the oldest first.

    Only the judgement itself counts: a mark that something was judged doesn't hide what is missing.
    """
    of_analysis = KeyTextTransform("analysis_id", "inputs")
    judged = Condition.objects.filter(kind=DISCHARGE, source=ConditionSource.RECORDING).annotate(
        of_analysis=of_analysis
    )
    electrical = Q(recording__reading__kind=DISCHARGE) | Q(
        recording__reading__point__method=Method.ELECTRICAL
    )
    rows = recordings.analyses().filter(electrical, method_version=ANALYSIS_VERSION)
    rows = rows.exclude(Exists(judged.filter(of_analysis=Cast(OuterRef("pk"), TextField()))))
    if site_ids is not None:
        rows = rows.filter(site_id__in=site_ids)
    return rows.select_related("recording__reading__site").order_by("ended_at", "id")


def unjudged_readings(site_ids: Sequence[uuid.UUID] | None = None) -> QuerySet[Reading]:
    """Return the readings at electrical equipment, or that named a discharge, with no judgement of their own.

    A reading that was corrected speaks no more; one that named nothing needs a level to be judged by. One
    with a recording waits for what is heard in it.
    """
    judged = Condition.objects.filter(kind=DISCHARGE, reading=OuterRef("pk"))
    recorded = Recording.objects.filter(reading=OuterRef("pk"), void_at__isnull=True)
    quiet = Q(kind="", point__method=Method.ELECTRICAL, level_db__isnull=False)
    rows = Reading.objects.filter(Q(kind=DISCHARGE) | quiet)
    rows = (
        rows.exclude(Exists(judged))
        .exclude(Exists(recorded))
        .exclude(Exists(Reading.objects.filter(corrects=OuterRef("pk"))))
    )
    if site_ids is not None:
        rows = rows.filter(site_id__in=site_ids)
    return rows.order_by("recorded_at", "id")


def open_discharge(finding_id: uuid.UUID) -> Finding | None:
    """Return an open finding of discharge, or None."""
    return findings().filter(OPEN, pk=finding_id, kind=DISCHARGE).first()


def discharges_of(finding: Finding) -> list[Condition]:
    """Return every judgement of a finding's present opening, the newest first."""
    return list(discharges().filter(point_id=finding.point_id, at__gte=finding.opened_at))


def releases_of(finding: Finding, moment: datetime) -> list[tuple[OpeningRelease, ReleaseState]]:
    """Return the releases at a finding's point with where each stands, the newest first."""
    rows = releases().filter(point_id=finding.point_id).order_by("-at", "-id")
    return [(row, release_state(row, moment)) for row in rows]
