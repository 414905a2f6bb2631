"""How loud and how peaky a recording is: level, rms, crest factor, kurtosis; and when not to say it."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from findings.physics.estimate import Estimate, Reason, Status, refused
from findings.sound.decoding import Recording

VERSION: Final = "1"
BLOCKS: Final = 20
T_95_OF_19: Final = 2.093  # Student's t for 20 blocks, from memory; the tests ask scipy
SHORTEST_SECONDS: Final = 5.0
MOST_CLIPPED_SHARE: Final = 0.001
BLOCK_SAMPLES: Final = 1 << 18
SMALLEST_RMS: Final = 1e-9  # below the finest step that is read
SMALLEST_SHARE: Final = 1e-3  # judgement: the rest is 60 dB quieter
TOO_SHORT: Final = Reason(
    "too_short", "Under 5 s there is too little to judge peaks by. Record 10 s or more."
)
CLIPPED: Final = Reason(
    "clipped",
    "More than 0.1 % of the samples stand at full scale: the peaks are cut off. Record with less gain.",
)
SILENT: Final = Reason("silent", "The recording doesn't change at all: check the sensor and its cable.")
ONE_BURST: Final = Reason(
    "one_burst",
    "All the sound lies in one short stretch: that is an event, not a state. Record again while it sounds.",
)
AT_LEAST: Final = Reason("lower_bound", "Peaks are cut off, so the true level is higher than this.")


@dataclass(frozen=True, slots=True)
class Reference:
    """What a level counts from: the level, in ``unit``, of an rms of full scale, and its uncertainty in dB.

    Without a calibration, full scale itself: an rms of 1.0 is 0 dB, so the largest sine reads -3.01 dB.
    """

    db_at_full_scale: float = 0.0
    u_db: float = 0.0
    unit: str = "dB re full scale"


FULL_SCALE: Final = Reference()


@dataclass(frozen=True, slots=True)
class Strength:
    """Level in dB, rms in parts of full scale, crest factor and kurtosis (normal noise: 3) of a recording."""

    level: Estimate
    rms: Estimate
    crest_factor: Estimate
    kurtosis: Estimate
    clipped_share: float


def clipped_share(recording: Recording) -> float:
    """Return the part of the samples that stand at full scale; cutting before the converter isn't seen."""
    count = 0
    for start in range(0, len(recording.samples), BLOCK_SAMPLES):
        part = recording.samples[start : start + BLOCK_SAMPLES]
        count += int(np.count_nonzero(np.abs(part) >= recording.clipping_level))
    return count / len(recording.samples)


def strength(recording: Recording, reference: Reference = FULL_SCALE) -> Strength:
    """Return the strength of a recording about its mean, each figure with its interval or refused.

    Uncertainties are those of a stretch of the same sound of this length, by leaving out each of 20 blocks in
    turn (the jackknife: Quenouille 1949, Tukey 1958, from memory); the level adds the calibration's.
    """
    sums, peak = _sums(recording)
    clipped = clipped_share(recording)
    inputs = {"seconds": recording.seconds, "clipped_share": clipped}
    if _rms(sums.sum(axis=0)) <= SMALLEST_RMS or len(recording.samples) < 2 * BLOCKS:
        return _silent(reference, clipped, inputs)
    too_peaky = (CLIPPED,) if clipped > MOST_CLIPPED_SHARE else ()
    peaky = too_peaky + ((TOO_SHORT,) if recording.seconds < SHORTEST_SECONDS else ())
    bound = (AT_LEAST,) if too_peaky else ()
    return Strength(
        level=_estimate(sums, _level(reference), reference.unit, bound, inputs, reference.u_db),
        rms=_estimate(sums, _rms, "1", bound, inputs),
        crest_factor=_unless(peaky, sums, lambda part: peak / _rms(part), "1", inputs),
        kurtosis=_unless(peaky, sums, _kurtosis, "1", inputs),
        clipped_share=clipped,
    )


