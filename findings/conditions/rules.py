"""Which of several judged conditions stands for a finding."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import TypeVar


@dataclass(frozen=True, slots=True)
class Standing:
    """What the choice needs of a condition: its method, its severity, and when it speaks of and was kept."""

    method: str
    severity: int | None
    at: datetime
    recorded_at: datetime
    overruled: bool = False


Key = TypeVar("Key")


def standing_of(conditions: Iterable[tuple[Key, Standing]]) -> Key | None:
    """Return the key of the condition that stands, None where there is none.

    Each method is heard with its newest word, an overruled word not at all; the gravest of these words
    stands, for a level that is quiet today doesn't unsay what a recording showed. A word that can't tell
    stands only where no other can; among equals the newest.
    """
    newest: dict[str, tuple[Key, Standing]] = {}
    for key, condition in conditions:
        known = newest.get(condition.method)
        if not condition.overruled and (known is None or _age(known[1]) < _age(condition)):
            newest[condition.method] = (key, condition)
    gravest = max(newest.values(), key=lambda pair: (pair[1].severity or 0, *_age(pair[1])), default=None)
    return None if gravest is None else gravest[0]


def _age(condition: Standing) -> tuple[datetime, datetime]:
    return condition.at, condition.recorded_at
