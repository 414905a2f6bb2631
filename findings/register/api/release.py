"""The shape of a dangerous release, shown before any money."""

from __future__ import annotations

from typing import Any

from findings.kinds.release import ReleaseClass, release_to_json
from findings.register.queries import release_now
from plantcare.api import shapes

CLASSES = [(name.value, name.value) for name in ReleaseClass]


class FigureReasonShape(shapes.Shape):
    """Why a figure is as it is, or why there is none."""

    code = shapes.TextField()
    text = shapes.TextField()


class DilutionShape(shapes.Shape):
    """The least clean air, theoretical, that keeps a well-mixed place at an aim. Never a clearance."""

    key = shapes.TextField()
    text = shapes.TextField()
    limit_fraction = shapes.FloatField(help_text="The aim: volume fraction of the gas, or of oxygen.")
    fresh_air_m3_per_s = shapes.FloatField()
    fresh_air_low_m3_per_s = shapes.FloatField()
    fresh_air_high_m3_per_s = shapes.FloatField()
    source = shapes.TextField()  # type: ignore[assignment]


class ReleaseShape(shapes.Shape):
    """What a leak of fuel gas, oxygen or an inert gas lets out; null for every other finding.

    An estimate for the competent person, never a clearance; local codes decide.
    """

    notice = shapes.TextField()
    caution_keys = shapes.ListField(child=shapes.TextField())
    release_class = shapes.ChoiceField(choices=CLASSES, help_text="Our own words and thresholds (judgement).")
    class_text = shapes.TextField()
    mass_kg_per_s = shapes.FloatField(allow_null=True)
    mass_low_kg_per_s = shapes.FloatField(allow_null=True)
    mass_high_kg_per_s = shapes.FloatField(allow_null=True)
    dilutions = DilutionShape(many=True)
    reasons = FigureReasonShape(many=True)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{"source": "*", "allow_null": True, **kwargs})

    def to_representation(self, instance: Any) -> Any:
        """Return the release of a finding."""
        release = release_now(instance)
        return None if release is None else release_to_json(release)
