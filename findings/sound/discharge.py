"""Corona, tracking, arcing, hum or noise: transparent rules over a few figures, none of them hidden.

The grounds are public literature, as far as it was open to us: AC modulation of corona pulse trains at mains
harmonics (studies of corona noise and current, abstracts), the tone at twice the mains (Straumann & Semmler
2004), uneven leakage-current bursts on both half cycles in tracking (Pylarinos et al. 2011, Li et al. 2010,
abstracts). The limits are judgement, set on invented sound and proved on other invented sound only, never on
recordings from a plant. Acoustic levels don't calibrate to charge (IEC TS 62478, scope), so there is no
severity.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any, Final, NamedTuple

from findings.physics.estimate import Reason

METHOD: Final = "mains comb of the envelope, steadiness from cycle to cycle"
VERSION: Final = "1"
CORONA_FROM_V: Final = 1000.0  # common practice, from memory


class Sound(StrEnum):
    """What a recording at an electrical enclosure sounds like."""

    CORONA = "corona-like"
    TRACKING = "tracking-like"
    ARCING = "arcing-like"
    HUM = "mains hum"
    NOISE = "steady noise"
    INCONCLUSIVE = "inconclusive"


DISCHARGES: Final = frozenset({Sound.CORONA, Sound.TRACKING, Sound.ARCING})


@dataclass(frozen=True, slots=True)
class Features:
    """The figures that the rules see.

    ``harmonics`` counts the mains orders 1 to 10 that aren't chance, ``other_lines`` the lines from
    2 to 600 Hz elsewhere; ``comb_db`` is their power over the rest
    of the envelope's; ``depth`` how deep they modulate; ``second_to_first_db`` the power of order 2 over that
    of order 1, None without either; ``high_share`` the part of orders 3 to 10 in the comb, and
    ``high_share_at_most`` what it could be with lines just too faint to count; ``cycle_cv`` the scatter of
    the energy from cycle to cycle over its mean; ``loud_cycles_per_s`` the cycles that stand out by far;
    ``level_db`` the band's rms in dB re full scale.
    """

    seconds: float
    level_db: float
    clipped_share: float
    mains_hz: float
    harmonics: int
    other_lines: int
    comb_db: float
    depth: float
    second_to_first_db: float | None
    high_share: float
    high_share_at_most: float
    cycle_cv: float
    loud_cycles_per_s: float
    bursts_per_s: float
    burst_duty: float


class Limit(NamedTuple):
    """A limit of the rules: the figure reaches it or doesn't."""

    figure: str
    value: float
    words: str


SHORTEST: Final = Limit("seconds", 5.0, "the length in seconds")
WEAKEST: Final = Limit("level_db", -70.0, "the level in the band, dB re full scale")
CLIPPED: Final = Limit("clipped_share", 0.001, "the share of clipped samples")
LINES: Final = Limit("harmonics", 1, "the number of mains harmonics")
COMB: Final = Limit("comb_db", -10.0, "the mains comb over the rest, dB")
UNEVEN: Final = Limit("cycle_cv", 1.0, "the scatter from cycle to cycle")
STEADY: Final = Limit("cycle_cv", 0.4, "the scatter from cycle to cycle")
HIGH_ORDERS: Final = Limit("high_share", 0.08, "the share of harmonics 3 to 10 in the comb")
LONE_BURSTS: Final = Limit("bursts_per_s", 0.05, "the number of bursts a second")
OTHER_LINES: Final = Limit("other_lines", 1, "the number of lines that aren't the mains'")
LOUD_CYCLES: Final = Limit("loud_cycles_per_s", 0.05, "the number of mains cycles a second that stand out")
HUM_ORDERS: Final = Limit("high_share", 0.03, "the share of harmonics 3 to 10 in the comb")
HIDDEN_ORDERS: Final = Limit(
    "high_share_at_most", 0.08, "the share that harmonics 3 to 10 could have unheard"
)
MANY_LINES: Final = Limit("harmonics", 4, "the number of mains harmonics")
TOO_MANY_LINES: Final = Limit("harmonics", 5, "the number of mains harmonics")
LIMITS: Final = (
    SHORTEST,
    WEAKEST,
    CLIPPED,
    LINES,
    COMB,
    UNEVEN,
    STEADY,
    OTHER_LINES,
    LONE_BURSTS,
    LOUD_CYCLES,
    HUM_ORDERS,
    HIGH_ORDERS,
    HIDDEN_ORDERS,
    MANY_LINES,
    TOO_MANY_LINES,
)


