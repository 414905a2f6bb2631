"""Describe seams, begin walks along them, keep their places, and finish them."""

from findings.seals.actions.finishing import (
    FinishMomentRefused,
    WalkCorrected,
    WalkNotJudged,
    finish_walk,
)
from findings.seals.actions.places import (
    Kept,
    PlaceClientIdReused,
    PlacesRefused,
    WalkFinished,
    WalkUnknown,
    take_places,
)
from findings.seals.actions.seams import SeamAtMoment, SeamRefused, add_seam
from findings.seals.actions.walks import (
    Begun,
    SeamUnknown,
    SourceTooWeak,
    WalkClientIdReused,
    WalkCorrectedAlready,
    WalkRefused,
    begin_walk,
)

__all__ = [
    "Begun",
    "FinishMomentRefused",
    "Kept",
    "PlaceClientIdReused",
    "PlacesRefused",
    "SeamAtMoment",
    "SeamRefused",
    "SeamUnknown",
    "SourceTooWeak",
    "WalkClientIdReused",
    "WalkCorrected",
    "WalkCorrectedAlready",
    "WalkFinished",
    "WalkNotJudged",
    "WalkRefused",
    "WalkUnknown",
    "add_seam",
    "begin_walk",
    "finish_walk",
    "take_places",
]
