"""The figures by which discharge is told, taken from a recording."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from findings.sound.decoding import Recording
from findings.sound.discharge import SHORTEST, TOO_SHORT, Features, Verdict, classify, verdict
from findings.sound.envelope import Band, Envelope, envelope, usual_band
from findings.sound.envelope_spectrum import (
    EnvelopeSpectrum,
    envelope_spectrum,
    line_threshold,
    local_floor,
    rhythm_lines,
)
from findings.sound.header import refuse
from findings.sound.strength import clipped_share

MAINS_HZ: Final = (50.0, 60.0)
SEARCH_SHARE: Final = 0.006
SEARCH_STEP: Final = 0.001
ORDERS: Final = 10
DOUBLE_ORDERS_WEIGHT: Final = 3.0
NEAREST_HZ: Final = 1.5
NEAREST_SHARE: Final = 0.004
TESTED_BINS: Final = 40
SIDE_BINS: Final = 12
LINE_BINS: Final = 2
HANN_LINE_BINS: Final = 1.5  # a line's power over that of its highest bin, for Hann's window
LOWEST_HZ: Final = 2.0
NO_COMB_DB: Final = -99.0
LARGEST_DB: Final = 99.0
BURST_SECONDS: Final = 0.005
BURST_DEVIATIONS: Final = 6.0
LEAST_EXCESS: Final = 1.1
MAD_TO_SIGMA: Final = 1.4826
FAINTEST: Final = 1e-10


@dataclass(frozen=True, slots=True)
class DischargeSound:
    """The verdict on a recording with the figures behind it; under 5 s there are none.

    ``spectrum`` is kept for the picture.
    """

    verdict: Verdict
    band: Band
    features: Features | None = None
    spectrum: EnvelopeSpectrum | None = None


class _Comb(NamedTuple):
    """The mains comb of a spectrum: each order's power, which are no chance, and the power of all else."""

    mains_hz: float
    powers: NDArray[np.float64]
    floors: NDArray[np.float64]
    significant: NDArray[np.bool_]
    threshold: float
    rest: float


def hear_discharge(
    recording: Recording,
    *,
    mains_hz: float | None = None,
    band: Band | None = None,
    nominal_v: float | None = None,
    rising: bool = False,
) -> DischargeSound:
    """Return what a recording at closed electrical equipment sounds like, and why.

    ``mains_hz`` is the site's nominal frequency, 50 or 60; without it the better fitting one is taken. Raises
    Unusable for another mains, or a band that the recording doesn't hold.
    """
    if mains_hz is not None and mains_hz not in MAINS_HZ:
        refuse("mains", f"The rules know mains of 50 and 60 Hz, not {mains_hz:g} Hz.")
    chosen = band or usual_band(recording.rate_hz)
    if recording.seconds < SHORTEST.value:
        return DischargeSound(verdict(TOO_SHORT, nominal_v=nominal_v, rising=rising), chosen)
    heard = envelope(recording, chosen)
    spectrum = envelope_spectrum(heard)
    features = _features(recording, heard, spectrum, MAINS_HZ if mains_hz is None else (mains_hz,))
    return DischargeSound(classify(features, nominal_v=nominal_v, rising=rising), chosen, features, spectrum)


def _features(
    recording: Recording, heard: Envelope, spectrum: EnvelopeSpectrum, mains_hz: Sequence[float]
) -> Features:
    """Return the figures of a recording of at least 5 s."""
    comb = _comb(spectrum, mains_hz)
    mean_square = float(np.mean(np.square(heard.values)))
    power = float(comb.powers[comb.significant].sum())
    high, high_at_most = _high_shares(comb, power)
    bursts_per_s, duty = _bursts(heard, comb.mains_hz)
    cycle_cv, loud_cycles = _cycles(heard, comb.mains_hz)
    return Features(
        seconds=recording.seconds,
        level_db=10.0 * math.log10(max(mean_square / 2.0, FAINTEST**2)),
        clipped_share=clipped_share(recording),
        mains_hz=comb.mains_hz,
        harmonics=int(comb.significant.sum()),
        other_lines=_other_lines(spectrum, comb.mains_hz),
        comb_db=_ratio_db(power, comb.rest) if power > 0.0 else NO_COMB_DB,
        depth=math.sqrt(2.0 * power) / max(float(heard.values.mean()), FAINTEST),
        second_to_first_db=_second_to_first_db(comb),
        high_share=high,
        high_share_at_most=high_at_most,
        cycle_cv=cycle_cv,
        loud_cycles_per_s=loud_cycles / heard.seconds,
        bursts_per_s=bursts_per_s,
        burst_duty=duty,
    )


