"""One picture of a recording: its course, its frequencies over time, its spectrum, and its rhythm."""

import base64
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from findings.sound.decoding import Recording
from findings.sound.drawing import FONT, INK, INK_2, PAPER, TRACE, Axis, Panel, label, safe, tag
from findings.sound.envelope_spectrum import EnvelopeSpectrum, local_floor
from findings.sound.palette import loudness_palette
from findings.sound.png import palette_png
from findings.sound.rhythm import Hit, Match
from findings.sound.strength import FULL_SCALE, Reference

Numbers = NDArray[np.float64]

WIDTH: Final = 960.0
LEFT: Final = 64.0
INNER: Final = 800.0
COLUMNS: Final = 800
SHADES: Final = 48
SHORT_WINDOW: Final = 512
LONG_WINDOW: Final = 4096
BATCH: Final = 64
SHOWN_DB: Final = 70.0
PALE_PERCENT: Final = 30.0
QUIETEST: Final = 1e-20
RHYTHM_SIDE_BINS: Final = 15
HIGHEST_RHYTHM_HZ: Final = 600.0
MOST_MARKS: Final = 12


class RhythmMark(NamedTuple):
    """A frequency of the envelope spectrum that the picture names."""

    frequency_hz: float
    words: str


def marks_of_hits(hits: Iterable[Hit]) -> tuple[RhythmMark, ...]:
    """Return a mark for every line of a part that was found."""
    found = (hit for hit in hits if hit.match is Match.FOUND)
    return tuple(
        RhythmMark(one.frequency_hz, f"{hit.name} ×{one.order}") for hit in found for one in hit.harmonics
    )


def marks_of_mains(mains_hz: float) -> tuple[RhythmMark, ...]:
    """Return a mark for each of the first ten multiples of the mains frequency."""
    first = RhythmMark(mains_hz, f"mains {mains_hz:.1f} Hz")
    return first, *(RhythmMark(order * mains_hz, f"×{order}") for order in range(2, 11))


def picture(
    recording: Recording,
    *,
    title: str,
    note: str = "",
    reference: Reference = FULL_SCALE,
    rhythm: EnvelopeSpectrum | None = None,
    marks: Sequence[RhythmMark] = (),
) -> str:
    """Return an SVG document of about 960 by 800 units, a few hundred kilobytes, that stands on its own.

    ``rhythm`` adds the envelope spectrum, up to 600 Hz, with ``marks`` named in it. Colours carry meaning by
    lightness only. Memory: some megabytes beside the recording.
    """
    middle = np.float32(recording.samples.mean(dtype=np.float64))
    recording = replace(recording, samples=recording.samples - middle)
    parts = [_course(recording), _over_time(recording, reference), _spectrum(recording, reference)]
    height = 750.0
    if rhythm is not None:
        parts.append(_rhythm(rhythm, marks))
        height += 220.0
    shown = f"{recording.seconds:.1f} s at {recording.rate_hz / 1000:g} thousand samples a second"
    return tag(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "viewBox": f"0 0 {WIDTH:.0f} {height:.0f}",
            "width": WIDTH,
            "height": height,
            "role": "img",
            "aria-label": f"{safe(title)}: course, frequencies over time and spectrum of the recording",
            "font-family": FONT,
        },
        tag("title", {"lang": "en"}, safe(title)),
        tag("rect", {"width": "100%", "height": "100%", "fill": PAPER}),
        label(LEFT, 34, title, font_size=19.0, font_weight="600", fill=INK),
        label(LEFT, 56, f"{shown} · {note}" if note else shown),
        *parts,
    )


def _course(recording: Recording) -> str:
    """Return the panel of lowest and highest samples over time."""
    samples = recording.samples
    edges = np.unique(np.linspace(0, len(samples), min(COLUMNS, len(samples)) + 1).astype(int))
    low, high = np.minimum.reduceat(samples, edges[:-1]), np.maximum.reduceat(samples, edges[:-1])
    most = max(float(np.abs(samples).max()), 1e-6) * 100.0
    panel = Panel(
        "Course",
        LEFT,
        98.0,
        INNER,
        92.0,
        Axis(0.0, recording.seconds, "s"),
        Axis(-most, most, "% of full scale"),
    )
    times = (edges[:-1] + edges[1:]) / (2.0 * recording.rate_hz)
    upper = [f"{panel.x(t):.1f} {panel.y(v * 100.0):.1f}" for t, v in zip(times, high, strict=True)]
    lower = [f"{panel.x(t):.1f} {panel.y(v * 100.0):.1f}" for t, v in zip(times, low, strict=True)]
    path = "M" + "L".join(upper + lower[::-1]) + "Z"
    return panel.frame(tag("path", {"d": path, "fill": TRACE, "stroke": TRACE, "stroke-width": 0.8}))


def _over_time(recording: Recording, reference: Reference) -> str:
    """Return the spectrogram's panel with its scale of shades beside it."""
    levels = _spectrogram(recording) + reference.db_at_full_scale
    high = float(np.ceil(levels.max() / 5.0) * 5.0)
    low = max(high - SHOWN_DB, float(np.floor(np.percentile(levels, PALE_PERCENT) / 5.0) * 5.0))
    low = min(low, high - 10.0)
    shade = np.clip((levels - low) / (high - low) * (SHADES - 1), 0, SHADES - 1).round().astype(np.uint8)
    raster = np.ascontiguousarray(shade.T[::-1])
    image = _raster(raster.shape[1], raster.shape[0], raster.tobytes(), LEFT, 248.0, INNER, 220.0)
    panel = Panel(
        "Frequencies over time, the darker the louder",
        LEFT,
        248.0,
        INNER,
        220.0,
        Axis(0.0, recording.seconds, "s"),
        Axis(0.0, recording.rate_hz / 2000.0, "kHz"),
    )
    bar = bytes(range(SHADES - 1, -1, -1))
    scale = Axis(low, high, reference.unit)
    numbers = [
        label(896, 472 - 220 * scale.share(v), f"{v:.0f}".replace("-", "\u2212")) for v in scale.ticks(5)
    ]
    return (
        panel.frame(image)
        + _raster(1, SHADES, bar, 876.0, 248.0, 14.0, 220.0)
        + "".join(numbers)
        + label(876, 239, "dB")
    )


