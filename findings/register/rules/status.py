"""What a finding may become, which findings are one, and why one may end without a reading."""

import unicodedata
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from types import MappingProxyType
from typing import Final

from findings.kinds.base import Kind, Medium
from findings.kinds.cautions import Caution
from findings.kinds.hazards import HazardClass
from findings.kinds.registry import kind_of
from findings.plant.rules import Right

SHORTEST_REASON: Final = 10
"""Characters a written reason needs at least; shorter ones explain nothing (our judgement)."""

RELEAK_WINDOW: Final = timedelta(days=365)
"""A fault at the same spot within this time of the repair is the old one come back."""


class FindingStatus(StrEnum):
    """Where a finding stands; it is created open."""

    OPEN = "open"
    DEFERRED = "deferred"
    REPAIRED = "repaired"
    CLOSED = "closed"
    DISMISSED = "dismissed"
    MERGED = "merged"


class EvidenceRole(StrEnum):
    """What a reading does for a finding."""

    FOUND = "found"
    HEARD_AGAIN = "heard_again"
    AFTER_REPAIR = "after_repair"
    QUIET = "quiet"
    MOVED_HERE = "moved_here"


OPEN_STATUSES: Final = frozenset({FindingStatus.OPEN, FindingStatus.DEFERRED, FindingStatus.REPAIRED})
"""Still on somebody's list. A repair that nobody has checked is open."""


class ClosureReason(StrEnum):
    """Why a finding may close without a reading that shows it gone."""

    VERIFIED_BY_OTHER_MEANS = "verified_by_other_means"
    ASSET_DECOMMISSIONED = "asset_decommissioned"
    BRANCH_ISOLATED = "branch_isolated"


NO_SAVING_REASONS: Final = frozenset({ClosureReason.ASSET_DECOMMISSIONED, ClosureReason.BRANCH_ISOLATED})
"""The loss ends, but nothing was repaired: no repair is counted and no saving claimed."""


class DismissReason(StrEnum):
    """Why a finding was never a fault; its money is taken back by a dated correction."""

    NO_FAULT_FOUND = "no_fault_found"
    WORKS_AS_MEANT = "works_as_meant"
    READING_NOT_VALID = "reading_not_valid"
    WRONG_ASSET = "wrong_asset"


class FindingMove(StrEnum):
    """A change of status, named for what happened."""

    DEFER = "defer"
    END_DEFERRAL = "end_deferral"
    REPORT_REPAIR = "report_repair"
    REJECT_REPAIR = "reject_repair"
    CLOSE = "close"
    CLOSE_BY_REASON = "close_by_reason"
    REOPEN = "reopen"
    DISMISS = "dismiss"
    REINSTATE = "reinstate"
    MERGE = "merge"
    SEPARATE = "separate"


@dataclass(frozen=True, slots=True)
class StatusChange:
    """One row of the table: from the source by the move to the target, with a right and evidence."""

    move: FindingMove
    source: FindingStatus
    target: FindingStatus
    right: Right
    evidence: tuple[str, ...] = ()


def _table() -> Mapping[tuple[FindingStatus, FindingMove], StatusChange]:
    s, m = FindingStatus, FindingMove
    reason = ("closure_reason", "closure_text")
    rows = [
        StatusChange(m.DEFER, s.OPEN, s.DEFERRED, Right.APPROVE_DEFERRAL, ("deferral",)),
        StatusChange(m.END_DEFERRAL, s.DEFERRED, s.OPEN, Right.APPROVE_DEFERRAL),
        # A fault may be repaired while its deferral still runs: good news needs no permit.
        StatusChange(m.REPORT_REPAIR, s.OPEN, s.REPAIRED, Right.REPAIR, ("repaired_at",)),
        StatusChange(m.REPORT_REPAIR, s.DEFERRED, s.REPAIRED, Right.REPAIR, ("repaired_at",)),
        StatusChange(m.REJECT_REPAIR, s.REPAIRED, s.OPEN, Right.VERIFY, ("reading",)),
        StatusChange(m.CLOSE, s.REPAIRED, s.CLOSED, Right.VERIFY, ("reading",)),
        *(
            StatusChange(m.CLOSE_BY_REASON, status, s.CLOSED, Right.CLOSE_BY_REASON, reason)
            for status in (s.OPEN, s.DEFERRED, s.REPAIRED)
        ),
        StatusChange(m.REOPEN, s.CLOSED, s.OPEN, Right.ASSESS, ("reading",)),
        # Once repaired, something was there: it can no longer be called no fault.
        *(
            StatusChange(m.DISMISS, status, s.DISMISSED, Right.ASSESS, ("dismiss_reason",))
            for status in (s.OPEN, s.DEFERRED)
        ),
        StatusChange(m.REINSTATE, s.DISMISSED, s.OPEN, Right.ASSESS, ("text",)),
        *(
            StatusChange(m.MERGE, status, s.MERGED, Right.ASSESS, ("survivor",))
            for status in (s.OPEN, s.DEFERRED, s.REPAIRED)
        ),
        StatusChange(m.SEPARATE, s.MERGED, s.OPEN, Right.ASSESS, ("text",)),
    ]
    return MappingProxyType({(row.source, row.move): row for row in rows})


