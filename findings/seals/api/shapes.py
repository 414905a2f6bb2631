"""What is taken and answered about seams and walks along them."""

from __future__ import annotations

from typing import Any

from findings.kinds.base import Kind
from findings.kinds.cautions import Caution, cautions
from findings.physics.acoustics import BackgroundStatus
from findings.physics.seal_test import Verdict
from findings.physics.tone_source import Criterion, Strength
from findings.seals.rules import CONVENTIONS, SeamForm
from plantcare.api import shapes

SHAPES = [(word.value, word.value) for word in SeamForm]
CRITERIA = [(word.value, word.value) for word in Criterion]
VERDICTS = [(word.value, word.value.replace("_", " ")) for word in Verdict]
STRENGTHS = [(word.value, word.value.replace("_", " ")) for word in Strength]
BACKGROUNDS = [(word.value, word.value.replace("_", " ")) for word in BackgroundStatus]
OUTLINE = (
    "Seen by the walker: {} for a plain ring or line; {width_m, height_m, start_corner, turn} for a door's "
    "frame (corners lower_left, upper_left, upper_right, lower_right; turn clockwise or counterclockwise); "
    "{corners_m: [[x, y], ...]} for any path, y up. As long as the seam within 5 %."
)
CRITERION = (
    "What a tenth of the open reading is: amplitude takes it of the sound pressure, a drop of 20 dB; "
    "displayed_number takes it of the decibels shown. The 10 % is surveyors' practice on ships' hatch covers."
)


class SeamShape(shapes.Shape):
    """How the seam at a measuring point is tested from a moment on. The newest row of a point holds."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    point_id = shapes.UuidField()
    asset_id = shapes.UuidField(source="point.asset_id")
    enclosure = shapes.TextField(source="point.asset.name", help_text="The asset's name.")
    from_at = shapes.AwareDateTimeField()
    recorded_at = shapes.AwareDateTimeField()
    shape = shapes.ChoiceField(choices=SHAPES)
    length_m = shapes.FloatField()
    outline = shapes.JsonObjectField(help_text=OUTLINE)
    source_description = shapes.TextField()
    source_band_centre_hz = shapes.FloatField(allow_null=True)
    source_level_db = shapes.FloatField(allow_null=True)
    distance_m = shapes.FloatField(
        help_text="Of the open reading and the walk, unless a walk says otherwise."
    )
    criterion = shapes.ChoiceField(choices=CRITERIA, help_text=CRITERION)
    convention = shapes.TextField(source="criterion", help_text="The criterion in words.")
    note = shapes.TextField()

    def to_representation(self, instance: Any) -> dict[str, Any]:
        """Say the criterion in words."""
        return _in_words(super().to_representation(instance))


class SeamInput(shapes.InputShape):
    """How a seam is tested. Lengths in m, band in Hz, level of the source as stated, in dB."""

    point_id = shapes.UuidField()
    from_at = shapes.AwareDateTimeField(required=False, help_text="Now, unless said otherwise.")
    shape = shapes.ChoiceField(choices=SHAPES)
    length_m = shapes.FloatField(help_text="0.1 to 200.")
    outline = shapes.JsonObjectField(required=False, help_text=OUTLINE)
    source_description = shapes.TextField(max_length=200, help_text="The tone source, by its make-up.")
    source_band_centre_hz = shapes.FloatField(required=False, allow_null=True)
    source_level_db = shapes.FloatField(required=False, allow_null=True, help_text="If it is known.")
    distance_m = shapes.FloatField(required=False, help_text="Detector to seam, 0.01 to 5; 0.1 unless said.")
    criterion = shapes.ChoiceField(choices=CRITERIA, default=Criterion.AMPLITUDE.value, help_text=CRITERION)
    note = shapes.TextField(allow_blank=True, default="")


class SeamPlaceInput(shapes.InputShape):
    """A peak-held level at a place along the seam."""

    client_id = shapes.TextField(max_length=100, help_text="The sender's own key within the walk, for ever.")
    position_m = shapes.FloatField(help_text="From the seam's start, the way it is walked.")
    level_db = shapes.FloatField(help_text="Held peak, at the walk's distance.")
    background_db = shapes.FloatField(required=False, allow_null=True, help_text="If it differs there.")
    note = shapes.TextField(max_length=500, allow_blank=True, default="")


class SeamWalkInput(shapes.InputShape):
    """What begins a walk: the source is checked at once. With places and finished_at it comes whole."""

    seam_id = shapes.UuidField()
    client_id = shapes.TextField(max_length=100, help_text="The sender's own key, for ever.")
    begun_at = shapes.AwareDateTimeField()
    open_level_db = shapes.FloatField(help_text="Through the open door, source on, at the walk's distance.")
    background_db = shapes.FloatField(help_text="There too, source off.")
    distance_m = shapes.FloatField(required=False, allow_null=True, help_text="The seam's, unless said.")
    instrument_id = shapes.UuidField(required=False, allow_null=True)
    survey_id = shapes.UuidField(required=False, allow_null=True, help_text="Without one it gets its own.")
    corrects_walk_id = shapes.UuidField(required=False, allow_null=True, help_text="The walk that was wrong.")
    insist = shapes.BooleanField(default=False, help_text="Walk although no place can pass.")
    note = shapes.TextField(allow_blank=True, default="", max_length=5000)
    places = SeamPlaceInput(many=True, required=False)
    finished_at = shapes.AwareDateTimeField(required=False, help_text="Finish it at once.")


class SeamPlacesInput(shapes.InputShape):
    """Places of a walk; all or none is kept."""

    places = SeamPlaceInput(many=True, allow_empty=False)


class SeamWalkFinishInput(shapes.InputShape):
    """When the walk ended."""

    finished_at = shapes.AwareDateTimeField(required=False, help_text="Now, unless said otherwise.")


class SealReasonShape(shapes.Shape):
    """Why something is as it is."""

    code = shapes.TextField()
    text = shapes.TextField()


class SealCautionShape(shapes.Shape):
    """What to mind; local code and the site's rules decide."""

    key = shapes.TextField()
    text = shapes.TextField()
    basis = shapes.TextField()


