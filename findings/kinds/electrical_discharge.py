"""Discharge, tracking or arcing heard at a closed electrical enclosure."""

from findings.kinds.base import Kind
from findings.kinds.definition import KindOfFinding

DEFINITION = KindOfFinding(
    kind=Kind.ELECTRICAL_DISCHARGE,
    label="Electrical discharge",
    heard_by="airborne sensor at the closed enclosure",
    takes=frozenset({"level_db", "background_db", "voltage_v", "mains_frequency_hz"}),
    needs=frozenset({"level_db"}),
    media=frozenset(),
    loses_gas=False,
)
