"""All that is said of a recording at a bearing or gear: strength, rhythm, and which part beats so."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from findings.physics.estimate import Reason
from findings.sound.decoding import Recording
from findings.sound.envelope import Band, envelope, usual_band
from findings.sound.envelope_spectrum import EnvelopeSpectrum, envelope_spectrum, rhythm_lines
from findings.sound.header import refuse
from findings.sound.rhythm import SEARCH_SHARE, Character, Hit, Line, character, fundamental_hz, hits
from findings.sound.strength import FULL_SCALE, SHORTEST_SECONDS, TOO_SHORT, Reference, Strength, strength

NO_PARTS: Final[Mapping[str, float]] = {}


@dataclass(frozen=True, slots=True)
class BearingSound:
    """What was heard; ``spectrum`` is kept for the picture."""

    strength: Strength
    band: Band
    spectrum: EnvelopeSpectrum
    lines: tuple[Line, ...]
    fundamental_hz: float | None
    character: Character
    reasons: tuple[Reason, ...]
    hits: tuple[Hit, ...]


def hear_bearing(
    recording: Recording,
    *,
    band: Band | None = None,
    reference: Reference = FULL_SCALE,
    parts_hz: Mapping[str, float] = NO_PARTS,
    spacing_hz: Mapping[str, float] = NO_PARTS,
    search_share: float = SEARCH_SHARE,
) -> BearingSound:
    """Return the strength and rhythm of a recording, and what was found of each part's frequency in Hz.

    Name the shaft, the gear mesh and twice the mains among the parts, so that a line that fits them as well
    is told. Raises Unusable for a recording under 5 s or a band that it doesn't hold.
    """
    if recording.seconds < SHORTEST_SECONDS:
        refuse(*TOO_SHORT)
    heard = strength(recording, reference)
    chosen = band or usual_band(recording.rate_hz)
    spectrum = envelope_spectrum(envelope(recording, chosen))
    lines = rhythm_lines(spectrum)
    sounds_like, reasons = character(lines, heard.kurtosis.value)
    return BearingSound(
        strength=heard,
        band=chosen,
        spectrum=spectrum,
        lines=lines,
        fundamental_hz=fundamental_hz(lines),
        character=sounds_like,
        reasons=(*reasons, *heard.level.reasons, *heard.kurtosis.reasons),
        hits=hits(lines, parts_hz, spacing_hz, search_share),
    )