class Rule(NamedTuple):
    """A rule that can fire: its code, the class it gives, and why, in a sentence."""

    code: str
    sound: Sound
    why: str


TOO_SHORT: Final = Rule(
    "too_short", Sound.INCONCLUSIVE, "Under 5 s nothing can be told. Record 10 s or more."
)
TOO_WEAK: Final = Rule(
    "too_weak",
    Sound.INCONCLUSIVE,
    "The recording is too weak to tell silence from a gain set too low. Raise the gain and record again.",
)
CUT_OFF: Final = Rule(
    "clipped",
    Sound.INCONCLUSIVE,
    "Peaks are cut off, which can hide a discharge behind an even sound. Record again with less gain.",
)
FEW_ORDERS: Final = Rule(
    "locked_even_low_orders", Sound.HUM, "Smooth at the mains and its double, even in time."
)
PULSED: Final = Rule("locked_even_many_orders", Sound.CORONA, "Pulses locked to the mains, even in time.")
UNCLEAR_COMB: Final = Rule(
    "locked_even_unclear",
    Sound.INCONCLUSIVE,
    "Locked to the mains, but the higher harmonics are too few for a discharge and too many, or too well "
    "hidden in noise, for hum.",
)
OTHER_RHYTHM: Final = Rule(
    "other_rhythm",
    Sound.INCONCLUSIVE,
    "A rhythm that isn't the mains': a machine's, or a discharge while the mains frequency is off.",
)
BURSTS_IN_HUM: Final = Rule(
    "bursts_in_hum", Sound.INCONCLUSIVE, "Mains hum, but single bursts stand out of it."
)
GATED: Final = Rule("locked_uneven", Sound.TRACKING, "Locked to the mains, and it comes and goes.")
FAINT_LOCK: Final = Rule(
    "faint_lock",
    Sound.INCONCLUSIVE,
    "A mains rhythm is there, but so far below the noise that nothing can be told.",
)
BURSTS_IN_NOISE: Final = Rule(
    "bursts_in_noise",
    Sound.INCONCLUSIVE,
    "No mains rhythm and even on the whole, but single bursts stand out.",
)
FREE_STEADY: Final = Rule("unlocked_steady", Sound.NOISE, "No mains rhythm, and even in time.")
FREE_BURSTS: Final = Rule("unlocked_bursts", Sound.ARCING, "Bursts that keep no mains rhythm.")
UNCLEAR: Final = Rule(
    "unlocked_unclear", Sound.INCONCLUSIVE, "No mains rhythm, neither even enough for noise nor burst-like."
)


class Change(NamedTuple):
    """What would have changed the class: a figure, what it was, the limit, and the class beyond it."""

    figure: str
    value: float
    limit: float
    sound: Sound
    text: str


@dataclass(frozen=True, slots=True)
class Verdict:
    """The class, the rule that fired, what would change it, and what to do about it."""

    sound: Sound
    label: str
    rule: Rule
    changes: tuple[Change, ...]
    follow_up: bool
    keeps_doors_shut: bool
    reasons: tuple[Reason, ...]
    cautions: tuple[str, ...]


SEAMS: Final = "Keep the doors closed: scan seams and vents from outside, open nothing to hear better."
QUALIFIED: Final = (
    "Shock and arc flash kill. Opening, approaching or de-energising is for qualified people under local "
    "code; nothing here is advice on protective equipment."
)
BLOCKED: Final = "No door or hatch of this equipment is opened until a qualified person has released it."
FOLLOW_UP: Final = Reason(
    "follow_up",
    "Ask the qualified electrical person for a second technique (thermography, ultraviolet, electrical "
    "measurement). Corona-like and tracking-like are equally urgent: tracking that hardly pauses sounds "
    "even.",
)
NO_ALL_CLEAR: Final = Reason(
    "no_all_clear",
    "This is no proof of sound equipment: a discharge that is silent now, or well below this noise, isn't "
    "heard. Of invented corona 18 dB below noise or hum most was missed.",
)
RISING: Final = Reason("rising", "The level has risen since earlier readings, whatever the sound is like.")
ELECTRICAL_ONLY: Final = Reason(
    "electrical_only",
    "Impacts of a machine at once or twice the mains frequency sound the same: use this at electrical "
    "equipment only, with the gain locked, since a change of gain makes corona sound like tracking.",
)


