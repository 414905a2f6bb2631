"""Invented recordings with known truth, by seed: to prove the analysis with, and to show it.

They follow the published descriptions of each sound, not recordings of it; what works on them is proved to
work as written, not in a plant.
"""

import io
import math
import wave
from collections.abc import Callable, Mapping
from enum import StrEnum
from types import MappingProxyType
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from findings.sound.decoding import Recording

Wave = NDArray[np.float64]

RATE_HZ: Final = 16_000
SECONDS: Final = 10.0
NOISE_RANGE_DB: Final = (12.0, 6.0, 0.0, -6.0)
MAINS_SPREAD: Final = 0.002
QUIET_RMS: Final = 1e-5
HIGHEST_SAMPLE: Final = 0.9


class Truth(StrEnum):
    """What an invented recording holds."""

    CORONA = "corona"
    TRACKING = "tracking"
    ARCING = "arcing"
    HUM = "hum"
    NOISE = "noise"
    BEARING = "bearing with a defect"
    SILENCE = "silence"


def synthetic(
    truth: Truth,
    seed: int,
    *,
    snr_db: float = 6.0,
    mains_hz: float = 50.0,
    defect_hz: float = 107.36,
    seconds: float = SECONDS,
) -> Recording:
    """Return a recording of 16 000 samples a second in 16-bit steps, the same for the same arguments.

    ``snr_db`` is the power of the sound over the power of white noise, over the whole recording and all
    frequencies. Its seed also draws gain, carrier, pulse pattern and the mains' deviation.
    """
    dice = np.random.default_rng([seed, list(Truth).index(truth)])
    count = round(seconds * RATE_HZ)
    noise = dice.normal(size=count)
    if truth is Truth.SILENCE:
        return _written(noise * QUIET_RMS)
    if truth is Truth.NOISE:
        return _written(_scaled(noise, dice))
    mains = mains_hz * (1.0 + dice.uniform(-MAINS_SPREAD, MAINS_SPREAD))
    rhythm = defect_hz if truth is Truth.BEARING else mains
    sound = _MAKERS[truth](dice, count, rhythm)
    sound *= 10.0 ** (snr_db / 20.0) / max(_rms(sound), 1e-12)
    return _written(_scaled(sound + noise, dice))


def wav_bytes(recording: Recording) -> bytes:
    """Return a recording as a plain WAV file of 16 bits, one channel."""
    file = io.BytesIO()
    with wave.open(file, "wb") as writer:
        writer.setnchannels(1)
        writer.setsampwidth(2)
        writer.setframerate(recording.rate_hz)
        writer.writeframes(np.round(recording.samples * 32768.0).clip(-32768, 32767).astype("<i2").tobytes())
    return file.getvalue()


def _written(values: Wave) -> Recording:
    """Return the recording as 16 bits hold it."""
    steps = np.round(values * 32768.0).clip(-32768, 32767)
    return Recording((steps / 32768.0).astype(np.float32), RATE_HZ)


def _scaled(values: Wave, dice: np.random.Generator) -> Wave:
    """Return the sound at a gain that never clips."""
    gain = HIGHEST_SAMPLE * math.pow(10.0, dice.uniform(-1.0, 0.0)) / float(np.abs(values).max())
    return values * gain


def _rms(values: Wave) -> float:
    """Return the root of the mean square."""
    return math.sqrt(float(np.mean(np.square(values))))


def _struck(count: int, times_s: Wave, heights: Wave, tau_s: float, carrier_hz: float) -> Wave:
    """Return decaying bursts of a carrier that begin at these times, in seconds, with these heights."""
    places = np.round(times_s * RATE_HZ).astype(int)
    inside = (places >= 0) & (places < count)
    hits = np.zeros(count)
    np.add.at(hits, places[inside], heights[inside])
    after = np.arange(round(8.0 * tau_s * RATE_HZ) + 1) / RATE_HZ
    ring = np.exp(-after / tau_s) * np.sin(2.0 * math.pi * carrier_hz * after)
    struck: Wave = signal.fftconvolve(hits, ring)[:count]
    return struck


