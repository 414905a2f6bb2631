"""What people are told of, who hears it, and which act in the logbook it comes from."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType
from typing import Final

from findings.plant.rules import Role


class NoticeKind(StrEnum):
    """What a notice is about."""

    ESCALATED = "escalated"
    SAFETY_FOUND = "safety_found"
    WORSENED = "worsened"
    ASSIGNED = "assigned"
    RESUMED = "resumed"
    REPAIR_FAILED = "repair_failed"
    DEFERRAL_ASKED = "deferral_asked"
    DEFERRAL_ANSWERED = "deferral_answered"
    DEFERRAL_ENDING = "deferral_ending"
    DEFERRAL_ENDED = "deferral_ended"
    MONTH_CLOSED = "month_closed"


@dataclass(frozen=True, slots=True)
class Telling:
    """Who hears of an act, and whether it asks something of them.

    `to_assignee` is whoever the order names, `to_requester` whoever asked for the deferral. `only_safety`
    leaves out what endangers nobody.
    """

    kind: NoticeKind
    roles: frozenset[Role] = frozenset()
    to_assignee: bool = False
    to_requester: bool = False
    asks: bool = True
    only_safety: bool = False


_PLANNER = frozenset({Role.PLANNER})
_LEADERS = frozenset({Role.PLANNER, Role.MANAGER})
_MANAGER = frozenset({Role.MANAGER})

DEFERRAL_ENDING_ACT: Final = "deferral.ending"

TOLD: Final[Mapping[str, Telling]] = MappingProxyType(
    {
        "finding.escalated": Telling(NoticeKind.ESCALATED),
        "finding.opened": Telling(NoticeKind.SAFETY_FOUND, _LEADERS, only_safety=True),
        "finding.reopened": Telling(NoticeKind.SAFETY_FOUND, _LEADERS, only_safety=True),
        "finding.condition_judged": Telling(NoticeKind.WORSENED, _LEADERS),
        "work_order.opened": Telling(NoticeKind.ASSIGNED, to_assignee=True),
        "work_order.changed": Telling(NoticeKind.ASSIGNED, to_assignee=True),
        "work_order.scheduled": Telling(NoticeKind.ASSIGNED, to_assignee=True),
        "work_order.resumed": Telling(NoticeKind.RESUMED, _PLANNER, to_assignee=True),
        "verification.failed": Telling(NoticeKind.REPAIR_FAILED, _PLANNER, to_assignee=True),
        "verification.partial": Telling(NoticeKind.REPAIR_FAILED, _PLANNER, to_assignee=True),
        "deferral.requested": Telling(NoticeKind.DEFERRAL_ASKED, _MANAGER),
        "deferral.approved": Telling(NoticeKind.DEFERRAL_ANSWERED, to_requester=True, asks=False),
        "deferral.refused": Telling(NoticeKind.DEFERRAL_ANSWERED, to_requester=True, asks=False),
        DEFERRAL_ENDING_ACT: Telling(NoticeKind.DEFERRAL_ENDING, _PLANNER, to_requester=True),
        "deferral.lapsed": Telling(NoticeKind.DEFERRAL_ENDED, _PLANNER, to_requester=True),
        "month.closed": Telling(NoticeKind.MONTH_CLOSED, _MANAGER, asks=False),
    }
)
"""The acts that people hear of, by their names in the logbook: our choice."""

ASKING: Final = frozenset(telling.kind for telling in TOLD.values() if telling.asks)
"""The kinds of which somebody can say that they see to it."""


@dataclass(frozen=True, slots=True)
class People:
    """Who works at a site now: user ids by role."""

    by_role: Mapping[Role, frozenset[int]]

    @property
    def everybody(self) -> frozenset[int]:
        """Return all who have any role."""
        return frozenset().union(*self.by_role.values())

    def holding(self, roles: Collection[Role]) -> frozenset[int]:
        """Return who holds one of the roles; where nobody does, the managers hear it."""
        held = frozenset().union(*(self.by_role.get(role, frozenset()) for role in roles))
        return held or (self.by_role.get(Role.MANAGER, frozenset()) if roles else frozenset())


def addressees(
    telling: Telling,
    people: People,
    *,
    to_role: Role | None = None,
    assignee: int | None = None,
    requester: int | None = None,
    actor: int | None = None,
) -> frozenset[int]:
    """Return the user ids of those who hear of an act: never who did it, never who left the site.

    An escalation goes to its role; a step for technicians to the one whom the order names, if it names one.
    """
    named = set()
    if telling.to_assignee and assignee is not None:
        named.add(assignee)
    if telling.to_requester and requester is not None:
        named.add(requester)
    if to_role is Role.TECHNICIAN and assignee in people.everybody:
        named |= {assignee} if assignee is not None else set()
    elif to_role is not None:
        named |= people.holding({to_role})
    named |= people.holding(telling.roles)
    return frozenset((named & people.everybody) - {actor})
