"""A door, hatch or gasket that lets a tone from inside pass: tight or not, no flow."""

from dataclasses import dataclass

from findings.kinds.base import Kind
from findings.kinds.definition import KindOfFinding
from findings.physics.estimate import Estimate, Reason, refused

DEFINITION = KindOfFinding(
    kind=Kind.ENCLOSURE_LEAK,
    label="Enclosure leak",
    heard_by="airborne sensor with a tone source inside",
    takes=frozenset({"level_db", "background_db", "source_level_db", "distance_m", "length_m"}),
    needs=frozenset({"level_db"}),
    media=frozenset(),
    loses_gas=False,
)

NO_FLOW_FROM_TONE = Reason(
    "no_flow_from_tone",
    "A tone that passes an enclosure tells where it isn't tight, not how much flows: that depends on the "
    "pressure across it, which a tone test doesn't have. Measure the flow by a pressure test of the "
    "enclosure where a figure is needed.",
)


@dataclass(frozen=True, kw_only=True)
class EnclosureLeakEvidence:
    """What the tone test said: levels in dB, distance in m."""

    level_db: float | None = None
    background_db: float | None = None
    distance_m: float | None = None


def assess(evidence: EnclosureLeakEvidence) -> Estimate:
    """Return the refusal of a flow: a tone test gives none, at any level."""
    inputs = {
        "level_db": evidence.level_db,
        "background_db": evidence.background_db,
        "distance_m": evidence.distance_m,
    }
    return refused(
        unit="m3/s", method="enclosure_leak", version="1", reasons=(NO_FLOW_FROM_TONE,), inputs=inputs
    )
