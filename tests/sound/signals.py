"""Sounds by formula, for the checks."""

import numpy as np

from findings.sound.decoding import Recording


def recording(samples, rate=16000, bits=24):
    return Recording(np.asarray(samples, dtype=np.float32), rate, bits)


def clock(seconds, rate):
    return np.arange(round(seconds * rate)) / rate


def noise(seconds, rate=16000, rms=0.05, seed=0):
    return np.random.default_rng(seed).normal(0, rms, round(seconds * rate))


def bursts(seconds, rate, every_hz, tau_s, carrier_hz, height=1.0):
    """Return decaying sine bursts, each beginning afresh: the train of the check cases."""
    since = clock(seconds, rate) % (1.0 / every_hz)
    return height * np.exp(-since / tau_s) * np.sin(2 * np.pi * carrier_hz * since)


def powered(values, rms):
    return values * (rms / np.sqrt(np.mean(np.square(values))))
