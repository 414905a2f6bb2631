"""Conditions, and what a judgement of wear takes beside the readings."""

from findings.conditions.models.conditions import Condition
from findings.conditions.models.wear import BearingParticulars, GoodState, Greasing, WearLadder

__all__ = ["BearingParticulars", "Condition", "GoodState", "Greasing", "WearLadder"]
