"""Words of the pages."""

import pytest

from findings.kinds.base import Hazard
from findings.register.rules import FindingStatus
from workorders.desk.rules import words
from workorders.orders.rules import OrderState


class TestWords:
    @pytest.mark.parametrize("word", [*FindingStatus, *OrderState, *Hazard])
    def test_of_the_records_lose_their_underscores(self, word: str) -> None:
        assert "_" not in words.plain(str(word))

    def test_call_a_repair_that_nobody_checked_what_it_is(self) -> None:
        assert words.plain("repaired") == "repaired, not yet verified"

    @pytest.mark.parametrize(
        ("act", "told"),
        [("finding.opened", "Found"), ("work_order.opened", "Work order opened"), ("odd", "Odd"), ("", "")],
    )
    def test_tell_every_act_even_an_unknown_one(self, act: str, told: str) -> None:
        assert words.act_told(act) == told

    def test_tell_that_weaker_evidence_left_the_rate_as_it_was(self) -> None:
        told = words.act_told("finding.heard_again", {"rate_kept": {"assessment_id": "a"}})

        assert told == "Heard again; its rate stays"

    @pytest.mark.parametrize(("number", "text"), [(0, "0 findings"), (1, "1 finding"), (2, "2 findings")])
    def test_count_with_their_noun(self, number: int, text: str) -> None:
        assert words.counted(number, "finding") == text

    @pytest.mark.parametrize(
        ("now", "text"), [(3, "2 fewer than"), (5, "as many as"), (6, "1 more than"), (0, "5 fewer than")]
    )
    def test_compare_with_an_earlier_number(self, now: int, text: str) -> None:
        assert words.compared(now, 5) == text

    def test_name_whoever_was_told(self) -> None:
        assert words.act_told("finding.escalated", {"to_role": "planner"}) == "Told to the planner"

    @pytest.mark.parametrize(
        ("name", "text"), [("Ines Falk", "Ines Falk"), ("job judge_repairs", "the job “judge repairs”")]
    )
    def test_call_a_job_one(self, name: str, text: str) -> None:
        assert words.actor_told(name) == text

    @pytest.mark.parametrize(
        ("result", "text"),
        [
            ({}, "nothing was to be done"),
            ({"passed": 2, "failed": 0, "orders_settled": 1}, "2 passed; 1 orders settled"),
            (
                {"closed": 0, "refused": 1, "reasons": ["TBW: no price"]},
                "1 refused; TBW: no price",
            ),
        ],
    )
    def test_tell_what_a_job_did_without_zeros(self, result: dict[str, object], text: str) -> None:
        assert words.result_told(result) == text