class SeamWalkShape(shapes.Shape):
    """A walk along a seam. ``verdict`` is null until it is finished."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    seam_id = shapes.UuidField()
    point_id = shapes.UuidField(source="seam.point_id")
    instrument_id = shapes.UuidField(allow_null=True)
    survey_id = shapes.UuidField(allow_null=True)
    client_id = shapes.TextField()
    begun_at = shapes.AwareDateTimeField()
    recorded_at = shapes.AwareDateTimeField()
    open_level_db = shapes.FloatField()
    background_db = shapes.FloatField()
    distance_m = shapes.FloatField()
    source_strength = shapes.ChoiceField(source="strength", choices=STRENGTHS)
    nothing_can_pass = shapes.BooleanField(help_text="Walked although the source was too weak.")
    source_reasons = SealReasonShape(many=True, help_text="What the source lacks, and what would help.")
    criterion = shapes.ChoiceField(source="seam.criterion", choices=CRITERIA)
    convention = shapes.TextField(source="seam.criterion", help_text="What 10 % means in this report.")
    corrects_walk_id = shapes.UuidField(source="corrects_id", allow_null=True)
    note = shapes.TextField()
    actor_name = shapes.TextField()
    finished_at = shapes.AwareDateTimeField(allow_null=True)
    verdict = shapes.ChoiceField(choices=VERDICTS, allow_null=True)
    smallest_drop_db = shapes.FloatField(allow_null=True)

    def to_representation(self, instance: Any) -> dict[str, Any]:
        """Say the criterion in words."""
        return _in_words(super().to_representation(instance))


class SeamPlaceShape(shapes.Shape):
    """A place as it was sent."""

    id = shapes.UuidField()
    client_id = shapes.TextField()
    position_m = shapes.FloatField()
    level_db = shapes.FloatField()
    background_db = shapes.FloatField(allow_null=True)
    note = shapes.TextField()
    recorded_at = shapes.AwareDateTimeField()


class JudgedSeamPlaceShape(shapes.Shape):
    """A place without its background: drop from the open level, excess over the intact seam, verdict."""

    position_m = shapes.FloatField()
    level_db = shapes.FloatField()
    background = shapes.ChoiceField(choices=BACKGROUNDS)
    drop_db = shapes.FloatField()
    excess_db = shapes.FloatField()
    amplitude_percent = shapes.FloatField(help_text="Sound pressure left, of the open reading.")
    verdict = shapes.ChoiceField(choices=VERDICTS)


class SeamLeakShape(shapes.Shape):
    """Where the tone comes out: the top of a parabola through the loudest place and its neighbours."""

    number = shapes.IntegerField(help_text="On the plan.")
    position_m = shapes.FloatField(source="position.value")
    position_low_m = shapes.FloatField(source="position.low", help_text="On a ring it may lie below 0.")
    position_high_m = shapes.FloatField(source="position.high")
    level_db = shapes.FloatField()
    drop_db = shapes.FloatField()
    amplitude_percent = shapes.FloatField()
    verdict = shapes.ChoiceField(choices=VERDICTS)


class SeamGapShape(shapes.Shape):
    """A stretch that nobody walked; on a ring it may run over the start."""

    from_m = shapes.FloatField()
    to_m = shapes.FloatField()


class SeamWalkResultShape(shapes.Shape):
    """What a finished walk came to, by a version of its method, and whether it computes the same today."""

    verdict = shapes.ChoiceField(choices=VERDICTS)
    smallest_drop_db = shapes.FloatField()
    smallest_drop_u_db = shapes.FloatField()
    limit_level_db = shapes.FloatField()
    intact_level_db = shapes.FloatField()
    excess_rule_used = shapes.BooleanField()
    places = JudgedSeamPlaceShape(many=True)
    leaks = SeamLeakShape(many=True)
    not_walked = SeamGapShape(many=True)
    reasons = SealReasonShape(many=True)
    not_said = shapes.TextField(help_text="What a pass does not say.")
    method = shapes.TextField()
    method_version = shapes.TextField()
    computes_the_same = shapes.BooleanField()
    reading_id = shapes.UuidField()
    finished_at = shapes.AwareDateTimeField()


class SeamWalkDetailShape(SeamWalkShape):
    """A walk with its places, its result and its cautions."""

    corrected_by_walk_id = shapes.UuidField(allow_null=True)
    places = SeamPlaceShape(many=True)
    result = SeamWalkResultShape(allow_null=True)
    cautions = SealCautionShape(many=True)


class SeamPlacesKeptShape(shapes.Shape):
    """How many places were new, and how many the walk knew already."""

    created = shapes.IntegerField()
    known = shapes.IntegerField()


def walk_cautions() -> tuple[Caution, ...]:
    """Return what to mind at any walk with a tone source."""
    return cautions(Kind.ENCLOSURE_LEAK, None)


def _in_words(body: dict[str, Any]) -> dict[str, Any]:
    if "convention" in body:
        body["convention"] = CONVENTIONS[body["convention"]]
    return body
