"""The acts on a finding that a page offers: when, to whom, by which form, and the one call each makes."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from findings.plant.rules import Right
from findings.register import actions as register
from findings.register.rules import ClosureReason, DismissReason, FindingStatus
from plantcare.api.actor import Actor
from workorders.desk.pages import forms
from workorders.orders import actions as orders


@dataclass(frozen=True, slots=True)
class Act:
    """One row: the name in the address, the right, the standings it fits, its form and its call."""

    name: str
    right: Right
    standings: frozenset[FindingStatus]
    form: type[forms.ActForm]
    call: Callable[..., object]
    names_people: bool = False
    unordered: bool = False


def allowed(act: Act, status: str, rights: Collection[Right], *, ordered: bool) -> bool:
    """Say whether an act fits a finding's standing and the person's rights."""
    return act.right in rights and status in act.standings and not (act.unordered and ordered)


def _open_order(
    *,
    actor: Actor,
    at: datetime,
    finding_id: uuid.UUID,
    version: int,  # noqa: ARG001 - an order changes nothing about its finding
    rights: Collection[Right],  # noqa: ARG001
    given: Mapping[str, Any],
) -> object:
    return orders.open_order(
        actor=actor,
        at=at,
        finding_ids=[finding_id],
        title=given.get("title", ""),
        instructions=given.get("instructions", ""),
        assignee_id=given.get("assignee"),
    )


def _dismiss(
    *,
    actor: Actor,
    at: datetime,
    finding_id: uuid.UUID,
    version: int,
    rights: Collection[Right],  # noqa: ARG001
    given: Mapping[str, Any],
) -> object:
    return register.dismiss(
        actor=actor,
        at=at,
        finding_id=finding_id,
        dismiss_reason=DismissReason(given["dismiss_reason"]),
        text=given["text"],
        version=version,
    )


def _close(
    *,
    actor: Actor,
    at: datetime,
    finding_id: uuid.UUID,
    version: int,
    rights: Collection[Right],  # noqa: ARG001
    given: Mapping[str, Any],
) -> object:
    return register.close_by_reason(
        actor=actor,
        at=at,
        finding_id=finding_id,
        closure_reason=ClosureReason(given["closure_reason"]),
        closure_text=given["closure_text"],
        version=version,
    )


_S = FindingStatus
_LOUD: Final = frozenset({_S.OPEN, _S.DEFERRED})
_OPEN: Final = frozenset({_S.OPEN, _S.DEFERRED, _S.REPAIRED})

ACTS: Final[Mapping[str, Act]] = {
    act.name: act
    for act in (
        Act("order", Right.PLAN, _LOUD, forms.OpenOrder, _open_order, names_people=True, unordered=True),
        Act("dismiss", Right.ASSESS, _LOUD, forms.Dismiss, _dismiss),
        Act("close", Right.CLOSE_BY_REASON, _OPEN, forms.CloseByReason, _close),
    )
}