def _sums(recording: Recording) -> tuple[NDArray[np.float64], float]:
    """Return count and first four power sums of each block about the mean, shape (20, 5), and the peak."""
    samples = recording.samples
    mean = sum(float(part.sum(dtype=np.float64)) for part in _parts(samples)) / len(samples)
    edges = np.linspace(0, len(samples), BLOCKS + 1).astype(int)
    sums, peak = np.zeros((BLOCKS, 5)), 0.0
    for block, (start, end) in enumerate(pairwise(edges)):
        for part in _parts(samples[start:end]):
            values = part.astype(np.float64) - mean
            square = values * values
            sums[block] += (
                len(values),
                values.sum(),
                square.sum(),
                (square * values).sum(),
                (square**2).sum(),
            )
            peak = max(peak, float(np.abs(values).max()))
    return sums, peak


def _parts(samples: NDArray[np.float32]) -> list[NDArray[np.float32]]:
    """Return the samples in pieces of bounded size."""
    return [samples[start : start + BLOCK_SAMPLES] for start in range(0, len(samples), BLOCK_SAMPLES)]


def _moments(sums: NDArray[np.float64]) -> tuple[float, float]:
    """Return the second and fourth central moment that power sums stand for."""
    first, second, third, fourth = (float(one) for one in sums[1:] / sums[0])
    m2 = second - first**2
    return m2, fourth - 4.0 * first * third + 6.0 * first**2 * second - 3.0 * first**4


def _rms(sums: NDArray[np.float64]) -> float:
    """Return the rms about the mean."""
    return math.sqrt(max(_moments(sums)[0], 0.0))


def _kurtosis(sums: NDArray[np.float64]) -> float:
    """Return the fourth moment over the squared second: 3 for normal noise, 1.5 for a sine."""
    m2, m4 = _moments(sums)
    return m4 / m2**2


def _level(reference: Reference) -> Callable[[NDArray[np.float64]], float]:
    """Return the function from power sums to the level."""
    return lambda sums: 20.0 * math.log10(_rms(sums)) + reference.db_at_full_scale


def _estimate(
    sums: NDArray[np.float64],
    statistic: Callable[[NDArray[np.float64]], float],
    unit: str,
    reasons: tuple[Reason, ...],
    inputs: dict[str, Any],
    u_more: float = 0.0,
) -> Estimate:
    """Return a statistic with its jackknife uncertainty; refused where a block alone holds all the sound."""
    total = sums.sum(axis=0)
    rests = [total - row for row in sums]
    if min(_rms(rest) for rest in rests) <= SMALLEST_SHARE * _rms(total):
        return _refused(unit, (ONE_BURST, *reasons), inputs)
    value, others = statistic(total), np.array([statistic(rest) for rest in rests])
    u = math.sqrt((BLOCKS - 1) * float(others.var()) + u_more**2)
    return Estimate(
        value=value,
        u=u,
        low=value - T_95_OF_19 * u,
        high=value + T_95_OF_19 * u,
        unit=unit,
        method="moments about the mean, jackknife over 20 blocks",
        method_version=VERSION,
        status=Status.MEASURED,
        reasons=reasons,
        inputs=inputs,
    )


def _unless(
    reasons: tuple[Reason, ...],
    sums: NDArray[np.float64],
    statistic: Callable[[NDArray[np.float64]], float],
    unit: str,
    inputs: dict[str, Any],
) -> Estimate:
    """Return a statistic of the peaks, refused where there are reasons to."""
    return _refused(unit, reasons, inputs) if reasons else _estimate(sums, statistic, unit, (), inputs)


def _refused(unit: str, reasons: tuple[Reason, ...], inputs: dict[str, Any]) -> Estimate:
    """Return the refused figure."""
    return refused(
        unit=unit, method="moments about the mean", version=VERSION, reasons=reasons, inputs=inputs
    )


def _silent(reference: Reference, clipped: float, inputs: dict[str, Any]) -> Strength:
    """Return four refusals."""
    level, plain = (_refused(unit, (SILENT,), inputs) for unit in (reference.unit, "1"))
    return Strength(level, plain, plain, plain, clipped)
