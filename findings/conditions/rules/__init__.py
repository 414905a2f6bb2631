"""The rules of the room: which judgement stands, and what a judgement of wear takes."""

from findings.conditions.rules.standing import Standing, standing_of

__all__ = ["Standing", "standing_of"]
