"""How many leaks two surveys of the same places probably both missed."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from findings.physics.estimate import Reason, refused
from findings.physics.leak_balance import VERSION, TwoPasses, two_pass

WINDOW: Final = timedelta(days=14)
"""Farther apart two surveys don't hear the same leaks (judgement)."""


@dataclass(frozen=True, slots=True)
class Heard:
    """What two surveys heard of one system in the areas that both walked; counts of findings."""

    first_at: datetime
    second_at: datetime
    first: int
    second: int
    both: int
    areas: int
    repaired_between: int = 0


def missed(heard: Heard) -> TwoPasses:
    """Return the estimate, or its refusal in words, with what was counted said."""
    problem = _problem(heard)
    if problem is not None:
        none = refused(unit="1", method="two_pass", version=VERSION, reasons=(problem,), inputs={})
        return TwoPasses(none, none, None, None)
    return two_pass(heard.first, heard.second, heard.both)


def remarks(heard: Heard) -> tuple[Reason, ...]:
    """Return what was counted."""
    text = f"Counted are the leaks of this system in the {heard.areas} area(s) that both surveys walked."
    found = [Reason("counted_in_common_areas", text)]
    if heard.repaired_between:
        text = f"{heard.repaired_between} finding(s) repaired between the two are left out."
        found.append(Reason("repaired_between", text))
    return tuple(found)


def _problem(heard: Heard) -> Reason | None:
    if abs(heard.second_at - heard.first_at) > WINDOW:
        text = (
            f"The surveys lie more than {WINDOW.days} days apart; leaks came and went between them. Take two "
            "walks close together."
        )
        return Reason("surveys_too_far_apart", text)
    if not heard.areas:
        text = "The two surveys have no area in common, so nothing could be heard twice."
        return Reason("no_common_area", text)
    return None
