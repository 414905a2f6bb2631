"""The life of a work order: the whole square of states and moves, with rights and evidence."""

import pytest

from findings.plant.rules import Right, Role, rights_of
from workorders.orders.rules import (
    MOVES,
    OPEN_STATES,
    CancelReason,
    Move,
    MoveName,
    MoveRefused,
    OrderState,
    allowed_moves,
    check_move,
    diagram,
)

EVERY_RIGHT = frozenset(Right)
SQUARE: dict[str, dict[str, set[str]]] = {
    "draft": {"release": {"ready"}, "close": {"closed"}, "cancel": {"cancelled"}},
    "ready": {
        "schedule": {"scheduled"},
        "start": {"in_progress"},
        "wait": {"waiting"},
        "close": {"closed"},
        "cancel": {"cancelled"},
    },
    "scheduled": {
        "schedule": {"scheduled"},
        "start": {"in_progress"},
        "wait": {"waiting"},
        "close": {"closed"},
        "cancel": {"cancelled"},
    },
    "in_progress": {
        "wait": {"waiting"},
        "report_repair": {"repaired", "ready", "waiting"},
        "close": {"closed"},
    },
    "waiting": {"resume": {"ready"}, "close": {"closed"}, "cancel": {"cancelled"}},
    "repaired": {"close": {"closed"}, "reopen": {"ready"}, "cancel": {"cancelled"}},
    "closed": {"reopen": {"ready"}},
    "cancelled": {},
}


def proof_for(move: Move) -> dict[str, object]:
    """Give all the evidence a row asks, hazard or not."""
    proof: dict[str, object] = dict.fromkeys((*move.evidence, *move.hazard_evidence), "given")
    if move.when is not None:
        proof[move.when[0]] = min(move.when[1])
    return proof


class TestMoveSquare:
    @pytest.mark.parametrize("name", list(MoveName))
    @pytest.mark.parametrize("state", list(OrderState))
    def test_holds_exactly_what_is_written_here(self, state: OrderState, name: MoveName) -> None:
        targets = {move.target for move in MOVES if move.source == state and move.name == name}

        assert targets == SQUARE[state].get(name, set())

    @pytest.mark.parametrize("name", list(MoveName))
    @pytest.mark.parametrize("state", list(OrderState))
    def test_refuses_the_rest_naming_state_and_move(self, state: OrderState, name: MoveName) -> None:
        if name in SQUARE[state]:
            return

        with pytest.raises(MoveRefused) as refused:
            check_move(state, name, EVERY_RIGHT, {})

        assert (refused.value.code, refused.value.state, refused.value.name) == (
            "move_not_allowed",
            state,
            name,
        )

    @pytest.mark.parametrize("move", MOVES, ids=lambda move: f"{move.source}-{move.name}-{move.target}")
    def test_each_row_is_reached_by_its_own_evidence(self, move: Move) -> None:
        assert check_move(move.source, move.name, EVERY_RIGHT, proof_for(move), hazard=True) == move

    @pytest.mark.parametrize("move", MOVES, ids=lambda move: f"{move.source}-{move.name}-{move.target}")
    def test_each_row_takes_its_right(self, move: Move) -> None:
        with pytest.raises(MoveRefused) as refused:
            check_move(move.source, move.name, EVERY_RIGHT - {move.right}, proof_for(move))

        assert refused.value.code in {"right_missing", "evidence_missing"}

    @pytest.mark.parametrize(
        "move",
        [move for move in MOVES if move.evidence],
        ids=lambda move: f"{move.source}-{move.name}-{move.target}-{move.right}",
    )
    def test_each_row_refuses_missing_evidence(self, move: Move) -> None:
        with pytest.raises(MoveRefused) as refused:
            check_move(move.source, move.name, {move.right}, {})

        assert refused.value.missing


