"""Everything that one recording tells by itself, as plain JSON, with its picture.

Nothing here asks about the machine. The lines and the discharge figures are kept as numbers, so that whoever
knows the bearing, the voltage or the earlier readings finds parts (``rhythm.hits``) and classes
(``discharge.classify``) in them later, without the samples.
"""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any, BinaryIO, Final

from findings.physics.estimate import Estimate, Reason
from findings.sound import discharge, rhythm, strength
from findings.sound.bearing import BearingSound, hear_bearing
from findings.sound.decoding import Recording, decode
from findings.sound.discharge import Verdict
from findings.sound.discharge_features import DischargeSound, hear_discharge
from findings.sound.envelope import FULL_BAND, HETERODYNED, HIGHEST_SHARE, Band, usual_band
from findings.sound.header import DEFAULT_LIMITS, Limits, Unusable
from findings.sound.pictures import RhythmMark, marks_of_mains, picture
from findings.sound.rhythm import Character, Line
from findings.sound.told import GainLocked, SoundBand, Told

PARTS: Final[Mapping[str, str]] = {
    "strength": strength.VERSION,
    "rhythm": rhythm.VERSION,
    "discharge": discharge.VERSION,
}
MOST_LINES: Final = 200
NAMED_LINES: Final = 5
GAIN_MOVED: Final = Reason(
    "gain_moved",
    "The gain wasn't locked: the level compares with no other recording, and a change of gain can make an "
    "even sound seem to come and go.",
)
GAIN_UNKNOWN: Final = Reason(
    "gain_unknown",
    "It isn't said whether the gain was locked, so the level compares with no other recording.",
)
_GAIN: Final[Mapping[GainLocked, tuple[Reason, ...]]] = {
    GainLocked.YES: (),
    GainLocked.NO: (GAIN_MOVED,),
    GainLocked.UNKNOWN: (GAIN_UNKNOWN,),
}


@dataclass(frozen=True, slots=True)
class Heard:
    """What was found (plain JSON), the reasons for what wasn't, the picture as SVG and its words."""

    result: dict[str, Any]
    reasons: tuple[Reason, ...]
    picture: str
    words: str


def hear(
    file: BinaryIO, told: Told, *, title: str, electrical: bool = False, limits: Limits = DEFAULT_LIMITS
) -> Heard:
    """Return what one channel of a WAV or FLAC file tells; raises Unusable for a file that can't be read.

    A recording that is too short or too slow for its rhythm still has its level. ``electrical`` says that it
    was taken at electrical equipment: only there is a class of discharge named.
    """
    recording = decode(file, told.channel, limits)
    reasons = list(_GAIN[told.gain_locked])
    bearing: BearingSound | None = None
    sparks: DischargeSound | None = None
    try:
        band = _band(told.sound_band, recording.rate_hz)
        bearing = hear_bearing(recording, band=band)
        sparks = hear_discharge(recording, band=band)
    except Unusable as why:
        reasons.append(why.reason)
    strong = strength.strength(recording) if bearing is None else bearing.strength
    verdict = sparks.verdict if sparks is not None and electrical else None
    lines = () if bearing is None else bearing.lines
    reasons += () if bearing is None else bearing.reasons
    reasons += () if verdict is None else verdict.reasons
    drawn = picture(
        recording,
        title=title,
        rhythm=None if bearing is None else bearing.spectrum,
        marks=_marks(lines, sparks if electrical else None),
    )
    result = {
        "seconds": recording.seconds,
        "sample_rate_hz": recording.rate_hz,
        "channel": told.channel,
        **{name: _figure(getattr(strong, name)) for name in ("level", "rms", "crest_factor", "kurtosis")},
        "clipped_share": strong.clipped_share,
        **_rhythm(bearing),
        "discharge_features": None if sparks is None or sparks.features is None else asdict(sparks.features),
        "discharge": None if verdict is None else _class(verdict),
        "versions": dict(PARTS),
    }
    return Heard(result, tuple(dict.fromkeys(reasons)), drawn, _words(recording, bearing))


def _band(told: SoundBand, rate_hz: int) -> Band:
    """Return the band to listen in: as told, else by the rate."""
    if told is SoundBand.UNKNOWN:
        return usual_band(rate_hz)
    band = HETERODYNED if told is SoundBand.HETERODYNED else FULL_BAND
    return Band(band.low_hz, min(band.high_hz, rate_hz * HIGHEST_SHARE))


def _figure(estimate: Estimate) -> dict[str, Any]:
    """Return a figure without the inputs, which stand beside it."""
    return {name: value for name, value in estimate.to_json().items() if name != "inputs"}


def _rhythm(bearing: BearingSound | None) -> dict[str, Any]:
    """Return the rhythm's part of the result, the strongest 200 lines of it."""
    if bearing is None:
        nothing = dict.fromkeys(("band_low_hz", "band_high_hz", "fundamental_hz"))
        return {**nothing, "character": Character.UNDETERMINED.value, "lines": []}
    return {
        "band_low_hz": bearing.band.low_hz,
        "band_high_hz": bearing.band.high_hz,
        "fundamental_hz": bearing.fundamental_hz,
        "character": bearing.character.value,
        "lines": [line._asdict() for line in sorted(_strongest(bearing.lines, MOST_LINES))],
    }


def _class(verdict: Verdict) -> dict[str, Any]:
    """Return the class of discharge with the rule that fired and what would change it."""
    return {
        "sound": verdict.sound.value,
        "label": verdict.label,
        "rule": verdict.rule.code,
        "why": verdict.rule.why,
        "changes": [change._asdict() | {"sound": change.sound.value} for change in verdict.changes],
        "follow_up": verdict.follow_up,
        "keeps_doors_shut": verdict.keeps_doors_shut,
        "cautions": list(verdict.cautions),
    }


def _strongest(lines: Sequence[Line], most: int) -> list[Line]:
    """Return the lines that stand out most."""
    return sorted(lines, key=lambda line: line.above_floor_db, reverse=True)[:most]


def _marks(lines: Sequence[Line], sparks: DischargeSound | None) -> tuple[RhythmMark, ...]:
    """Return what the picture names: the mains where it is heard at electrical equipment, else the lines."""
    if sparks is not None and sparks.features is not None and sparks.features.harmonics:
        return marks_of_mains(sparks.features.mains_hz)
    named = _strongest(lines, NAMED_LINES)
    return tuple(RhythmMark(line.frequency_hz, f"{line.frequency_hz:.1f} Hz") for line in named)


def _words(recording: Recording, bearing: BearingSound | None) -> str:
    """Return in words what the picture shows, for those who don't see it."""
    seen = (
        f"{recording.seconds:.1f} seconds of sound: its course, its frequencies over time (the darker the "
        "louder) and its mean spectrum"
    )
    if bearing is None:
        return f"{seen}. Its rhythm could not be drawn."
    if not bearing.lines:
        return f"{seen}, and the spectrum of its envelope, in which no line stands out."
    named = ", ".join(
        f"{line.frequency_hz:.1f} Hz by {line.above_floor_db:.0f} dB"
        for line in sorted(_strongest(bearing.lines, NAMED_LINES))
    )
    return f"{seen}, and the spectrum of its envelope, in which lines stand out at {named}."
