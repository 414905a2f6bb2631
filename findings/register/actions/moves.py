"""The moves that a person makes on a finding itself, by name; repairs are moved through their work orders."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from datetime import datetime
from enum import StrEnum
from typing import Any, Final

from findings.kinds.base import Medium
from findings.plant.rules import Right
from findings.register.actions import classifying, closing, judging
from findings.register.models import Finding
from findings.register.rules import RIGHT_OF_MOVE, ClosureReason, DismissReason, FindingMove
from plantcare.api.actor import Actor
from plantcare.api.problems import FieldError, Invalid


class FindingAct(StrEnum):
    """What the door for moves takes."""

    DISMISS = "dismiss"
    REINSTATE = "reinstate"
    MERGE = "merge"
    SEPARATE = "separate"
    CLOSE_BY_REASON = "close_by_reason"
    REOPEN = "reopen"
    CLASSIFY = "classify"


EVIDENCE: Final[Mapping[FindingAct, tuple[frozenset[str], frozenset[str]]]] = {
    FindingAct.DISMISS: (frozenset({"dismiss_reason", "text"}), frozenset()),
    FindingAct.REINSTATE: (frozenset({"text"}), frozenset()),
    FindingAct.MERGE: (frozenset({"survivor_id", "text"}), frozenset()),
    FindingAct.SEPARATE: (frozenset({"text"}), frozenset()),
    FindingAct.CLOSE_BY_REASON: (frozenset({"closure_reason", "text"}), frozenset({"ended_at"})),
    FindingAct.REOPEN: (frozenset({"reading_id"}), frozenset()),
    FindingAct.CLASSIFY: (frozenset({"medium", "text"}), frozenset()),
}
"""The members each move needs, and those it may have; any other is refused."""


class MoveIncomplete(Invalid):
    """A move lacks evidence, or carries some of another move."""

    code = "move_evidence"
    title = "The move's evidence is incomplete or of another move."


def right_of(act: FindingAct) -> Right:
    """Return the right that a move takes."""
    if act is FindingAct.CLASSIFY:
        return Right.ASSESS
    return RIGHT_OF_MOVE[FindingMove(act.value)]


def move(
    *,
    actor: Actor,
    at: datetime,
    finding_id: uuid.UUID,
    act: FindingAct,
    evidence: Mapping[str, Any],
    version: int | None = None,
) -> Finding:
    """Make one named move with its evidence. Raises MoveIncomplete and what the move raises."""
    _check(act, evidence)
    known: dict[str, Any] = {"actor": actor, "at": at, "version": version}
    match act:
        case FindingAct.MERGE:
            return judging.merge(
                duplicate_id=finding_id,
                survivor_id=evidence["survivor_id"],
                reason=evidence["text"],
                **known,
            )
        case FindingAct.DISMISS:
            reason = DismissReason(evidence["dismiss_reason"])
            return judging.dismiss(
                finding_id=finding_id, dismiss_reason=reason, text=evidence["text"], **known
            )
        case FindingAct.REINSTATE:
            return judging.reinstate(finding_id=finding_id, text=evidence["text"], **known)
        case FindingAct.SEPARATE:
            return judging.separate(finding_id=finding_id, text=evidence["text"], **known)
        case FindingAct.REOPEN:
            return closing.reopen(finding_id=finding_id, reading_id=evidence["reading_id"], **known)
        case FindingAct.CLASSIFY:
            medium = Medium(evidence["medium"])
            return classifying.classify(finding_id=finding_id, medium=medium, text=evidence["text"], **known)
        case FindingAct.CLOSE_BY_REASON:
            return closing.close_by_reason(
                finding_id=finding_id,
                closure_reason=ClosureReason(evidence["closure_reason"]),
                closure_text=evidence["text"],
                ended_at=evidence.get("ended_at"),
                **known,
            )


def _check(act: FindingAct, evidence: Mapping[str, Any]) -> None:
    needs, may = EVIDENCE[act]
    given = {name for name, value in evidence.items() if value is not None}
    errors = [FieldError(f"/{name}", "required", f"To {act} takes it.") for name in sorted(needs - given)]
    errors += [
        FieldError(f"/{name}", "unexpected", f"To {act} doesn't take it.")
        for name in sorted(given - needs - may)
    ]
    if errors:
        raise MoveIncomplete(errors=errors)
