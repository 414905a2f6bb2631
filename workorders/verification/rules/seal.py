"""The verdict on a repaired seal, by the walk along its seam after the repair."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from findings.physics.seal_test import Verdict as SeamVerdict
from workorders.orders.rules import Reason
from workorders.verification.rules.verdict import Judgement, Verdict

DISTANCE_TOLERANCE: Final = 0.1
"""Two walks' distances are alike within a tenth, as a walk's and its open reading's are (our judgement)."""
LENGTH_TOLERANCE: Final = 0.01


@dataclass(frozen=True, slots=True, kw_only=True)
class SeamWalked:
    """A finished walk: its verdict, and all that has to be alike for two walks to be compared.

    Lengths in m; ``smallest_drop_db`` from the open level to the loudest place.
    """

    observed_at: datetime
    verdict: SeamVerdict
    smallest_drop_db: float
    is_ring: bool
    length_m: float
    criterion: str
    distance_m: float
    source: str
    instrument: str | None


def judge_seal(before: SeamWalked | None, after: SeamWalked, *, repaired_at: datetime) -> Judgement:
    """Judge a repair by the walk after it: a pass passes, a place still raised is partial, a fail fails.

    A walk carries its own reference, the level through the open door. Where a walk was made before the
    repair, the two have to be of one seam, distance, source, instrument and criterion, else nobody can tell.
    A seam that is to be watched as before has not been mended.
    """
    doubts = [] if after.observed_at > repaired_at else [_NOT_AFTER]
    doubts += [] if before is None else list(_unlike(before, after))
    if after.verdict is SeamVerdict.NOT_DETERMINED:
        doubts.append(Reason("walk_not_determined", "The walk after the repair could not tell."))
    if doubts:
        return Judgement(Verdict.CANNOT_TELL, tuple(doubts))
    gain = None if before is None else after.smallest_drop_db - before.smallest_drop_db
    remarks = (_ALONE,) if before is None else ()
    if after.verdict is SeamVerdict.PASS:
        text = f"The walk passed: the smallest drop is {after.smallest_drop_db:.1f} dB."
        return Judgement(Verdict.PASSED, (Reason("walk_passed", text), *remarks), gain)
    if after.verdict is SeamVerdict.FAIL:
        text = f"The walk failed: the smallest drop is {after.smallest_drop_db:.1f} dB."
        return Judgement(Verdict.FAILED, (Reason("walk_failed", text), *remarks), gain)
    if before is not None and before.verdict is SeamVerdict.WATCH:
        reason = Reason("still_to_watch", "The seam is to be watched as it was before the repair.")
        return Judgement(Verdict.FAILED, (reason,), gain)
    reason = Reason("place_raised", "No place fails any more, yet one still stands out of the seam.")
    return Judgement(Verdict.PARTIAL, (reason, *remarks), gain)


_NOT_AFTER: Final = Reason("not_after_repair", "The walk was not made after the repair.")
_ALONE: Final = Reason(
    "walk_alone", "No walk was made before the repair: the open door's level is the only reference."
)


def _unlike(before: SeamWalked, after: SeamWalked) -> Iterator[Reason]:
    """Name all that keeps two walks from being compared."""
    unlike_length = abs(before.length_m - after.length_m) > LENGTH_TOLERANCE * before.length_m
    if before.is_ring is not after.is_ring or unlike_length:
        yield Reason("other_seam", "The two walks were not along the same seam.")
    apart = abs(before.distance_m - after.distance_m)
    if apart > DISTANCE_TOLERANCE * max(before.distance_m, after.distance_m):
        yield Reason("other_distance", "The two walks were made at unlike distances.")
    if before.source.casefold() != after.source.casefold():
        yield Reason("other_source", "The two walks had different tone sources.")
    if before.instrument is None or before.instrument != after.instrument:
        yield Reason("other_instrument", "The two walks were not made with one and the same instrument.")
    if before.criterion != after.criterion:
        yield Reason("other_criterion", "The two walks took the 10 % of different things.")
