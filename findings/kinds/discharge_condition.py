"""What is judged of electrical equipment: from a recording's sound, an inspector's words, or a quiet reading.

Severities and intervals are our judgement, written down in the two tables below. NFPA 70B (2023) asks for
thermography of all electrical equipment at least every 12 months, every 6 months for equipment in the worst
condition; it sets no interval for ultrasound that we could see, so the same are the longest here, shorter by
class, and a look always comes before an opening. Acoustic levels don't calibrate to charge (IEC TS 62478,
scope): the class decides, and a rise adds to it.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from types import MappingProxyType
from typing import Any, Final

from findings.kinds.base import Kind
from findings.kinds.condition import ConditionFound, ConditionSource
from findings.kinds.discharge_figures import features_told
from findings.kinds.level_rise import LevelRise, LevelTrend
from findings.physics.estimate import Reason
from findings.sound import discharge
from findings.sound.discharge import DISCHARGES, Features, Rule, Sound, Verdict, classify, verdict

VERSION: Final = "1"
NOTHING_HEARD: Final = "nothing heard"
"""The state after a reading at electrical equipment that named nothing and has no recording."""

SEVERITY: Final[Mapping[Sound, int | None]] = MappingProxyType(
    {
        Sound.ARCING: 5,
        # Tracking that hardly pauses sounds like corona, so that both are equally grave.
        Sound.TRACKING: 4,
        Sound.CORONA: 4,
        Sound.INCONCLUSIVE: None,
        Sound.HUM: 1,
        Sound.NOISE: 1,
    }
)
"""Steps of 1 to 5 by class; a rising level adds one to a discharge."""
RISING_SEVERITY: Final = 3
"""What a rising level is worth, whatever it sounds like."""

LOOK_AGAIN_DAYS: Final[Mapping[Sound, tuple[int, int]]] = MappingProxyType(
    {
        Sound.ARCING: (7, 3),
        Sound.TRACKING: (30, 14),
        Sound.CORONA: (30, 14),
        Sound.INCONCLUSIVE: (30, 14),
        Sound.HUM: (365, 30),
        Sound.NOISE: (365, 30),
    }
)
"""The longest wait for the next look in days: with a level that doesn't rise, and with one that does."""
LONGEST_DAYS: Final = 365
WORST_DAYS: Final = 182
"""Where a discharge stands open: the worst condition, six months at most."""

WORDS: Final[Mapping[str, Sound]] = MappingProxyType(
    {
        **{sound.value: sound for sound in Sound},
        "corona": Sound.CORONA,
        "tracking": Sound.TRACKING,
        "arcing": Sound.ARCING,
        "hum": Sound.HUM,
        "noise": Sound.NOISE,
    }
)
"""An inspector's words for a class; any other word tells no class."""

