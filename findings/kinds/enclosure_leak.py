"""A door, hatch or gasket that lets a tone from inside pass: tight or not, no flow."""

from findings.kinds.base import Kind
from findings.kinds.definition import KindOfFinding

DEFINITION = KindOfFinding(
    kind=Kind.ENCLOSURE_LEAK,
    label="Enclosure leak",
    heard_by="airborne sensor with a tone source inside",
    takes=frozenset({"level_db", "background_db", "source_level_db", "distance_m", "length_m"}),
    needs=frozenset({"level_db"}),
    media=frozenset(),
    loses_gas=False,
)