class TestClose:
    def test_passes_on_a_passed_verification(self) -> None:
        move = check_move(
            OrderState.REPAIRED,
            MoveName.CLOSE,
            rights_of([Role.INSPECTOR]),
            {"verification": "v1", "verdict": "passed"},
        )

        assert move.right is Right.VERIFY

    @pytest.mark.parametrize("verdict", ["failed", "partial", "cannot_tell", ""])
    def test_is_refused_on_any_other_verdict(self, verdict: str) -> None:
        with pytest.raises(MoveRefused, match="close"):
            check_move(
                OrderState.REPAIRED,
                MoveName.CLOSE,
                EVERY_RIGHT,
                {"verification": "v1", "verdict": verdict},
            )

    def test_by_reason_takes_the_right_for_it(self) -> None:
        reason = {"closure_reason": "branch_isolated", "closure_text": "valve 12 locked shut"}

        with pytest.raises(MoveRefused):
            check_move(OrderState.REPAIRED, MoveName.CLOSE, rights_of([Role.INSPECTOR]), reason)

    def test_names_both_ways_to_somebody_who_may_take_both(self) -> None:
        with pytest.raises(MoveRefused, match=r"verification, verdict or closure_reason, closure_text"):
            check_move(OrderState.REPAIRED, MoveName.CLOSE, rights_of([Role.MANAGER]), {})

    def test_a_technician_never_may(self) -> None:
        with pytest.raises(MoveRefused) as refused:
            check_move(
                OrderState.REPAIRED,
                MoveName.CLOSE,
                rights_of([Role.TECHNICIAN]),
                {"verification": "v1", "verdict": "passed"},
            )

        assert refused.value.code == "right_missing"


class TestHazard:
    def test_is_not_started_before_the_isolation_is_confirmed(self) -> None:
        with pytest.raises(MoveRefused) as refused:
            check_move(
                OrderState.READY,
                MoveName.START,
                {Right.REPAIR},
                {"isolation_confirmed": False},
                hazard=True,
            )

        assert refused.value.missing == ("isolation_confirmed",)

    def test_resumes_to_ready_so_that_isolation_is_confirmed_again(self) -> None:
        assert check_move(OrderState.WAITING, MoveName.RESUME, {Right.PLAN}, {}).target is OrderState.READY


class TestReportRepair:
    @pytest.mark.parametrize(
        ("outcome", "target"),
        [
            ("fixed", OrderState.REPAIRED),
            ("partial", OrderState.REPAIRED),
            ("not_found", OrderState.READY),
            ("needs_shutdown", OrderState.WAITING),
        ],
    )
    def test_leads_where_the_outcome_says(self, outcome: str, target: OrderState) -> None:
        proof = {
            "outcome": outcome,
            "action_taken": "seal",
            "repaired_at": "2025-06-11T08:00Z",
            "text": "why",
        }

        assert (
            check_move(OrderState.IN_PROGRESS, MoveName.REPORT_REPAIR, {Right.REPAIR}, proof).target is target
        )

    def test_asks_only_what_the_chosen_outcome_needs(self) -> None:
        with pytest.raises(MoveRefused) as refused:
            check_move(
                OrderState.IN_PROGRESS, MoveName.REPORT_REPAIR, {Right.REPAIR}, {"outcome": "not_found"}
            )

        assert refused.value.missing == ("text",)

    def test_refuses_an_outcome_it_does_not_know(self) -> None:
        with pytest.raises(MoveRefused) as refused:
            check_move(
                OrderState.IN_PROGRESS,
                MoveName.REPORT_REPAIR,
                {Right.REPAIR},
                {"outcome": "done", "text": "all of it"},
            )

        assert refused.value.missing == ("outcome",)


class TestCancel:
    @pytest.mark.parametrize("reason", list(CancelReason))
    def test_takes_a_reason_that_can_be_counted(self, reason: CancelReason) -> None:
        move = check_move(OrderState.READY, MoveName.CANCEL, {Right.PLAN}, {"cancel_reason": reason})

        assert move.target is OrderState.CANCELLED

    def test_refuses_any_other_reason(self) -> None:
        with pytest.raises(MoveRefused):
            check_move(OrderState.READY, MoveName.CANCEL, {Right.PLAN}, {"cancel_reason": "other"})


class TestAllowedMoves:
    def test_a_planner_sees_no_repair(self) -> None:
        offered = {move.name for move in allowed_moves(OrderState.SCHEDULED, rights_of([Role.PLANNER]))}

        assert offered == {MoveName.SCHEDULE, MoveName.WAIT, MoveName.CANCEL}

    def test_nothing_leads_on_from_cancelled(self) -> None:
        assert allowed_moves(OrderState.CANCELLED, EVERY_RIGHT) == ()


def test_everything_unverified_is_open() -> None:
    assert set(OrderState) - OPEN_STATES == {OrderState.CLOSED, OrderState.CANCELLED}


class TestDiagram:
    def test_has_an_arrow_for_each_row_and_both_ends(self) -> None:
        assert diagram().count("-->") == len(MOVES) + 3

    def test_tells_two_ways_of_one_name_apart(self) -> None:
        assert "in_progress --> ready: report repair (not found)" in diagram()