def _raster(width: int, height: int, pixels: bytes, x: float, y: float, wide: float, tall: float) -> str:
    """Return a raster, stretched over a place of the picture."""
    data = base64.b64encode(palette_png(width, height, pixels, loudness_palette(SHADES))).decode("ascii")
    return tag(
        "image",
        {
            "href": f"data:image/png;base64,{data}",
            "x": x,
            "y": y,
            "width": wide,
            "height": tall,
            "preserveAspectRatio": "none",
        },
    )


def _spectrum(recording: Recording, reference: Reference) -> str:
    """Return the panel of the mean level over frequency."""
    length = min(LONG_WINDOW, len(recording.samples))
    total, count = np.zeros(length // 2 + 1), 0
    for powers in _powers(recording.samples, length, length // 2):
        total += powers.sum(axis=0)
        count += len(powers)
    levels = _decibels(total / max(count, 1)) + reference.db_at_full_scale
    bin_hz = recording.rate_hz / length
    high = float(np.ceil(levels.max() / 10.0) * 10.0)
    low = max(float(np.floor(levels[1:].min() / 10.0) * 10.0) if length > 2 else high - 10.0, high - 100.0)
    panel = Panel(
        "Spectrum",
        LEFT,
        540.0,
        INNER,
        150.0,
        Axis(0.0, recording.rate_hz / 2000.0, "kHz"),
        Axis(min(low, high - 10.0), high, f"{reference.unit}, in every {bin_hz:.3g} Hz"),
    )
    step = max(1, len(levels) // COLUMNS)
    places = range(0, len(levels), step)
    points = [(k * bin_hz / 1000.0, float(levels[k : k + step].max())) for k in places]
    return panel.frame(panel.curve(points))


def _rhythm(spectrum: EnvelopeSpectrum, marks: Sequence[RhythmMark]) -> str:
    """Return the panel of the envelope's spectrum, above its surroundings, with names at its lines."""
    last = min(round(HIGHEST_RHYTHM_HZ / spectrum.bin_hz), len(spectrum.power) - 1)
    power = spectrum.power[: last + 1]
    above = 10.0 * np.log10(np.maximum(power / local_floor(power, RHYTHM_SIDE_BINS), 1e-1))
    high = max(10.0, float(np.ceil(above[2:].max(initial=0.0) / 10.0) * 10.0))
    panel = Panel(
        "Rhythm: spectrum of the envelope",
        LEFT,
        760.0,
        INNER,
        150.0,
        Axis(0.0, last * spectrum.bin_hz, "Hz"),
        Axis(0.0, high, "dB above the surroundings"),
    )
    points = [(k * spectrum.bin_hz, float(above[k])) for k in range(2, last + 1)]
    return panel.frame(panel.curve(points), *_named(panel, marks))


def _named(panel: Panel, marks: Sequence[RhythmMark]) -> Iterator[str]:
    """Yield a dashed line and a name for each mark, the names on three levels so that they don't collide."""
    for number, mark in enumerate(sorted(marks)[:MOST_MARKS]):
        x, y = panel.x(mark.frequency_hz), panel.top + 12.0 + 14.0 * (number % 3)
        dash = {"x1": x, "y1": panel.top, "x2": x, "y2": panel.top + panel.height}
        yield tag("line", {**dash, "stroke": INK_2, "stroke-width": 1.0, "stroke-dasharray": "3 3"})
        yield label(x + 4, y, mark.words, font_size=11.0, fill=INK, paint_order="stroke", stroke=PAPER)


def _spectrogram(recording: Recording) -> Numbers:
    """Return levels in dB re full scale, one row for each stretch of time, the loudest window of each."""
    samples = recording.samples
    length = min(SHORT_WINDOW, len(samples))
    stretch = max(length // 2, -(-len(samples) // COLUMNS))
    rows = []
    for start in range(0, max(1, len(samples) - length + 1), stretch):
        part = samples[start : start + stretch + length // 2]
        loudest = [powers.max(axis=0) for powers in _powers(part, length, length // 2)]
        rows.append(np.max(loudest, axis=0) if loudest else np.zeros(length // 2 + 1))
    return _decibels(np.array(rows))


def _decibels(power: Numbers) -> Numbers:
    """Return levels of powers."""
    levels: Numbers = 10.0 * np.log10(np.maximum(power, QUIETEST))
    return levels


def _powers(samples: NDArray[np.float32], length: int, hop: int) -> Iterator[Numbers]:
    """Yield the mean square in each frequency bin for Hann windows, some windows at a time.

    Shape of each: windows by ``length // 2 + 1`` bins; the bins of a window sum to its mean square.
    """
    if len(samples) < length or length < 2:
        return
    window = np.hanning(length + 1)[:length]
    scale = 2.0 / (length * float(np.square(window).sum()))
    views = np.lib.stride_tricks.sliding_window_view(samples, length)[:: max(1, hop)]
    for start in range(0, len(views), BATCH):
        spectra = np.fft.rfft(views[start : start + BATCH] * window, axis=1)
        powers: Numbers = np.square(np.abs(spectra)) * scale
        yield powers
