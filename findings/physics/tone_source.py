"""A tone source inside an enclosure: loud enough for a seal test, and what a passing level is."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from findings.physics.estimate import Estimate, Reason, refused
from findings.physics.input_check import number_problems
from findings.physics.level_difference import level_difference

METHOD = "tone_source"
VERSION = "1"
LEAST_DROP_DB = 20.0
"""A drop of 20 dB leaves a tenth of the sound pressure (surveyors' practice on ships' hatch covers)."""
COMFORT_DB = 6.0
"""What the source should have in hand over the least that makes a pass possible (judgement)."""
LARGEST_LEVEL_DB = 300.0
ROUNDING_DB = 1e-9


class Criterion(StrEnum):
    """Name what "a tenth of the open reading" means: of the sound pressure, or of the number shown in dB."""

    AMPLITUDE = "amplitude"
    DISPLAYED_NUMBER = "displayed_number"


class Strength(StrEnum):
    """Name whether the source is loud enough against the background."""

    NOT_DETERMINED = "not_determined"
    TOO_WEAK = "too_weak"
    JUST_ENOUGH = "just_enough"
    STRONG = "strong"


@dataclass(frozen=True)
class SourceCheck:
    """Whether a pass will be possible: said before the walk. ``margin`` is open level less background."""

    strength: Strength
    margin: Estimate
    limit_level_db: float | None
    reasons: tuple[Reason, ...]


def amplitude_percent(drop_db: float) -> float:
    """Return what is left of the sound pressure after a drop, in per cent of the open reading."""
    return float(100.0 * 10.0 ** (-drop_db / 20.0))


def limit_level_db(open_level_db: float, criterion: Criterion, least_drop_db: float = LEAST_DROP_DB) -> float:
    """Return the highest level at the seam that still passes."""
    if criterion is Criterion.DISPLAYED_NUMBER:
        return 0.1 * open_level_db
    return open_level_db - least_drop_db


def check_source(
    open_level_db: float,
    background_db: float,
    *,
    criterion: Criterion = Criterion.AMPLITUDE,
    least_drop_db: float = LEAST_DROP_DB,
    level_u_db: float = 1.0,
) -> SourceCheck:
    """Return whether the source is loud enough for any point to pass; do this before the walk.

    The level that still passes must not lie below the background (20 dB between open level and background
    by the amplitude criterion), and should lie COMFORT_DB above. Refused for impossible levels.
    """
    numbers = (open_level_db, background_db, least_drop_db, level_u_db)
    problems = level_problems(numbers, open_level_db, criterion, least_drop_db)
    if problems:
        return SourceCheck(Strength.NOT_DETERMINED, unknown_difference(problems), None, problems)
    limit = limit_level_db(open_level_db, criterion, least_drop_db)
    margin = difference(open_level_db, background_db, level_u_db)
    missing = background_db - limit
    if missing > ROUNDING_DB:
        text = (
            f"The source is too weak for the background: no point can pass. It lacks {missing:.1f} dB; "
            "use a stronger source, go nearer in both readings or quieten the room."
        )
        return SourceCheck(Strength.TOO_WEAK, margin, limit, (Reason("source_too_weak", text),))
    if -missing + ROUNDING_DB < COMFORT_DB:
        text = (
            f"The source is only just loud enough; {COMFORT_DB + missing:.1f} dB more would be comfortable."
        )
        return SourceCheck(Strength.JUST_ENOUGH, margin, limit, (Reason("source_just_enough", text),))
    return SourceCheck(Strength.STRONG, margin, limit, ())


def level_problems(
    numbers: Sequence[float], open_level_db: float, criterion: Criterion, least_drop_db: float
) -> tuple[Reason, ...]:
    """Return why levels can't be computed with."""
    found = number_problems([], numbers)
    if found:
        return found
    if any(abs(number) > LARGEST_LEVEL_DB for number in numbers):
        return (Reason("level_out_of_range", "A level or a length is impossible; correct it."),)
    if least_drop_db <= 0.0:
        return (Reason("drop_not_positive", "The least drop of a tight seam is above 0 dB."),)
    if criterion is Criterion.DISPLAYED_NUMBER and open_level_db <= 0.0:
        text = "A tenth of the number shown needs an open reading above 0 dB."
        return (Reason("open_level_not_positive", text),)
    return ()


def difference(level_db: float, other_db: float, level_u_db: float) -> Estimate:
    """Return the difference of two readings with its interval."""
    return level_difference(level_db, other_db, level_u_db, method=METHOD, version=VERSION)


def unknown_difference(problems: tuple[Reason, ...]) -> Estimate:
    """Return the difference that isn't known."""
    return refused(unit="dB", method=METHOD, version=VERSION, reasons=problems, inputs={})
