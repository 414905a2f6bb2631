"""A bearing's judged figures in words: how far above its baseline, where to, and when."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any, Final

from workorders.desk.rules.figures import day

DAYS_PER_MONTH: Final = 365.25 / 12.0


def level_rows(figures: Mapping[str, Any], at: datetime, zone: str) -> list[tuple[str, str]]:
    """Return what a probe level of a moment says, as rows of a name and its words; days as the site's."""
    return [
        ("Over the baseline", _rise(figures)),
        ("Step reached", _step(figures)),
        ("Baseline", _baseline(figures["baseline"])),
        ("Trend", _trend(figures["trend"])),
        ("Next step", _next_step(figures["next_step"], at, zone)),
    ]


def sound_rows(figures: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Return what a recording's rhythm says of each part that was looked for."""
    return [(str(part["part"]).replace("_", " ").capitalize(), _part(part)) for part in figures["parts"]]


def _rise(figures: Mapping[str, Any]) -> str:
    if figures["rise_db"] is None:
        return "can’t be told: the reading has no baseline to compare with"
    low, high = figures["rise_low_db"], figures["rise_high_db"]
    return f"{figures['rise_db']:.1f} dB ({low:.1f} to {high:.1f}, 95 % interval)"


def _step(figures: Mapping[str, Any]) -> str:
    if figures["step"] is None:
        return "not determined"
    if not figures["step"]:
        return "none; that speaks of the level only, not of silent faults"
    return f"{figures['step_meaning']} ({figures['step_source']})"


def _baseline(base: Mapping[str, Any]) -> str:
    if base["mean_db"] is None:
        return _first(base["reasons"])
    limit = "" if base["limit_db"] is None else f"; a good machine stays below {base['limit_db']:.1f} dB"
    return f"{base['mean_db']:.1f} dB by {base['count']} readings of the good machine{limit}"


def _trend(trend: Mapping[str, Any]) -> str:
    slope = trend["slope_db_per_day"]
    if slope is None:
        return _first(trend["reasons"])
    month = slope * DAYS_PER_MONTH
    low, high = (trend[name] * DAYS_PER_MONTH for name in ("slope_low_db_per_day", "slope_high_db_per_day"))
    sure = "" if trend["upward"] else ": no significant rise"
    return f"{month:+.1f} dB a month ({low:+.1f} to {high:+.1f}){sure}"


def _next_step(step: Mapping[str, Any], at: datetime, zone: str) -> str:
    if step["at"] is None:
        return f"no date: {_first(step['reasons'])}"
    first, likely, last = (_moment(step[name]) for name in ("from_at", "at", "until_at"))
    words = f"{step['rise_db']:g} dB over the baseline, likeliest on {day(likely, zone)}"
    words += "; any day now" if first is None or first <= at else f"; not before {day(first, zone)}"
    return f"{words}, no last day can be told" if last is None else f"{words}, by {day(last, zone)} (95 %)"


def _moment(told: str | None) -> datetime | None:
    return None if told is None else datetime.fromisoformat(told)


def _part(part: Mapping[str, Any]) -> str:
    heard = part["orders"]
    expected = f"expected at {part['expected_hz']:.1f} Hz"
    if part["match"] != "found" or not heard:
        return f"{part['match']}; {expected}"
    first = heard[0]
    return f"heard at {first['frequency_hz']:.1f} Hz, {first['above_floor_db']:.0f} dB clear; {expected}"


def _first(reasons: Sequence[Mapping[str, str]]) -> str:
    return reasons[0]["text"] if reasons else "not known"
