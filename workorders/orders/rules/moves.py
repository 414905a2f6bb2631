"""The life of a work order: every state, every move, and what each move asks, in one table."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from findings.plant.rules import Right
from findings.register.rules import ClosureReason


class OrderState(StrEnum):
    """Where a work order stands; it is created as a draft."""

    DRAFT = "draft"
    READY = "ready"
    SCHEDULED = "scheduled"
    IN_PROGRESS = "in_progress"
    WAITING = "waiting"
    REPAIRED = "repaired"
    CLOSED = "closed"
    CANCELLED = "cancelled"


FINAL_STATES: Final = frozenset({OrderState.CLOSED, OrderState.CANCELLED})
OPEN_STATES: Final = frozenset(OrderState) - FINAL_STATES


class MoveName(StrEnum):
    """What somebody does to an order."""

    RELEASE = "release"
    SCHEDULE = "schedule"
    START = "start"
    WAIT = "wait"
    RESUME = "resume"
    REPORT_REPAIR = "report_repair"
    CLOSE = "close"
    REOPEN = "reopen"
    CANCEL = "cancel"


class RepairOutcome(StrEnum):
    """What the one who repaired says came of it."""

    FIXED = "fixed"
    PARTIAL = "partial"
    NOT_FOUND = "not_found"
    NEEDS_SHUTDOWN = "needs_shutdown"


class CancelReason(StrEnum):
    """Why an order ends without work. There is no "other": a reason nobody can count explains nothing."""

    REJECTED = "rejected"
    MERGED = "merged"
    DECOMMISSIONED = "decommissioned"
    DUPLICATE = "duplicate"


class WaitReason(StrEnum):
    """What the work waits for."""

    PARTS = "parts"
    SHUTDOWN = "shutdown"
    ACCESS = "access"
    PERMIT = "permit"
    TRADE = "trade"


class Follow(StrEnum):
    """What the action has to do in the same transaction once the state has changed."""

    CLOCKS_STARTED = "clocks_started"
    CLOCKS_STOPPED = "clocks_stopped"
    FINDINGS_REPAIRED = "findings_repaired"
    FINDINGS_CLOSED = "findings_closed"
    FINDINGS_REOPENED = "findings_reopened"
    FINDINGS_RELEASED = "findings_released"
    CHECK_REQUESTED = "check_requested"
    LATER_VISIT_REQUESTED = "later_visit_requested"
    LOSS_PROVISIONAL = "loss_provisional"
    LOSS_CONFIRMED = "loss_confirmed"
    LOSS_RESUMED = "loss_resumed"


@dataclass(frozen=True, slots=True)
class Move:
    """One row of the table.

    `evidence` must be given with the move, `hazard_evidence` too when the order is a hazard;
    `when` narrows the row to values of one evidence field, so that one name may lead two ways.
    """

    name: MoveName
    source: OrderState
    target: OrderState
    right: Right
    evidence: tuple[str, ...] = ()
    hazard_evidence: tuple[str, ...] = ()
    when: tuple[str, frozenset[str]] | None = None
    follows: tuple[Follow, ...] = ()

    def missing(self, evidence: Mapping[str, object], *, hazard: bool) -> tuple[str, ...]:
        """Name the evidence fields still empty; an isolation that is not confirmed counts as empty."""
        asked = self.evidence + (self.hazard_evidence if hazard else ())
        return tuple(name for name in asked if not _is_given(evidence.get(name)))

    def fits(self, evidence: Mapping[str, object]) -> bool:
        """Say whether the evidence takes this way and not the other way of the same name."""
        if self.when is None:
            return True
        field, values = self.when
        return str(evidence.get(field) or "") in values


def _is_given(value: object) -> bool:
    if isinstance(value, str):
        return bool(value.strip())
    return value is not None and value is not False


def _working_rows() -> tuple[Move, ...]:
    """Give the rows from the draft to the reported repair."""
    s, m, r, f = OrderState, MoveName, Right, Follow
    isolated = ("isolation_confirmed",)
    dates = ("scheduled_for", "assignee")
    stuck = ("wait_reason", frozenset(WaitReason))
    mended = ("outcome", frozenset({RepairOutcome.FIXED, RepairOutcome.PARTIAL}))
    unfound = ("outcome", frozenset({RepairOutcome.NOT_FOUND}))
    blocked = ("outcome", frozenset({RepairOutcome.NEEDS_SHUTDOWN}))
    return (
        Move(m.RELEASE, s.DRAFT, s.READY, r.PLAN, follows=(f.CLOCKS_STARTED,)),
        Move(m.SCHEDULE, s.READY, s.SCHEDULED, r.PLAN, dates),
        Move(m.SCHEDULE, s.SCHEDULED, s.SCHEDULED, r.PLAN, dates),
        # What cannot wait for a week's plan is started straight from ready.
        Move(m.START, s.READY, s.IN_PROGRESS, r.REPAIR, hazard_evidence=isolated),
        Move(m.START, s.SCHEDULED, s.IN_PROGRESS, r.REPAIR, hazard_evidence=isolated),
        Move(m.WAIT, s.READY, s.WAITING, r.PLAN, (stuck[0],), when=stuck),
        Move(m.WAIT, s.SCHEDULED, s.WAITING, r.PLAN, (stuck[0],), when=stuck),
        Move(m.WAIT, s.IN_PROGRESS, s.WAITING, r.REPAIR, (stuck[0],), when=stuck),
        # Back to ready, never straight to work: pressure and voltage may have come back meanwhile,
        # so that the isolation is confirmed again at the next start.
        Move(m.RESUME, s.WAITING, s.READY, r.PLAN),
        Move(
            m.REPORT_REPAIR, s.IN_PROGRESS, s.REPAIRED, r.REPAIR,
            ("outcome", "action_taken", "repaired_at"), isolated, mended,
            (f.FINDINGS_REPAIRED, f.LOSS_PROVISIONAL, f.CHECK_REQUESTED),
        ),
        # Nothing was mended, so nothing is called repaired.
        Move(
            m.REPORT_REPAIR, s.IN_PROGRESS, s.READY, r.REPAIR,
            ("outcome", "text"), when=unfound, follows=(f.CHECK_REQUESTED,),
        ),
        Move(m.REPORT_REPAIR, s.IN_PROGRESS, s.WAITING, r.REPAIR, ("outcome", "text"), when=blocked),
    )  # fmt: skip


def _ending_rows() -> tuple[Move, ...]:
    """Give the rows that close, reopen and cancel."""
    s, m, r, f = OrderState, MoveName, Right, Follow
    ended = ("cancel_reason", frozenset(CancelReason))
    pointless = ("cancel_reason", frozenset({CancelReason.MERGED, CancelReason.REJECTED}))
    excused = ("closure_reason", frozenset(ClosureReason))
    passed = ("verdict", frozenset({"passed"}))
    not_passed = ("verdict", frozenset({"partial", "failed"}))
    judged = ("verification", "verdict")
    by_reason = ("closure_reason", "closure_text")
    over = (f.FINDINGS_CLOSED, f.CLOCKS_STOPPED)
    cancelled = (f.FINDINGS_RELEASED, f.CLOCKS_STOPPED)
    return (
        Move(
            m.CLOSE, s.REPAIRED, s.CLOSED, r.VERIFY, judged,
            when=passed, follows=(*over, f.LOSS_CONFIRMED, f.LATER_VISIT_REQUESTED),
        ),
        Move(m.CLOSE, s.REPAIRED, s.CLOSED, r.CLOSE_BY_REASON, by_reason, when=excused, follows=over),
        # A fault may be proven gone, or excused, whatever the paper says: the order follows its findings.
        *(
            Move(m.CLOSE, source, s.CLOSED, right, evidence, when=when, follows=over)
            for source in (s.DRAFT, s.READY, s.SCHEDULED, s.IN_PROGRESS, s.WAITING)
            for right, evidence, when in ((r.VERIFY, judged, passed), (r.CLOSE_BY_REASON, by_reason, excused))
        ),
        Move(
            m.REOPEN, s.REPAIRED, s.READY, r.VERIFY, judged,
            when=not_passed, follows=(f.FINDINGS_REOPENED, f.LOSS_RESUMED, f.CLOCKS_STARTED),
        ),
        Move(
            m.REOPEN, s.CLOSED, s.READY, r.ASSESS, ("reading",),
            follows=(f.FINDINGS_REOPENED, f.LOSS_RESUMED, f.CLOCKS_STARTED),
        ),
        *(
            Move(m.CANCEL, source, s.CANCELLED, r.PLAN, (ended[0],), when=ended, follows=cancelled)
            for source in (s.DRAFT, s.READY, s.SCHEDULED, s.WAITING)
        ),
        # Nothing is left to check when the finding itself was merged or dismissed meanwhile.
        Move(m.CANCEL, s.REPAIRED, s.CANCELLED, r.PLAN, (ended[0],), when=pointless, follows=cancelled),
    )  # fmt: skip


MOVES: Final = (*_working_rows(), *_ending_rows())


class MoveRefused(ValueError):
    """The table does not let this move happen now; `code` says which of three causes it was."""

    def __init__(
        self, state: OrderState, name: MoveName, code: str, text: str, missing: tuple[str, ...] = ()
    ) -> None:
        super().__init__(text)
        self.state = state
        self.name = name
        self.code = code
        self.missing = missing


def allowed_moves(state: OrderState, rights: Collection[Right]) -> tuple[Move, ...]:
    """List the rows that lead on from a state for somebody with these rights."""
    return tuple(move for move in MOVES if move.source == state and move.right in rights)


def check_move(
    state: OrderState,
    name: MoveName,
    rights: Collection[Right],
    evidence: Mapping[str, object],
    *,
    hazard: bool = False,
) -> Move:
    """Return the row that a move takes, or raise MoveRefused.

    Raises with code `move_not_allowed` when the state has no such move, `right_missing` when the
    actor may not, and `evidence_missing` (with the fields) when the move is not proven.
    """
    rows = [move for move in MOVES if move.source == state and move.name == name]
    if not rows:
        text = f"A work order that is {_plain(state)} has no move “{_plain(name)}”."
        raise MoveRefused(state, name, "move_not_allowed", text)
    permitted = [move for move in rows if move.right in rights]
    if not permitted:
        wanted = " or ".join(sorted({move.right.value for move in rows}))
        text = f"The move “{_plain(name)}” on a work order that is {_plain(state)} takes the right {wanted}."
        raise MoveRefused(state, name, "right_missing", text)
    proven = [move for move in permitted if move.fits(evidence) and not move.missing(evidence, hazard=hazard)]
    if proven:
        return proven[0]
    gaps = _gaps(permitted, evidence, hazard=hazard)
    ways = " or ".join(", ".join(gap) for gap in gaps)
    text = f"The move “{_plain(name)}” on a work order that is {_plain(state)} still needs: {ways}."
    raise MoveRefused(state, name, "evidence_missing", text, min(gaps, key=len))


def _gaps(rows: list[Move], evidence: Mapping[str, object], *, hazard: bool) -> list[tuple[str, ...]]:
    """Name what each way lacks; when one field's value has already chosen a way, only that way's."""
    chosen = [move for move in rows if move.when is not None and move.fits(evidence)]
    gaps = []
    for move in chosen or rows:
        gap = move.missing(evidence, hazard=hazard)
        if move.when is not None and not move.fits(evidence):
            gap = (*gap, move.when[0])
        gaps.append(tuple(dict.fromkeys(gap)))
    return gaps


def _plain(word: str) -> str:
    return word.replace("_", " ")


def diagram() -> str:
    """Draw the table as a Mermaid state diagram, one arrow for each row."""
    lines = ["stateDiagram-v2", f"    [*] --> {OrderState.DRAFT}"]
    for move in MOVES:
        label = _plain(move.name)
        if move.when is not None and _has_other_way(move):
            label += f" ({', '.join(_plain(value) for value in sorted(move.when[1]))})"
        lines.append(f"    {move.source} --> {move.target}: {label}")
    lines += [f"    {state} --> [*]" for state in sorted(FINAL_STATES)]
    return "\n".join(lines)


def _has_other_way(move: Move) -> bool:
    return sum(other.source == move.source and other.name == move.name for other in MOVES) > 1