UNHEARD: Final = Rule(
    "not_heard", Sound.INCONCLUSIVE, "The recording gave no figures to tell a sound by. Record again."
)
BY_WORD: Final = Rule("by_word", Sound.INCONCLUSIVE, "The class is the word of whoever listened.")
NO_CLASS: Final = Rule(
    "no_class_named", Sound.INCONCLUSIVE, "Whoever listened named a discharge and no class of it."
)
NOT_RECORDED: Final = Reason("not_recorded", "Not determined by a recording.")
GAIN: Final = Reason(
    "gain_may_track",
    "It isn't sure that the gain was locked: a gain that moves in steps makes corona sound like tracking.",
)
NOT_KNOWN_ELECTRICAL: Final = Reason(
    "not_known_electrical",
    "The point isn't marked as electrical and has no panel particulars: impacts of a machine near twice the "
    "mains frequency sound the same.",
)
LEAK_BESIDE: Final = Reason(
    "leak_beside", "A leak stands open at the same asset; a loud leak hides a discharge beside it."
)
SHUT: Final = Reason(
    "shut_until_released",
    "The enclosure was kept shut before; another judgement doesn't open it, only a release does.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """What is known beside the sound: the equipment, its history, and what stands next to it.

    ``is_open`` says that a discharge stands open at the point; ``mains_hz`` is what the site states.
    """

    rise: LevelRise = field(default_factory=LevelRise)
    nominal_v: float | None = None
    mains_hz: float | None = None
    known_electrical: bool = True
    leak_beside: bool = False
    is_open: bool = False

    @property
    def rising(self) -> bool:
        """Tell whether the level has risen."""
        return self.rise.trend is LevelTrend.RISING


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundHeard:
    """What an analysis kept of one recording; ``features`` is None where nothing could be told by."""

    analysis_id: str
    recording_id: str
    method_version: str
    features: Features | None
    seconds: float | None = None
    gain_locked: bool = False
    reasons: tuple[Reason, ...] = ()


def condition_by_sound(heard: SoundHeard, around: Surroundings) -> ConditionFound:
    """Return the condition that a recording shows.

    A recording without discharge is a method of its own, so that it never unsays an earlier one that had it:
    tracking comes and goes with the weather, and a quiet recording proves little.
    """
    told = _verdict(heard, around)
    reasons = [*told.reasons, *_doubts(told.sound, around), *heard.reasons]
    if told.sound is Sound.TRACKING and not heard.gain_locked:
        reasons.append(GAIN)
    if heard.features is not None and _other_mains(heard.features, around.mains_hz):
        text = (
            f"The rhythm fits mains of {heard.features.mains_hz:.1f} Hz, the panel's are {around.mains_hz:g} "
            "Hz: it may be a machine's or a drive's."
        )
        reasons.append(Reason("other_mains", text))
    return _found(
        told,
        around,
        source=ConditionSource.RECORDING,
        method="discharge_by_sound" if told.sound in DISCHARGES else "no_discharge_by_sound",
        features=heard.features,
        inputs={
            "analysis_id": heard.analysis_id,
            "recording_id": heard.recording_id,
            "analysis_version": heard.method_version,
            "rules_version": discharge.VERSION,
            "features": None if heard.features is None else asdict(heard.features),
        },
        reasons=reasons,
    )


def condition_by_words(word: str, severity: int | None, around: Surroundings) -> ConditionFound:
    """Return the condition of a reading that named a discharge, by the inspector's word and severity.

    Without a word of the list the class stays open, but the doors stay shut: a discharge was named.
    """
    sound = WORDS.get(word.strip().lower())
    told = _said(NO_CLASS if sound is None else BY_WORD._replace(sound=sound), around)
    quiet = told.sound in {Sound.HUM, Sound.NOISE}
    found = _found(
        told,
        around,
        source=ConditionSource.READING,
        method="no_discharge_by_words" if quiet else "discharge_by_words",
        features=None,
        inputs={"word": word, "severity": severity},
        reasons=[NOT_RECORDED, *told.reasons, *_doubts(told.sound, around)],
        keeps_shut=told.keeps_doors_shut or not quiet,
    )
    graver = max((step for step in (found.severity, severity) if step is not None), default=None)
    return _with(found, severity=graver)


def condition_of_quiet(around: Surroundings) -> ConditionFound:
    """Return the condition of a reading at electrical equipment that named nothing and has no recording."""
    told = verdict(Rule("nothing_named", Sound.NOISE, "Nothing was named."), rising=around.rising)
    found = _found(
        told,
        around,
        source=ConditionSource.READING,
        method="quiet_reading",
        features=None,
        inputs={},
        reasons=[NOT_RECORDED, *told.reasons[1:], *_doubts(told.sound, around)],
    )
    said: dict[str, Any] = {
        "state": NOTHING_HEARD,
        "figures": {**found.figures, "label": NOTHING_HEARD, "why": "Nothing was named.", "changes": []},
    }
    if not around.rising:
        # Nobody listened for a class: that is no word about the equipment.
        said |= {"severity": None, "order_due": None}
    return _with(found, **said)


def condition_overruled(
    sound: Sound, why: str, around: Surroundings, *, is_shut: bool, before: str
) -> ConditionFound:
    """Return the condition that an inspector puts in the place of another; ``why`` are the inspector's words.

    ``is_shut`` says that the enclosure is kept shut now: then it stays so, whatever the new class.
    """
    told = _said(BY_WORD._replace(sound=sound), around)
    reasons = [Reason("overruled", f"Judged anew instead of “{before}”: {why}"), *told.reasons]
    if is_shut and not told.keeps_doors_shut:
        reasons.append(SHUT)
    return _found(
        told,
        around,
        source=ConditionSource.INSPECTOR,
        method="discharge_overruled",
        features=None,
        inputs={"sound": sound.value, "why": why, "before": before},
        reasons=[*reasons, *_doubts(sound, around)],
        keeps_shut=is_shut or told.keeps_doors_shut,
    )


def _verdict(heard: SoundHeard, around: Surroundings) -> Verdict:
    if heard.features is not None:
        return classify(heard.features, nominal_v=around.nominal_v, rising=around.rising)
    short = heard.seconds is not None and heard.seconds < discharge.SHORTEST.value
    return _said(discharge.TOO_SHORT if short else UNHEARD, around)


def _said(rule: Rule, around: Surroundings) -> Verdict:
    return verdict(rule, nominal_v=around.nominal_v, rising=around.rising)


def _other_mains(features: Features, mains_hz: float | None) -> bool:
    """Tell whether the comb found is another mains' than the panel's; 5 Hz parts 50 from 60."""
    return mains_hz is not None and features.harmonics > 0 and abs(features.mains_hz - mains_hz) > 5.0


def _doubts(sound: Sound, around: Surroundings) -> tuple[Reason, ...]:
    """Return the known ways to be wrong that matter here."""
    doubts = []
    if not around.known_electrical:
        doubts.append(NOT_KNOWN_ELECTRICAL)
    if around.leak_beside and sound not in DISCHARGES:
        doubts.append(LEAK_BESIDE)
    return tuple(doubts)


def _found(
    told: Verdict,
    around: Surroundings,
    *,
    source: ConditionSource,
    method: str,
    features: Features | None,
    inputs: Mapping[str, Any],
    reasons: list[Reason],
    keeps_shut: bool | None = None,
) -> ConditionFound:
    """Return the condition of a verdict by the tables above."""
    is_discharge = told.sound in DISCHARGES
    return ConditionFound(
        kind=Kind.ELECTRICAL_DISCHARGE,
        source=source,
        method=method,
        version=VERSION,
        state=told.sound.value,
        severity=_severity(told.sound, rising=around.rising),
        opens_finding=is_discharge or around.rising,
        order_due=told.follow_up,
        keeps_shut=told.keeps_doors_shut if keeps_shut is None else keeps_shut,
        look_again_days=look_again_days(told.sound, rising=around.rising, is_open=around.is_open),
        figures={
            "label": told.label,
            "rule": told.rule.code,
            "why": told.rule.why,
            "changes": [change._asdict() | {"sound": change.sound.value} for change in told.changes],
            "features": features_told(features),
            "level_trend": around.rise.trend.value,
            "level_rise_db": around.rise.rise_db,
            "levels_compared": around.rise.compared,
            "cautions": list(told.cautions),
        },
        inputs={**inputs, **_surroundings(around)},
        reasons=tuple(dict.fromkeys(reasons)),
    )


def _severity(sound: Sound, *, rising: bool) -> int | None:
    step = SEVERITY[sound]
    if not rising:
        return step
    return min(5, (step or 0) + 1) if sound in DISCHARGES else RISING_SEVERITY


def look_again_days(sound: Sound, *, rising: bool, is_open: bool) -> int:
    """Return the longest wait for the next look, in days; before any opening one is due anyway."""
    longest = WORST_DAYS if is_open else LONGEST_DAYS
    return min(longest, LOOK_AGAIN_DAYS[sound][int(rising)])


def _surroundings(around: Surroundings) -> dict[str, Any]:
    told = asdict(around)
    rise = told.pop("rise")
    return {**told, "level_trend": rise["trend"].value, "level_rise_db": rise["rise_db"]}


def _with(found: ConditionFound, **values: Any) -> ConditionFound:
    return ConditionFound(**{name: getattr(found, name) for name in found.__slots__} | values)
