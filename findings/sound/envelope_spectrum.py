"""The spectrum of an envelope, and which of its lines are more than chance."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage, signal, stats

from findings.sound.envelope import Envelope
from findings.sound.rhythm import HIGHEST_HZ, LOWEST_HZ, Line

FALSE_ALARM: Final = 1e-3
SIDE_BINS: Final = 15
EQUIVALENT_SEGMENTS: Final = 9.0 / 11.0  # of Hann windows that overlap by half, each counts for so much
DEEPEST_FLOOR: Final = 1e-12
SMALLEST_POWER: Final = 1e-200
LOBE_BINS: Final = 2


@dataclass(frozen=True, slots=True)
class EnvelopeSpectrum:
    """Power density of an envelope in bins of about 1 Hz from 0 Hz, the mean taken off.

    ``segments`` is the number of averaged stretches of about 1 s.
    """

    power: NDArray[np.float64]
    bin_hz: float
    segments: int

    @property
    def frequencies_hz(self) -> NDArray[np.float64]:
        """Return the middle of each bin."""
        middles: NDArray[np.float64] = np.arange(len(self.power), dtype=np.float64) * self.bin_hz
        return middles


def envelope_spectrum(envelope: Envelope) -> EnvelopeSpectrum:
    """Return Welch's spectrum: Hann windows of about 1 s that overlap by half.

    Raises ValueError for an envelope shorter than two windows.
    """
    length = round(envelope.rate_hz)
    segments = (len(envelope.values) - length // 2) // (length - length // 2)
    if segments < 2:
        msg = "an envelope spectrum needs at least two windows"
        raise ValueError(msg)
    _, power = signal.welch(
        envelope.values - envelope.values.mean(),
        fs=envelope.rate_hz,
        window="hann",
        nperseg=length,
        noverlap=length // 2,
    )
    return EnvelopeSpectrum(np.asarray(power, dtype=np.float64), envelope.rate_hz / length, segments)


def local_floor(power: NDArray[np.float64], side_bins: int) -> NDArray[np.float64]:
    """Return the median over so many bins on either side, never quite zero."""
    floor: NDArray[np.float64] = ndimage.median_filter(power, size=2 * side_bins + 1, mode="reflect")
    least = DEEPEST_FLOOR * max(float(power.max(initial=0.0)), SMALLEST_POWER)
    return np.asarray(np.maximum(floor, least), dtype=np.float64)


def line_threshold(segments: int, bins: int, false_alarm: float = FALSE_ALARM) -> float:
    """Return how far a bin must stand above the median before chance is ruled out.

    Averaged noise power follows chi-square with twice the equivalent number of segments; ``false_alarm`` is
    the chance that any one of ``bins`` bins passes (textbook spectral estimation, own derivation).
    """
    freedom = 2.0 * segments * EQUIVALENT_SEGMENTS
    ratio = stats.chi2.ppf((1.0 - false_alarm) ** (1.0 / bins), freedom) / stats.chi2.ppf(0.5, freedom)
    return float(ratio)


def rhythm_lines(spectrum: EnvelopeSpectrum) -> tuple[Line, ...]:
    """Return the lines between 2 and 600 Hz that aren't chance, by frequency.

    Each is a local maximum above the threshold; its frequency comes from a parabola through three bins of the
    logarithm, good to about a tenth of a bin.
    """
    first = round(LOWEST_HZ / spectrum.bin_hz)
    last = min(round(HIGHEST_HZ / spectrum.bin_hz), len(spectrum.power) - 2)
    power = spectrum.power[first : last + 1]
    ratio = power / local_floor(power, SIDE_BINS)
    threshold = line_threshold(spectrum.segments, len(power))
    lines: list[Line] = []
    taken = np.zeros(len(power), dtype=bool)
    for place in np.argsort(ratio)[::-1]:
        if ratio[place] <= threshold:
            break
        if not taken[place]:
            lines.append(_line(spectrum, first + int(place), float(ratio[place])))
        taken[max(0, place - LOBE_BINS) : place + LOBE_BINS + 1] = True
    return tuple(sorted(lines))


def _line(spectrum: EnvelopeSpectrum, place: int, ratio: float) -> Line:
    """Return the line at a bin, its frequency refined."""
    three = np.log(np.maximum(spectrum.power[place - 1 : place + 2], np.finfo(float).tiny))
    bend = three[0] - 2.0 * three[1] + three[2]
    shift = 0.0 if bend >= 0.0 else float(np.clip(0.5 * (three[0] - three[2]) / bend, -0.5, 0.5))
    return Line((place + shift) * spectrum.bin_hz, 10.0 * float(np.log10(ratio)))
