"""Tell people that findings are ageing, and ask for the routine visits that come due."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Collection, Sequence
from datetime import date, datetime
from functools import partial
from itertools import islice
from operator import attrgetter
from typing import Any
from zoneinfo import ZoneInfo

from django.db import connection, transaction

from findings.logbook import actions as logbook
from findings.logbook.actions import Act
from findings.plant.models import Site
from findings.plant.rules import Right, Role, read_windows, runs_on
from findings.routes.actions import change_visit, request_visit
from findings.routes.rules import VisitReason
from plantcare.api.actor import Actor
from plantcare.api.identifiers import uuid7
from plantcare.api.problems import Conflict, Forbidden, NotFound, Refusal
from plantcare.jobs import items
from workorders.clocks import queries
from workorders.clocks.models import Escalation
from workorders.clocks.queries import Missing, PointDue
from workorders.clocks.rules import DEFAULT_STEPS, TAKEN_WITH, reason_of
from workorders.orders.actions import seed_levels
from workorders.verification.rules import (
    AHEAD,
    Due,
    earliest,
    look_again_due,
    method_of,
    on_a_fitting_day,
    paced_due,
)

CHUNK = 1_000
VISITS_AT_ONCE = 200
MOST_VISITS = 5_000
_INSERT = """
INSERT INTO workorders_escalation (id, site_id, finding_id, episode, step, to_role, reason, at)
SELECT row.id, %(site)s, row.finding_id, row.episode, row.step, row.to_role, row.reason, %(at)s
FROM unnest(%(ids)s::uuid[], %(findings)s::uuid[], %(episodes)s::int[], %(steps)s::int[],
            %(roles)s::text[], %(reasons)s::text[])
    AS row(id, finding_id, episode, step, to_role, reason)
