"""What a notice says."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from workorders.inbox.rules import TOLD, Matter, NoticeKind, words_of

MATTER = {
    "zone": ZoneInfo("Europe/Berlin"),
    "finding": "F-12",
    "place": "WR-1 Flow wrapper",
    "order": "W-3",
    "title": "Renew the seal",
    "reason": "Half of the time is used up.",
    "month": "February 2026",
    "until_at": datetime(2026, 3, 9, 8, tzinfo=UTC),
    "due_at": datetime(2026, 4, 1, 8, tzinfo=UTC),
}


def said(act: str, **values: object) -> str:
    words = words_of(TOLD[act].kind, Matter(act=act, **{**MATTER, **values}))  # type: ignore[arg-type]
    return f"{words.headline} | {words.todo}"


class TestWords:
    @pytest.mark.parametrize("act", sorted(TOLD))
    def test_are_two_whole_sentences(self, act: str) -> None:
        headline, todo = said(act).split(" | ")

        assert headline[0].isupper()
        assert todo[0].isupper()
        assert todo.endswith(".")

    def test_name_the_order_and_when_it_is_due_by_the_sites_clock(self) -> None:
        assert said("work_order.opened") == "W-3 is yours: Renew the seal | Repair it by 1 April 2026, 10:00."

    def test_tell_a_partial_repair_from_a_failed_one(self) -> None:
        assert "held only in part" in said("verification.partial")
        assert "did not hold" in said("verification.failed")

    def test_tell_yes_from_no(self) -> None:
        assert "may wait until 9 March 2026, 09:00" in said("deferral.approved")
        assert "may not wait" in said("deferral.refused")

    def test_begin_a_danger_with_the_word_and_end_it_with_the_caution(self) -> None:
        told = said("finding.opened", title="(pressure leak, natural gas)", caution="Keep flames away.")

        assert told == ("Danger: F-12 at WR-1 Flow wrapper (pressure leak, natural gas). | Keep flames away.")

    def test_stay_on_one_line_whatever_a_title_holds(self) -> None:
        assert "\n" not in said("work_order.opened", title="Renew\r\nBcc: all@plant.example")

    def test_end_where_the_column_ends(self) -> None:
        words = words_of(
            NoticeKind.ASSIGNED, Matter(act="work_order.opened", **{**MATTER, "title": "x" * 400})
        )

        assert len(words.headline) == 300
