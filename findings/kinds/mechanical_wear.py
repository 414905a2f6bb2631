"""A bearing, gear or coupling that sounds unlike its own baseline."""

from findings.kinds.base import Kind
from findings.kinds.definition import KindOfFinding

DEFINITION = KindOfFinding(
    kind=Kind.MECHANICAL_WEAR,
    label="Mechanical wear",
    heard_by="contact probe",
    takes=frozenset({"level_db", "baseline_db", "crest_factor", "speed_hz", "temperature_k"}),
    needs=frozenset({"level_db"}),
    media=frozenset(),
    loses_gas=False,
)
