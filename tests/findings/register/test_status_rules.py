"""Statuses of a finding: the whole square of statuses and moves."""

from datetime import UTC, datetime, timedelta

import pytest

from findings.plant.rules import Right
from findings.register.rules import (
    OPEN_STATUSES,
    RELEAK_WINDOW,
    STATUS_CHANGES,
    FindingMove,
    FindingStatus,
    Match,
    Spot,
    StatusChange,
    StatusChangeRefused,
    allowed_changes,
    check_change,
    match_existing,
    reason_is_written,
    same_spot,
)

SQUARE: dict[str, dict[str, str]] = {
    "open": {
        "defer": "deferred",
        "report_repair": "repaired",
        "close_by_reason": "closed",
        "dismiss": "dismissed",
        "merge": "merged",
    },
    "deferred": {
        "end_deferral": "open",
        "report_repair": "repaired",
        "close_by_reason": "closed",
        "dismiss": "dismissed",
        "merge": "merged",
    },
    "repaired": {
        "reject_repair": "open",
        "close": "closed",
        "close_by_reason": "closed",
        "merge": "merged",
    },
    "closed": {"reopen": "open"},
    "dismissed": {"reinstate": "open"},
    "merged": {"separate": "open"},
}
REPAIRED_AT = datetime(2025, 6, 11, 8, tzinfo=UTC)


class TestStatusSquare:
    @pytest.mark.parametrize("move", list(FindingMove))
    @pytest.mark.parametrize("status", list(FindingStatus))
    def test_allows_exactly_what_is_written_here(self, status: FindingStatus, move: FindingMove) -> None:
        wanted = SQUARE[status].get(move)

        if wanted is None:
            with pytest.raises(StatusChangeRefused, match=status) as refused:
                check_change(status, move)
            assert refused.value.code == "status_change_not_allowed"
        else:
            assert check_change(status, move).target == wanted

    @pytest.mark.parametrize("row", list(STATUS_CHANGES.values()), ids=str)
    def test_each_change_takes_its_right(self, row: StatusChange) -> None:
        with pytest.raises(StatusChangeRefused, match=row.right):
            check_change(row.source, row.move, frozenset(Right) - {row.right})

    def test_only_a_reading_or_a_reason_closes(self) -> None:
        closing = {row.evidence for row in STATUS_CHANGES.values() if row.target is FindingStatus.CLOSED}

        assert closing == {("reading",), ("closure_reason", "closure_text")}

    def test_an_inspector_is_offered_only_what_he_may(self) -> None:
        offered = allowed_changes(FindingStatus.REPAIRED, {Right.VERIFY})

        assert {row.move for row in offered} == {FindingMove.CLOSE, FindingMove.REJECT_REPAIR}

    def test_a_repair_nobody_checked_is_open(self) -> None:
        assert FindingStatus.REPAIRED in OPEN_STATUSES


class TestSameSpot:
    def test_typing_habits_do_not_divide(self) -> None:
        one = Spot("pressure_leak", "TBW-W-104", text="Elbow, left of the valve-block")
        other = Spot("pressure_leak", "TBW-W-104", text="elbow left  of the Valve block ")

        assert same_spot(one, other)

    def test_the_measuring_point_outweighs_the_words(self) -> None:
        one = Spot("mechanical_wear", "TBW-D-011", point="drive end", text="top")
        other = Spot("mechanical_wear", "TBW-D-011", point="drive end", text="side")

        assert same_spot(one, other)

    def test_another_kind_is_another_fault(self) -> None:
        one = Spot("pressure_leak", "TBW-W-104", point="p1")
        other = Spot("vacuum_leak", "TBW-W-104", point="p1")

        assert not same_spot(one, other)

    def test_no_place_told_is_never_joined(self) -> None:
        silent = Spot("pressure_leak", "TBW-W-104", text=" - ")

        assert not same_spot(silent, silent)


class TestMatchExisting:
    @pytest.mark.parametrize("status", sorted(OPEN_STATUSES))
    def test_an_open_one_is_the_same(self, status: FindingStatus) -> None:
        assert match_existing(status, None, REPAIRED_AT) is Match.SAME

    def test_the_last_instant_of_the_window_is_a_releak(self) -> None:
        heard_at = REPAIRED_AT + RELEAK_WINDOW

        assert match_existing(FindingStatus.CLOSED, REPAIRED_AT, heard_at) is Match.RELEAK

    def test_after_the_window_it_is_new_and_linked(self) -> None:
        heard_at = REPAIRED_AT + RELEAK_WINDOW + timedelta(microseconds=1)

        assert match_existing(FindingStatus.CLOSED, REPAIRED_AT, heard_at) is Match.NEW_LINKED

    def test_closed_without_a_repair_is_new_and_linked(self) -> None:
        assert match_existing(FindingStatus.CLOSED, None, REPAIRED_AT) is Match.NEW_LINKED

    def test_a_dismissed_one_gives_no_claim(self) -> None:
        assert match_existing(FindingStatus.DISMISSED, None, REPAIRED_AT) is Match.NEW


@pytest.mark.parametrize(
    ("text", "written"), [("too short", False), ("  123456789  ", False), ("branch out", True)]
)
def test_a_reason_needs_ten_characters(text: str, written: bool) -> None:
    assert reason_is_written(text) is written
