"""The acts on a finding that a page offers: when, to whom, by which form, and the one call each makes."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from findings.deferrals import actions as deferrals
from findings.deferrals.rules import DeferralReason
from findings.kinds.base import Kind
from findings.panels import actions as panels
from findings.plant.rules import Right
from findings.register import actions as register
from findings.register.rules import ClosureReason, DismissReason, FindingStatus
from plantcare.api.actor import Actor
from workorders.desk.pages import discharge_forms, forms
from workorders.desk.queries.discharge import standing_condition
from workorders.orders import actions as orders
from workorders.verification import actions as verification


@dataclass(frozen=True, slots=True)
class Sent:
    """A form that was sent and can be read: by whom, when, about which finding and version."""

    actor: Actor
    at: datetime
    finding_id: uuid.UUID
    version: int
    rights: Collection[Right]
    given: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Act:
    """One row: the name in the address, the right, the standings it fits, its form and its call."""

    name: str
    right: Right
    standings: frozenset[FindingStatus]
    form: type[forms.ActForm]
    call: Callable[[Sent], object]
    names_people: bool = False
    unordered: bool = False
    # The only kind of finding that the act is for; any, where it is empty.
    kind: str = ""


def allowed(act: Act, status: str, kind: str, rights: Collection[Right], *, ordered: bool) -> bool:
    """Say whether an act fits a finding's standing and kind and the person's rights."""
    fits = status in act.standings and act.kind in {"", kind}
    return act.right in rights and fits and not (act.unordered and ordered)


def _open_order(sent: Sent) -> object:
    return orders.open_order(
        actor=sent.actor,
        at=sent.at,
        finding_ids=[sent.finding_id],
        title=sent.given.get("title", ""),
        instructions=sent.given.get("instructions", ""),
        assignee_id=sent.given.get("assignee"),
    )


def _verify(sent: Sent) -> object:
    return verification.verify(
        actor=sent.actor,
        at=sent.at,
        finding_id=sent.finding_id,
        reading_id=uuid.UUID(sent.given["reading_id"]),
        rights=sent.rights,
        energised=sent.given.get("energised"),
        qualified=sent.given.get("qualified", False),
    )


def _defer(sent: Sent) -> object:
    return deferrals.request_deferral(
        actor=sent.actor,
        at=sent.at,
        finding_id=sent.finding_id,
        reason=DeferralReason(sent.given["reason"]),
        text=sent.given["text"],
        until_at=sent.given["until_at"],
        interim_measures=sent.given.get("interim_measures", ""),
    )


def _dismiss(sent: Sent) -> object:
    return register.dismiss(
        actor=sent.actor,
        at=sent.at,
        finding_id=sent.finding_id,
        dismiss_reason=DismissReason(sent.given["dismiss_reason"]),
        text=sent.given["text"],
        version=sent.version,
    )


def _close(sent: Sent) -> object:
    return register.close_by_reason(
        actor=sent.actor,
        at=sent.at,
        finding_id=sent.finding_id,
        closure_reason=ClosureReason(sent.given["closure_reason"]),
        closure_text=sent.given["closure_text"],
        version=sent.version,
    )


def _overrule(sent: Sent) -> object:
    return panels.overrule(
        actor=sent.actor,
        at=sent.at,
        condition_id=standing_condition(sent.finding_id, sent.version),
        sound=sent.given["sound"],
        reason=sent.given["reason"],
    )


def _release_opening(sent: Sent) -> object:
    return panels.release_opening(
        actor=sent.actor,
        at=sent.at,
        finding_id=sent.finding_id,
        **{name: sent.given[name] for name in ("technique", "found", "conditions", "until_at")},
    )


_S = FindingStatus
_DISCHARGE: Final = Kind.ELECTRICAL_DISCHARGE
_LOUD: Final = frozenset({_S.OPEN, _S.DEFERRED})

ACTS: Final[Mapping[str, Act]] = {
    act.name: act
    for act in (
        Act("order", Right.PLAN, _LOUD, forms.OpenOrder, _open_order, names_people=True, unordered=True),
        Act("verify", Right.VERIFY, frozenset({_S.REPAIRED}), forms.Verify, _verify),
        Act("defer", Right.DEFER, frozenset({_S.OPEN}), forms.Defer, _defer),
        Act("dismiss", Right.ASSESS, _LOUD, forms.Dismiss, _dismiss),
        Act(
            "overrule",
            Right.ASSESS,
            _LOUD | {_S.REPAIRED},
            discharge_forms.Overrule,
            _overrule,
            kind=_DISCHARGE,
        ),
        Act(
            "release",
            Right.RELEASE_OPENING,
            _LOUD | {_S.REPAIRED},
            discharge_forms.ReleaseOpening,
            _release_opening,
            kind=_DISCHARGE,
        ),
        Act("close", Right.CLOSE_BY_REASON, _LOUD | {_S.REPAIRED}, forms.CloseByReason, _close),
    )
}
