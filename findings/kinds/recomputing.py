"""Put a kept result beside what its evidence gives today, and say in plain words what differs."""

import math
from dataclasses import dataclass
from enum import StrEnum

from findings.physics.estimate import Estimate, Reason

SAME_WITHIN = 1e-9
"""Relative difference below which two results are one: more digits than any reading has."""
NOT_COMPUTABLE = frozenset({"evidence_not_kept", "evidence_unreadable", "kind_not_computed"})


class Outcome(StrEnum):
    """What came of computing once more."""

    SAME = "same"
    CHANGED = "changed"
    REFUSED_NOW = "refused_now"
    COMPUTED_NOW = "computed_now"
    NOT_COMPUTABLE = "not_computable"


@dataclass(frozen=True, slots=True)
class Kept:
    """The result that was kept: m3/s at 1 bar 20 °C, None where it was refused."""

    value: float | None
    method: str
    method_version: str


@dataclass(frozen=True, slots=True)
class Comparison:
    """What differs between then and now; the change in per cent where both have a value above zero."""

    outcome: Outcome
    change_percent: float | None
    differences: tuple[Reason, ...]


def compare(kept: Kept, today: Estimate) -> Comparison:
    """Say what differs between a kept result and today's."""
    codes = {reason.code for reason in today.reasons}
    if today.is_refused and codes & NOT_COMPUTABLE:
        return Comparison(Outcome.NOT_COMPUTABLE, None, today.reasons)
    method = _method(kept, today)
    if kept.value is None and today.value is None:
        return Comparison(Outcome.SAME, None, (*method, Reason("same", "Refused then and refused today.")))
    if today.value is None:
        why = " ".join(reason.text for reason in today.reasons)
        return Comparison(
            Outcome.REFUSED_NOW, None, (*method, Reason("refused_now", f"Refused today: {why}"))
        )
    if kept.value is None:
        text = "Refused then; today's method gives a result."
        return Comparison(Outcome.COMPUTED_NOW, None, (*method, Reason("computed_now", text)))
    if math.isclose(kept.value, today.value, rel_tol=SAME_WITHIN, abs_tol=0.0):
        return Comparison(Outcome.SAME, 0.0, (*method, Reason("same", "The same result then and today.")))
    percent = None if kept.value == 0.0 else 100.0 * (today.value / kept.value - 1.0)
    told = "The result was zero and isn't any more." if percent is None else f"Changed by {percent:+.3g} %."
    return Comparison(Outcome.CHANGED, percent, (*method, Reason("changed", told)))


def _method(kept: Kept, today: Estimate) -> tuple[Reason, ...]:
    if today.is_refused:
        return ()
    if kept.value is not None and kept.method != today.method:
        return (Reason("method", f"Method {kept.method} then, {today.method} today."),)
    if kept.value is not None and kept.method_version != today.method_version:
        text = f"Method {kept.method}: version {kept.method_version} → {today.method_version}."
        return (Reason("method_version", text),)
    return ()