def classify(features: Features, *, nominal_v: float | None = None, rising: bool = False) -> Verdict:
    """Return the class of a recording with its grounds; ``nominal_v`` is the equipment's nominal voltage.

    ``rising`` says that the level rose against earlier readings of the same point. Valid for uncompressed
    recordings of 8000 samples a second and more, gain locked, at 50 or 60 Hz. Raises ValueError for figures
    that aren't finite.
    """
    if not all(math.isfinite(value) for value in _numbers(features)):
        msg = "features are finite numbers"
        raise ValueError(msg)
    rule = fired(features)
    return verdict(rule, tuple(_changes(features, rule)), nominal_v=nominal_v, rising=rising)


def fired(features: Features) -> Rule:
    """Return the rule that fires, the only place where classes are decided."""
    if not reaches(features, SHORTEST):
        return TOO_SHORT
    if not reaches(features, WEAKEST):
        return TOO_WEAK
    locked = reaches(features, LINES) and reaches(features, COMB)
    rule = _locked(features) if locked else _free(features)
    quiet = rule.sound not in DISCHARGES
    return CUT_OFF if quiet and reaches(features, CLIPPED) else rule


def reaches(features: Features, limit: Limit) -> bool:
    """Tell whether a figure is at its limit or above."""
    return float(getattr(features, limit.figure)) >= limit.value


def _locked(features: Features) -> Rule:
    """Return the rule for a sound that keeps the mains rhythm."""
    if reaches(features, UNEVEN):
        return GATED
    if reaches(features, HIGH_ORDERS) and reaches(features, MANY_LINES):
        return PULSED
    smooth = not any(reaches(features, limit) for limit in (HUM_ORDERS, HIDDEN_ORDERS, TOO_MANY_LINES))
    return _even(features, FEW_ORDERS, BURSTS_IN_HUM) if smooth else UNCLEAR_COMB


def _free(features: Features) -> Rule:
    """Return the rule for a sound that doesn't."""
    if reaches(features, UNEVEN):
        return FREE_BURSTS
    if reaches(features, LINES):
        return FAINT_LOCK
    return UNCLEAR if reaches(features, STEADY) else _even(features, FREE_STEADY, BURSTS_IN_NOISE)


def _even(features: Features, quiet: Rule, bursts: Rule) -> Rule:
    """Return the quiet rule of an even sound, unless another rhythm or single events stand out of it."""
    if reaches(features, OTHER_LINES):
        return OTHER_RHYTHM
    return bursts if reaches(features, LONE_BURSTS) or reaches(features, LOUD_CYCLES) else quiet


def verdict(
    rule: Rule, changes: tuple[Change, ...] = (), *, nominal_v: float | None = None, rising: bool = False
) -> Verdict:
    """Return what follows from a rule: whether to follow up, and the cautions."""
    sound = rule.sound
    discharge = sound in DISCHARGES
    follow_up = discharge or sound is Sound.INCONCLUSIVE or rising
    label = sound.value
    if sound is Sound.CORONA and nominal_v is not None and nominal_v < CORONA_FROM_V:
        label = "mains-locked discharge, corona unlikely at this voltage"
    keeps_doors_shut = discharge or rising
    reasons = [Reason(rule.code, rule.why)]
    reasons += [RISING] if rising else []
    reasons += [FOLLOW_UP] if follow_up else []
    reasons += [] if discharge else [NO_ALL_CLEAR]
    return Verdict(
        sound=sound,
        label=label,
        rule=rule,
        changes=changes,
        follow_up=follow_up,
        keeps_doors_shut=keeps_doors_shut,
        reasons=(*reasons, ELECTRICAL_ONLY),
        cautions=((BLOCKED,) if keeps_doors_shut else ()) + (SEAMS, QUALIFIED),
    )


def _changes(features: Features, rule: Rule) -> Iterator[Change]:
    """Yield every figure that, moved alone across its nearest limit, gives another class."""
    told = set()
    for limit in LIMITS:
        value = float(getattr(features, limit.figure))
        above = value >= limit.value
        step = 1.0 if isinstance(getattr(features, limit.figure), int) else 1e-9 * max(1.0, abs(limit.value))
        moved: Any = {limit.figure: limit.value - step if above else limit.value}
        other = fired(replace(features, **moved)).sound
        if other is not rule.sound and (limit.figure, other) not in told:
            told.add((limit.figure, other))
            side = "below" if above else "at or above"
            text = (
                f"{limit.words[0].upper()}{limit.words[1:]} is {value:.3g}; {side} {limit.value:g}: {other}."
            )
            yield Change(limit.figure, value, limit.value, other, text)


def _numbers(features: Features) -> Iterator[float]:
    """Yield every figure that is there."""
    for name in features.__slots__:
        value = getattr(features, name)
        if value is not None:
            yield float(value)