def _groups(
    dice: np.random.Generator, count: int, mains: float, phases: Mapping[float, float]
) -> tuple[Wave, Wave]:
    """Return times and heights of pulse groups at phases of each mains cycle, each with its weight."""
    cycles = np.arange(int(count / RATE_HZ * mains))
    pulses = int(dice.integers(8, 19))
    spacing = dice.uniform(0.0002, 0.0004)
    times, heights = [], []
    for phase, weight in phases.items():
        starts = (cycles + phase) / mains + dice.normal(0.0, 0.0003, len(cycles))
        times.append((starts[:, None] + (np.arange(pulses) - pulses / 2.0) * spacing).ravel())
        heights.append(weight * dice.lognormal(0.0, 0.3, len(cycles) * pulses))
    return np.concatenate(times), np.concatenate(heights)


def _carrier(dice: np.random.Generator) -> float:
    """Return a carrier as a heterodyning detector leaves it."""
    return float(dice.uniform(2_200.0, 4_500.0))


def _corona(dice: np.random.Generator, count: int, mains: float) -> Wave:
    """Return pulses near one voltage peak, or near both and unequal, steady but for a slow swell."""
    other = float(dice.choice([0.0, dice.uniform(0.3, 0.8)]))
    times, heights = _groups(dice, count, mains, {0.75: 1.0, 0.25: other})
    swell = 1.0 + 0.2 * np.sin(2.0 * math.pi * dice.uniform(0.1, 0.6) * times + dice.uniform(0.0, 6.0))
    return _struck(count, times, heights * swell, 0.0003, _carrier(dice))


def _tracking(dice: np.random.Generator, count: int, mains: float) -> Wave:
    """Return pulses on both half cycles that come for tenths of a second and go, each time different."""
    times, heights = _groups(dice, count, mains, {0.2: 1.0, 0.7: float(dice.uniform(0.7, 1.0))})
    gate, start = np.zeros(len(times)), float(dice.uniform(0.1, 0.8))
    while start < count / RATE_HZ:
        end = start + float(dice.uniform(0.15, 0.8))
        gate[(times >= start) & (times < end)] = dice.lognormal(0.0, 0.5)
        start = end + float(dice.uniform(0.4, 1.6))
    return _struck(count, times, heights * gate, 0.0003, _carrier(dice))


def _arcing(dice: np.random.Generator, count: int, _mains: float) -> Wave:
    """Return four to fourteen bursts of noise of 10 to 60 ms at irregular times."""
    sound = np.zeros(count)
    for _ in range(int(dice.integers(4, 15))):
        length = round(float(dice.uniform(0.01, 0.06)) * RATE_HZ)
        start = int(dice.integers(0, count - length))
        sound[start : start + length] += dice.normal(0.0, dice.lognormal(0.0, 0.4), length)
    return sound


def _hum(dice: np.random.Generator, count: int, mains: float) -> Wave:
    """Return a carrier that swells smoothly at the mains and at twice the mains."""
    time = np.arange(count) / RATE_HZ
    first, second = dice.uniform(0.0, 0.3), dice.uniform(0.4, 0.6)
    angle = 2.0 * math.pi * mains * time
    swell = 1.0 + first * np.cos(angle + dice.uniform(0.0, 6.0)) + second * np.cos(2.0 * angle)
    made: Wave = swell * np.sin(2.0 * math.pi * _carrier(dice) * time)
    return made


def _bearing(dice: np.random.Generator, count: int, defect_hz: float) -> Wave:
    """Return bursts at a defect's frequency, a per cent of slip between them, heights that vary."""
    beats = int(count / RATE_HZ * defect_hz)
    periods = dice.normal(1.0, 0.01, beats) / defect_hz
    return _struck(count, np.cumsum(periods), dice.lognormal(0.0, 0.2, beats), 0.0008, 3_000.0)


_MAKERS: Mapping[Truth, Callable[[np.random.Generator, int, float], Wave]] = MappingProxyType(
    {
        Truth.CORONA: _corona,
        Truth.TRACKING: _tracking,
        Truth.ARCING: _arcing,
        Truth.HUM: _hum,
        Truth.BEARING: _bearing,
    }
)
