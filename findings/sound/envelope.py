"""The envelope of one frequency band: what stays of a sound when its carrier is taken away."""

from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from findings.sound.decoding import Recording
from findings.sound.header import refuse

ENVELOPE_RATE_HZ: Final = 4000.0
STOP_DB: Final = 80.0
NARROWEST_HZ: Final = 500.0
HIGHEST_SHARE: Final = 0.475
CHUNK: Final = 1 << 13


class Band(NamedTuple):
    """A band by the frequencies at which it lets half the amplitude through, Hz."""

    low_hz: float
    high_hz: float


HETERODYNED: Final = Band(1_000.0, 6_000.0)
FULL_BAND: Final = Band(20_000.0, 60_000.0)


@dataclass(frozen=True, slots=True)
class Envelope:
    """The envelope's amplitude, in parts of full scale, at about 4000 values a second."""

    values: NDArray[np.float64]
    rate_hz: float
    band: Band

    @property
    def seconds(self) -> float:
        """Return its length, a little shorter than the recording's: the filters' edges are left off."""
        return len(self.values) / self.rate_hz


def usual_band(rate_hz: int) -> Band:
    """Return 20 to 60 kHz for a recording of the ultrasound itself, else 1 to 6 kHz, within its rate."""
    band = FULL_BAND if rate_hz * HIGHEST_SHARE > 2.0 * FULL_BAND.low_hz else HETERODYNED
    return Band(band.low_hz, min(band.high_hz, rate_hz * HIGHEST_SHARE))


def envelope(recording: Recording, band: Band) -> Envelope:
    """Return the magnitude of the analytic signal in a band, resampled to about 4000 Hz.

    Both filters are of linear phase, and only values that rest on samples alone are kept. Works in chunks, so
    memory follows the envelope's length. Refuses a band outside the recording's, or narrower than 500 Hz.
    """
    low, high = band
    if not 0.0 < low < high <= recording.rate_hz * HIGHEST_SHARE or high - low < NARROWEST_HZ:
        refuse(
            "band",
            f"The band from {low:.0f} to {high:.0f} Hz can't be cut out of a recording with "
            f"{recording.rate_hz} samples a second.",
        )
    step = max(1, int(recording.rate_hz // ENVELOPE_RATE_HZ))
    rate = recording.rate_hz / step
    carrier = _analytic_filter(recording.rate_hz, band)
    smooth = _lowpass(recording.rate_hz, 0.4 * rate, 0.2 * rate) if step > 1 else np.ones(1)
    lead = len(carrier) + len(smooth) - 2
    count = max(0, (len(recording.samples) - lead - 1) // step + 1)
    values = np.empty(count)
    for start in range(0, count, CHUNK):
        end = min(start + CHUNK, count)
        part = recording.samples[start * step : (end - 1) * step + lead + 1].astype(np.float64)
        magnitude = np.abs(signal.fftconvolve(part, carrier, mode="valid"))
        values[start:end] = signal.fftconvolve(magnitude, smooth, mode="valid")[::step]
    return Envelope(np.maximum(values, 0.0), rate, band)


def _lowpass(rate_hz: float, edge_hz: float, width_hz: float) -> NDArray[np.float64]:
    """Return a low-pass of odd length by Kaiser's window, half amplitude at the edge."""
    length, beta = signal.kaiserord(STOP_DB, 2.0 * width_hz / rate_hz)
    taps: NDArray[np.float64] = signal.firwin(length | 1, edge_hz, window=("kaiser", beta), fs=rate_hz)
    return taps


def _analytic_filter(rate_hz: float, band: Band) -> NDArray[np.complex128]:
    """Return the taps that give the analytic signal of a band: a low-pass moved up to the band's middle."""
    width = min(0.4 * band.low_hz, 0.2 * (band.high_hz - band.low_hz), 0.05 * rate_hz)
    taps = _lowpass(rate_hz, (band.high_hz - band.low_hz) / 2.0, width)
    place = np.arange(len(taps)) - len(taps) // 2
    turned: NDArray[np.complex128] = (
        2.0 * taps * np.exp(1j * np.pi * (band.low_hz + band.high_hz) * place / rate_hz)
    )
    return turned
