"""How much an assessment is worth beside another of the same leak: a guess never unsays a measurement."""

from collections.abc import Iterable
from datetime import datetime
from enum import IntEnum
from typing import Final, NamedTuple

from findings.physics.estimate import Reason, Status


class Strength(IntEnum):
    """How well a leak rate is known, weakest first."""

    NONE = 0
    LEVEL = 1
    HOLE = 2
    STATED = 3
    MEASURED = 4


LEVEL_METHODS: Final = frozenset({"level"})
"""The methods that read a rate from the ultrasound level alone, the weakest evidence there is."""

_BY_STATUS: Final = {
    Status.MEASURED: Strength.MEASURED,
    Status.STATED: Strength.STATED,
    Status.ESTIMATED: Strength.HOLE,
}
_WORDS: Final = {
    Strength.NONE: "an order of magnitude",
    Strength.LEVEL: "an estimate from the level",
    Strength.HOLE: "an estimate",
    Strength.STATED: "a stated rate",
    Strength.MEASURED: "a measurement",
}


class Proof(NamedTuple):
    """What is weighed: how strong an assessment is and of which moment."""

    strength: Strength
    at: datetime


def strength_of(status: str, method: str = "") -> Strength:
    """Return how well a result is known: measured before stated before estimated before by the level.

    A refused result, or a status that isn't known, proves nothing.
    """
    if status not in _BY_STATUS:
        return Strength.NONE
    strength = _BY_STATUS[Status(status)]
    return Strength.LEVEL if strength is Strength.HOLE and method in LEVEL_METHODS else strength


def replaces(new: Proof, standing: Proof | None) -> bool:
    """Say whether a new assessment takes the place of the one that stands in the same opening.

    Weaker evidence never replaces stronger one; among equals the later holds. Nothing stands
    (None) before the first, and none that was made before a repair or a reopening: the leak is
    another one since.
    """
    if new.strength is Strength.NONE:
        return False
    if standing is None or new.strength > standing.strength:
        return True
    return new.strength == standing.strength and new.at >= standing.at


def standing_in(proofs: Iterable[Proof], opened_at: datetime) -> int | None:
    """Return the index of the one that stands, of those made since the opening; None if none does."""
    chosen: tuple[int, Proof] | None = None
    for index, proof in enumerate(proofs):
        if proof.at >= opened_at and replaces(proof, chosen[1] if chosen else None):
            chosen = index, proof
    return chosen[0] if chosen else None


def why_kept(new: Proof, standing: Proof) -> Reason:
    """Return the reason of an assessment that is kept beside the one that stands."""
    stands = f"{_WORDS[standing.strength].capitalize()} of {standing.at:%Y-%m-%d} stands"
    if new.strength < standing.strength:
        text = f"{stands}; {_WORDS[new.strength]} never replaces it, so this one is history only."
        return Reason("weaker_evidence", text)
    return Reason("older_evidence", f"{stands} and is later; this one is history only.")
