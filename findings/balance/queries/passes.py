"""Read what two surveys heard of one system in the areas that both walked."""

from __future__ import annotations

import uuid

from django.db.models import Max, Q

from findings.balance.queries.losing import NEVER_THERE
from findings.balance.rules import Heard
from findings.readings.models import Reading
from findings.register.models import Evidence, Finding
from findings.register.rules import EvidenceRole
from findings.surveys.models import Survey

HEARD = (EvidenceRole.FOUND, EvidenceRole.HEARD_AGAIN, EvidenceRole.MOVED_HERE)


def heard_by_both(system_id: uuid.UUID, first: Survey, second: Survey) -> Heard:
    """Count the findings of a system that each survey heard, and those that both did.

    Findings repaired between the two are left out: the second survey could not hear them.
    """
    areas = _areas(first) & _areas(second)
    begun = min(first.started_at, second.started_at)
    ended = _last_moment(first, second)
    by_first, by_second = (_findings(system_id, survey, areas) for survey in (first, second))
    gone = set(
        Finding.objects.filter(
            pk__in=by_first | by_second, repaired_at__gt=begun, repaired_at__lte=ended
        ).values_list("pk", flat=True)
    )
    return Heard(
        first_at=first.started_at,
        second_at=second.started_at,
        first=len(by_first - gone),
        second=len(by_second - gone),
        both=len((by_first & by_second) - gone),
        areas=len(areas),
        repaired_between=len(gone),
    )


def _areas(survey: Survey) -> set[uuid.UUID]:
    rows = Reading.objects.filter(survey_id=survey.pk)
    return set(rows.values_list("point__asset__area_id", flat=True).distinct())


def _last_moment(*surveys: Survey) -> object:
    rows = Reading.objects.filter(survey_id__in=[survey.pk for survey in surveys])
    last = rows.aggregate(last=Max("taken_at"))["last"]
    return last or max(survey.started_at for survey in surveys)


def _findings(system_id: uuid.UUID, survey: Survey, areas: set[uuid.UUID]) -> set[uuid.UUID]:
    rows = Evidence.objects.filter(
        Q(finding__system_id=system_id),
        reading__survey_id=survey.pk,
        role__in=HEARD,
        reading__point__asset__area_id__in=areas,
    ).exclude(finding__status__in=NEVER_THERE)
    return set(rows.values_list("finding_id", flat=True))
