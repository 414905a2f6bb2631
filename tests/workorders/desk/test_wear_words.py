"""A bearing's judged figures in words."""

from datetime import UTC, datetime
from typing import Any

from workorders.desk.rules.wear import level_rows, sound_rows

AT = datetime(2026, 3, 2, 8, tzinfo=UTC)
WHY = [{"code": "x", "text": "Too few readings."}]


def figures(**given: Any) -> dict[str, Any]:
    usual: dict[str, Any] = {
        "rise_db": 9.04,
        "rise_low_db": 6.0,
        "rise_high_db": 12.0,
        "step": 1,
        "step_meaning": "Lubricate or inspect.",
        "step_source": "common practice",
        "baseline": {"mean_db": 24.0, "count": 6, "limit_db": 27.9, "reasons": []},
        "trend": {
            "slope_db_per_day": 0.1,
            "slope_low_db_per_day": 0.05,
            "slope_high_db_per_day": 0.15,
            "upward": True,
            "reasons": [],
        },
        "next_step": {
            "rise_db": 12.0,
            "from_at": "2026-03-20T08:00+00:00",
            "at": "2026-04-01T08:00+00:00",
            "until_at": "2026-05-01T08:00+00:00",
            "reasons": [],
        },
    }
    return {**usual, **given}


def words(**given: Any) -> dict[str, str]:
    rows = level_rows(figures(**given), AT, "Europe/Berlin")
    return {name: said.replace("\N{NO-BREAK SPACE}", " ") for name, said in rows}


def test_a_rise_has_its_interval() -> None:
    assert words()["Over the baseline"] == "9.0 dB (6.0 to 12.0, 95 % interval)"


def test_no_step_speaks_of_the_level_only() -> None:
    assert "not of silent faults" in words(step=0)["Step reached"]


def test_a_date_has_both_ends() -> None:
    said = words()["Next step"]

    assert "likeliest on 1 Apr 2026" in said
    assert "not before 20 Mar 2026" in said
    assert "by 1 May 2026" in said


def test_a_date_that_may_have_come_says_any_day_and_an_open_end_is_told() -> None:
    step = {**figures()["next_step"], "from_at": "2024-09-11T08:00+00:00", "until_at": None}

    said = words(next_step=step)["Next step"]

    assert "any day now" in said
    assert "no last day can be told" in said


def test_no_date_says_why() -> None:
    said = words(next_step={"at": None, "reasons": WHY})["Next step"]

    assert said == "no date: Too few readings."


def test_a_part_is_told_with_where_it_was_expected() -> None:
    parts = [
        {
            "part": "outer_ring",
            "expected_hz": 107.36,
            "match": "found",
            "orders": [{"frequency_hz": 107.41, "above_floor_db": 19.6}],
        },
        {"part": "cage", "expected_hz": 11.9, "match": "not found", "orders": []},
    ]

    assert sound_rows({"parts": parts}) == [
        ("Outer ring", "heard at 107.4 Hz, 20 dB clear; expected at 107.4 Hz"),
        ("Cage", "not found; expected at 11.9 Hz"),
    ]