def _comb(spectrum: EnvelopeSpectrum, mains_hz: Sequence[float]) -> _Comb:
    """Return the comb of the mains frequency that fits best."""
    floor = local_floor(spectrum.power, SIDE_BINS)
    weights = np.ones(ORDERS)
    weights[:2] = DOUBLE_ORDERS_WEIGHT
    steps = round(SEARCH_SHARE / SEARCH_STEP)
    # Nearest to nominal first, so that of equal scores the nominal frequency stays.
    shares = sorted((step * SEARCH_STEP for step in range(-steps, steps + 1)), key=abs)
    best, best_score, best_places = mains_hz[0], -math.inf, np.zeros(ORDERS, dtype=int)
    for nominal in mains_hz:
        for share in shares:
            places = _places(spectrum, nominal * (1.0 + share))
            score = float(
                weights @ (10.0 * np.log10(np.maximum(spectrum.power[places] / floor[places], 1e-9)))
            )
            if score > best_score + 1e-9:
                best, best_score, best_places = nominal * (1.0 + share), score, places
    ratio = spectrum.power[best_places] / floor[best_places]
    threshold = line_threshold(spectrum.segments, TESTED_BINS)
    significant = ratio > threshold
    width = np.arange(-LINE_BINS, LINE_BINS + 1)
    bins = best_places[:, None] + width
    powers = np.maximum((spectrum.power[bins] - floor[bins]).sum(axis=1), 0.0) * spectrum.bin_hz
    floors = floor[bins].sum(axis=1) * spectrum.bin_hz
    first, last = round(LOWEST_HZ / spectrum.bin_hz), round((ORDERS + 0.5) * best / spectrum.bin_hz)
    total = float(spectrum.power[first : last + 1].sum()) * spectrum.bin_hz
    rest = max(total - float(powers[significant].sum()), 0.0)
    return _Comb(best, powers, floors, significant, threshold, rest)


def _places(spectrum: EnvelopeSpectrum, mains: float) -> NDArray[np.intp]:
    """Return for each order the largest bin near it."""
    places = np.empty(ORDERS, dtype=np.intp)
    for order in range(1, ORDERS + 1):
        reach = max(NEAREST_HZ, NEAREST_SHARE * order * mains)
        first = math.ceil((order * mains - reach) / spectrum.bin_hz)
        last = math.floor((order * mains + reach) / spectrum.bin_hz)
        places[order - 1] = first + int(np.argmax(spectrum.power[first : last + 1]))
    return places


def _other_lines(spectrum: EnvelopeSpectrum, mains: float) -> int:
    """Return how many lines between 2 and 600 Hz stand out away from every multiple of the mains."""
    lines = (line.frequency_hz for line in rhythm_lines(spectrum))
    return sum(abs(f - mains * round(f / mains)) > max(NEAREST_HZ, NEAREST_SHARE * f) for f in lines)


def _high_shares(comb: _Comb, power: float) -> tuple[float, float]:
    """Return the share of orders 3 to 10 in the comb, and what it could be with lines just too faint."""
    if power <= 0.0:
        return 0.0, 1.0
    high, heard = comb.powers[2:], comb.significant[2:]
    per_bin = comb.floors[2:][~heard] / (2 * LINE_BINS + 1)
    hidden = float(per_bin.sum()) * (comb.threshold - 1.0) * HANN_LINE_BINS
    shown = float(high[heard].sum())
    return shown / power, (shown + hidden) / (power + hidden)


def _second_to_first_db(comb: _Comb) -> float | None:
    """Return the power of order 2 over order 1; an order that isn't there counts as its noise."""
    if not comb.significant[:2].any():
        return None
    first, second = np.maximum(comb.powers[:2], comb.floors[:2])
    return _ratio_db(float(second), float(first))


def _ratio_db(one: float, other: float) -> float:
    """Return a ratio of powers in dB, within plus and minus 99."""
    ratio = max(one, 1e-300) / max(other, 1e-300)
    return min(max(10.0 * math.log10(ratio), NO_COMB_DB), LARGEST_DB)


def _cycles(heard: Envelope, mains: float) -> tuple[float, int]:
    """Return the scatter over the mean of the envelope's energy per mains cycle, and how many stand out.

    Whole cycles only. One stands out by six robust deviations, and by a tenth of the median at least.
    """
    cycle = (np.arange(len(heard.values)) * (mains / heard.rate_hz)).astype(int)
    energy = np.bincount(cycle, weights=np.square(heard.values)) / np.bincount(cycle)
    whole = energy[:-1]
    mean = float(whole.mean())
    if mean <= FAINTEST**2:
        return 0.0, 0
    limit = max(_outlier_limit(whole), LEAST_EXCESS * float(np.median(whole)))
    return float(whole.std()) / mean, int(np.count_nonzero(whole > limit))


def _outlier_limit(values: NDArray[np.float64]) -> float:
    """Return the median and six robust deviations."""
    middle = float(np.median(values))
    return middle + BURST_DEVIATIONS * MAD_TO_SIGMA * float(np.median(np.abs(values - middle)))


def _bursts(heard: Envelope, mains: float) -> tuple[float, float]:
    """Return bursts a second and their part of the time; gaps under one mains cycle are bridged."""
    smooth = ndimage.uniform_filter1d(heard.values, max(1, round(BURST_SECONDS * heard.rate_hz)))
    limit = _outlier_limit(smooth)
    loud = np.flatnonzero(smooth > limit)
    if not len(loud) or limit <= FAINTEST:
        return 0.0, 0.0
    gaps = np.diff(loud)
    bridged = gaps[(gaps > 1) & (gaps < heard.rate_hz / mains)]
    bursts = 1 + int(np.count_nonzero(gaps >= heard.rate_hz / mains))
    return bursts / heard.seconds, (len(loud) + float((bridged - 1).sum())) / len(smooth)