ON CONFLICT (finding_id, episode, step) DO NOTHING
RETURNING id
"""


class EscalationUnknown(NotFound):
    """No such escalation."""


class EscalationTaken(Conflict):
    """Somebody has taken it already."""

    code = "escalation_taken"
    title = "Somebody has taken this already."


def escalate(*, actor: Actor, at: datetime, site_ids: Sequence[uuid.UUID] | None = None) -> dict[str, int]:
    """Tell, once per finding, episode and step, whoever the step names; return how many were told.

    Works site by site in chunks of one transaction each; a second run, or one at the same time, tells
    nobody twice.
    """
    told = 0
    seed_levels(site_ids=site_ids, at=at)
    for site in queries.sites(site_ids):
        found = queries.missing_steps(site.pk, at, DEFAULT_STEPS, limit=CHUNK)
        while found:
            told += items.in_halves(found, partial(_tell, site, actor, at), attrgetter("finding_id"))
            if len(found) < CHUNK:
                break
            # The last finding again: the chunk may have ended between its steps.
            after = found[-1].finding_id
            found = queries.missing_steps(site.pk, at, DEFAULT_STEPS, after=after, limit=CHUNK)
    return {"told": told}


@transaction.atomic
def _tell(site: Site, actor: Actor, at: datetime, found: Sequence[Missing]) -> int:
    by_id = {uuid7(): missing for missing in found}
    rows = {pk: DEFAULT_STEPS[missing.step - 1] for pk, missing in by_id.items()}
    given: dict[str, Any] = {
        "site": site.pk,
        "at": at,
        "ids": list(by_id),
        "findings": [missing.finding_id for missing in found],
        "episodes": [missing.episode for missing in found],
        "steps": [missing.step for missing in found],
        "roles": [step.to_role.value for step in rows.values()],
        "reasons": [
            reason_of(
                rows[pk], missing.started_at, missing.due_at, at, share=missing.share, growth=missing.growth
            )
            for pk, missing in by_id.items()
        ],
    }
    with connection.cursor() as cursor:
        cursor.execute(_INSERT, given)
        added = {row[0] for row in cursor.fetchall()}
    acts = [_act(pk, by_id[pk], rows[pk].to_role) for pk in by_id if pk in added]
    logbook.write_many(site_id=site.pk, actor=actor, at=at, acts=acts)
    return len(acts)


def _act(pk: uuid.UUID, missing: Missing, to_role: Role) -> Act:
    return Act(
        act="finding.escalated",
        subject_kind="finding",
        subject_id=missing.finding_id,
        detail={
            "number": missing.number,
            "escalation_id": pk,
            "episode": missing.episode,
            "step": missing.step,
            "to_role": to_role,
        },
    )


def take_escalation(
    *, actor: Actor, at: datetime, escalation_id: uuid.UUID, rights: Collection[Right]
) -> Escalation:
    """Say that one sees to a finding; the first one does.

    Takes with the named step every other one of the finding's present climb that asks for a role whose part
    the person may take. Raises EscalationUnknown, Forbidden, EscalationTaken.
    """
    with transaction.atomic():
        told = queries.escalations().filter(pk=escalation_id).first()
        if told is None:
            raise EscalationUnknown
        if actor.user_id is None or TAKEN_WITH[Role(told.to_role)] not in rights:
            text = f"This is for a {told.to_role}."
            raise Forbidden(text)
        free = queries.free_steps(told, [role for role, right in TAKEN_WITH.items() if right in rights])
        if told.pk not in free:
            told = queries.escalations().get(pk=told.pk)
            text = f"{told.taken_by} has taken it."
            raise EscalationTaken(text)
        Escalation.objects.filter(pk__in=list(free)).update(taken_at=at, taken_by_id=actor.user_id)
        logbook.write(
            site_id=told.site_id,
            actor=actor,
            at=at,
            act="escalation.taken",
            subject_kind="finding",
            subject_id=told.finding_id,
            detail={"escalation_id": told.pk, "step": told.step, "steps": list(free.values())},
        )
    return queries.escalations().get(pk=told.pk)


def schedule_reinspections(
    *, actor: Actor, at: datetime, site_ids: Sequence[uuid.UUID] | None = None
) -> dict[str, int]:
    """Ask for the routine visit of each point that comes due within two weeks; return how many.

    The day follows from the last reading, the way of listening, the asset's criticality, how quiet the
    visits before were and what the point's condition asks for; it falls on a day on which the machine runs.
    A visit is asked for once per point and day, also when two runs meet, and not again after somebody
    dropped it. One that is wanted already is brought forward where it would come too late, never put off.
    """
    requested, brought_forward = 0, 0
    for site in queries.sites(site_ids):
        until = at.astimezone(ZoneInfo(site.time_zone)).date() + AHEAD
        works = queries.works_on(site)
        due = ((point, found) for point in queries.points_due(site) if (found := _due(point)).on <= until)
        pressing = list(islice((one for one in due if _is_news(*one)), MOST_VISITS))
        new = [(point, found) for point, found in pressing if point.wanted_id is None]
        for start in range(0, len(new), VISITS_AT_ONCE):
            requested += items.in_halves(
                new[start : start + VISITS_AT_ONCE],
                partial(_request, site, works, actor, at),
                lambda due: due[0].point_id,
            )
        for point, found in pressing:
            if point.wanted_id is not None:
                with items.spared(point.point_id):
                    brought_forward += _bring_forward(point, point.wanted_id, found, works, actor, at)
    return {"requested": requested, "brought_forward": brought_forward}


def _due(point: PointDue) -> Due:
    method = method_of(point.method, point.medium)
    routine = paced_due(point.last_on, method, point.criticality, point.visits)
    look = None if point.look_again_days is None else look_again_due(point.last_on, point.look_again_days)
    return earliest(routine, look)


def _is_news(point: PointDue, due: Due) -> bool:
    """Tell whether there is something to do: no visit is wanted yet, or one that would come too late."""
    return point.wanted_on is None or due.on < point.wanted_on


def _fitting(point: PointDue, due: Due, works: Callable[[date], bool]) -> date:
    """Return a day on which the machine runs and people are there; else one on which it runs."""
    windows = read_windows(point.windows)

    def runs(day: date) -> bool:
        return runs_on(windows, day)

    return on_a_fitting_day(due, lambda day: runs(day) and works(day), runs, after=point.last_on)


@transaction.atomic
def _request(
    site: Site,
    works: Callable[[date], bool],
    actor: Actor,
    at: datetime,
    due: Sequence[tuple[PointDue, Due]],
) -> int:
    wanted = {f"periodic:{point.point_id}:{found.on}": (point, found) for point, found in due}
    known = queries.known_origins(site.pk, list(wanted))
    for origin, (point, found) in wanted.items():
        if origin in known:
            continue
        request_visit(
            actor=actor,
            at=at,
            site_id=site.pk,
            point_id=point.point_id,
            reason=VisitReason.PERIODIC,
            origin=origin,
            due_on=_fitting(point, found, works),
            note=found.reason.text,
        )
    return len(wanted) - len(known)


def _bring_forward(
    point: PointDue,
    visit_id: uuid.UUID,
    due: Due,
    works: Callable[[date], bool],
    actor: Actor,
    at: datetime,
) -> int:
    """Bring a wanted visit forward; one that somebody settles at the same moment is left to them."""
    try:
        change_visit(
            actor=actor,
            at=at,
            visit_id=visit_id,
            due_on=_fitting(point, due, works),
            note=due.reason.text,
        )
    except Refusal:
        return 0
    return 1