STATUS_CHANGES: Final = _table()


class StatusChangeRefused(ValueError):
    """The table has no such change, or the actor lacks the right for it."""

    def __init__(self, status: FindingStatus, move: FindingMove, code: str, text: str) -> None:
        super().__init__(text)
        self.status = status
        self.move = move
        self.code = code


def allowed_changes(
    status: FindingStatus, rights: Collection[Right] | None = None
) -> tuple[StatusChange, ...]:
    """List the changes open from a status, narrowed to the rights when they are given."""
    return tuple(
        row
        for row in STATUS_CHANGES.values()
        if row.source == status and (rights is None or row.right in rights)
    )


def check_change(
    status: FindingStatus, move: FindingMove, rights: Collection[Right] | None = None
) -> StatusChange:
    """Return the row for a change, or raise StatusChangeRefused naming status and move."""
    row = STATUS_CHANGES.get((status, move))
    if row is None:
        text = f"A finding that is {status} cannot {move.replace('_', ' ')}."
        raise StatusChangeRefused(status, move, "status_change_not_allowed", text)
    if rights is not None and row.right not in rights:
        text = f"To {move.replace('_', ' ')} a finding that is {status} takes the right {row.right}."
        raise StatusChangeRefused(status, move, "right_missing", text)
    return row


@dataclass(frozen=True, slots=True)
class Spot:
    """Where and what kind a fault is. With a measuring point the written spot does not count."""

    kind: str
    asset: str
    point: str | None = None
    text: str = ""

    @property
    def key(self) -> str:
        """Give one comparable text, fit for an index; two faults with equal keys are one."""
        place = f"point:{self.point}" if self.point else f"spot:{plain_text(self.text)}"
        return f"{self.kind}|{self.asset}|{place}"

    @property
    def is_exact(self) -> bool:
        """Say whether the place is told well enough to call two faults one unasked."""
        return bool(self.point or plain_text(self.text))


def plain_text(text: str) -> str:
    """Fold case, accents' spelling, punctuation and runs of space, so that typing habits don't divide."""
    folded = unicodedata.normalize("NFKC", text).casefold()
    kept = "".join(sign if sign.isalnum() else " " for sign in folded)
    return " ".join(kept.split())


def same_spot(one: Spot, other: Spot) -> bool:
    """Say whether two records speak of the same fault: same kind, asset, and point or written spot.

    Records with neither point nor words are never joined unasked: an asset has room for two leaks.
    """
    return one.is_exact and other.is_exact and one.key == other.key


class Match(StrEnum):
    """What a new reading at a known spot means for the finding already there."""

    SAME = "same"
    RELEAK = "releak"
    NEW_LINKED = "new_linked"
    NEW = "new"


def match_existing(status: FindingStatus, repaired_at: datetime | None, heard_at: datetime) -> Match:
    """Tell what hearing a fault again makes of the finding known at its spot.

    An open one is the same one; a closed one has come back when its repair lies within the window;
    later it is a new finding that names the old. A dismissed or merged one gives no claim.
    """
    if status in OPEN_STATUSES:
        return Match.SAME
    if status is not FindingStatus.CLOSED:
        return Match.NEW
    if repaired_at is not None and heard_at - repaired_at <= RELEAK_WINDOW:
        return Match.RELEAK
    return Match.NEW_LINKED


def medium_of(kind: Kind, *stated: str) -> Medium | None:
    """Return the medium of a finding from what was stated, first word first; None where nobody knows."""
    definition = kind_of(kind)
    if len(definition.media) == 1:
        return next(iter(definition.media))
    for word in stated:
        if word and Medium(word) in definition.media:
            return Medium(word)
    return None


def class_of(kind: Kind, medium: Medium | None) -> HazardClass:
    """Return the danger of a finding; an unknown medium counts as the strictest until it is classified."""
    definition = kind_of(kind)
    if medium is None and definition.media:
        return definition.hazard(Medium.OTHER)
    return definition.hazard(medium)


def cautions_of(kind: Kind, medium: Medium | None) -> tuple[Caution, ...]:
    """Return the cautions of a finding, those of an unknown gas where the medium isn't known."""
    definition = kind_of(kind)
    if medium is None and definition.media:
        return definition.cautions(Medium.OTHER)
    return definition.cautions(medium)


RIGHT_OF_MOVE: Final[Mapping[FindingMove, Right]] = MappingProxyType(
    {row.move: row.right for row in STATUS_CHANGES.values()}
)
"""The right a move takes; it does not depend on the status it starts from."""


def reason_is_written(text: str) -> bool:
    """Say whether a written reason is long enough to tell anything."""
    return len(text.strip()) >= SHORTEST_REASON
