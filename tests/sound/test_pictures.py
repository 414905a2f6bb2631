"""The picture of a recording: well-formed, true to the samples, readable in grey."""

import base64
import html
import io
import re
import struct
import zlib
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import signal

from findings.sound.bearing import hear_bearing
from findings.sound.decoding import Recording
from findings.sound.discharge_features import hear_discharge
from findings.sound.drawing import Axis, safe
from findings.sound.palette import lightness, loudness_palette
from findings.sound.pictures import RhythmMark, marks_of_hits, marks_of_mains, picture
from findings.sound.png import palette_png
from findings.sound.strength import Reference
from findings.sound.synthetic import Truth, synthetic
from tests.sound.signals import clock, noise, recording

SVG = "{http://www.w3.org/2000/svg}"


def texts(drawn):
    return [element.text for element in ET.fromstring(drawn).iter(f"{SVG}text")]  # noqa: S314 our own document


def level_ticks(drawn, top, foot):
    """Return place and number of each tick on the left of a panel."""
    elements = ET.fromstring(drawn).iter(f"{SVG}text")  # noqa: S314
    left = [one for one in elements if one.get("x") == "57" and top <= float(one.get("y")) - 4 <= foot]
    return [(float(one.get("y")) - 4, float(one.text.replace("\u2212", "-"))) for one in left]


def rasters(drawn):
    hrefs = [element.get("href") for element in ET.fromstring(drawn).iter(f"{SVG}image")]  # noqa: S314
    return [pixels(base64.b64decode(href.removeprefix("data:image/png;base64,"))) for href in hrefs]


def pixels(data):
    """Return a palette picture's rows, read by the format's description and not by its writer."""
    file, parts = io.BytesIO(data), {}
    assert file.read(8) == b"\x89PNG\r\n\x1a\n"
    while head := file.read(8):
        length, name = struct.unpack(">I4s", head)
        parts[name] = file.read(length)
        assert struct.unpack(">I", file.read(4))[0] == zlib.crc32(name + parts[name])
    width, height, depth, kind = struct.unpack(">IIBB", parts[b"IHDR"][:10])
    assert (depth, kind) == (8, 3)
    rows = np.frombuffer(zlib.decompress(parts[b"IDAT"]), dtype=np.uint8).reshape(height, width + 1)
    assert not rows[:, 0].any()
    return rows[:, 1:]


class TestPng:
    def test_holds_the_pixels(self):
        shown = pixels(palette_png(3, 2, bytes([0, 1, 2, 2, 1, 0]), [(0, 0, 0), (9, 9, 9), (255, 255, 255)]))

        assert shown.tolist() == [[0, 1, 2], [2, 1, 0]]

    @pytest.mark.parametrize(
        ("size", "count", "colours"), [((2, 2), 3, 1), ((0, 1), 0, 1), ((1, 1), 1, 0), ((1, 1), 1, 257)]
    )
    def test_wants_what_fits_together(self, size, count, colours):
        with pytest.raises(ValueError, match="pixel"):
            palette_png(*size, bytes(count), [(0, 0, 0)] * colours)


class TestPalette:
    def test_steps_evenly_in_lightness(self):
        steps = -np.diff([lightness(colour) for colour in loudness_palette(48)])

        assert steps.min() > 0.5 * steps.mean()
        assert steps.max() < 1.5 * steps.mean()

    @pytest.mark.parametrize(
        ("colour", "expected"), [((255, 255, 255), 100), ((0, 0, 0), 0), ((119, 119, 119), 50)]
    )
    def test_lightness_is_the_standards(self, colour, expected):
        assert lightness(colour) == pytest.approx(expected, abs=0.1)


class TestAxis:
    @given(st.floats(-1e3, 1e3), st.floats(1e-3, 1e6), st.integers(2, 12))
    def test_ticks_lie_on_it(self, low, width, most):
        axis = Axis(low, low + width, "s")
        ticks = axis.ticks(most)

        assert 1 <= len(ticks) <= most + 1
        assert all(axis.low - 1e-6 * width <= tick <= axis.high + 1e-6 * width for tick in ticks)

    def test_without_a_round_value_the_ends_are_ticks(self):
        assert Axis(1.0, 4.2, "s").ticks(1) == (1.0, 4.2)

    def test_ticks_are_round(self):
        assert Axis(0, 10.2, "s").ticks(10) == (0, 2, 4, 6, 8, 10)


class TestPicture:
    def test_states_the_unit_of_every_axis(self):
        heard = hear_bearing(synthetic(Truth.BEARING, 1))
        drawn = picture(
            synthetic(Truth.BEARING, 1),
            title="Extract fan 2",
            reference=Reference(114.0, 1.0, "dB re 20 µPa"),
            rhythm=heard.spectrum,
            marks=[RhythmMark(107.4, "outer ring ×1")],
        )

        shown = " ".join(texts(drawn))
        for words in (
            "10 s",
            "kHz",
            "600 Hz",
            "% of full scale",
            "dB re 20 µPa",
            "above the surroundings",
            "outer ring ×1",
        ):
            assert words in shown

    def test_names_the_lines_of_the_part_that_beats(self):
        made = synthetic(Truth.BEARING, 1)
        heard = hear_bearing(made, parts_hz={"outer ring": 107.0, "cage": 12.0})
        shown = texts(picture(made, title="t", rhythm=heard.spectrum, marks=marks_of_hits(heard.hits)))

        assert {"outer ring ×1", "outer ring ×5"} <= set(shown)
        assert not any(words.startswith("cage") for words in shown if words)

    def test_names_the_mains_and_its_multiples(self):
        made = synthetic(Truth.CORONA, 1)
        heard = hear_discharge(made)
        marks = marks_of_mains(heard.features.mains_hz)
        shown = texts(picture(made, title="t", rhythm=heard.spectrum, marks=marks))

        assert {f"×{order}" for order in range(2, 11)} <= set(shown)

    def test_shows_a_tone_where_it_is(self):
        tone = 0.5 * np.sin(2 * np.pi * 3000 * clock(6, 16000))
        tone[: 3 * 16000] = 0
        shades = rasters(picture(recording(tone), title="tone"))[0]

        loudest = np.argmax(shades[:, shades.shape[1] * 3 // 4])
        assert (1 - loudest / shades.shape[0]) * 8000 == pytest.approx(3000, abs=60)
        assert shades[:, : shades.shape[1] // 3].max() == 0

    def test_keeps_a_single_burst_visible(self):
        samples = noise(60, rms=0.001)
        samples[500_000:500_100] += noise(100 / 16000, rms=0.3)
        shades = rasters(picture(recording(samples), title="burst"))[0].astype(int)

        columns = shades.mean(axis=0)
        assert int(np.argmax(columns)) == pytest.approx(500_000 / 960_000 * len(columns), abs=2)

    def test_spectrum_is_scipys(self):
        samples = noise(6) + 0.2 * np.sin(2 * np.pi * 2500 * clock(6, 16000))
        drawn = picture(recording(samples), title="spectrum")
        _, power = signal.welch(samples, 16000, nperseg=4096, detrend=False)
        theirs = 10 * np.log10(power[:2048].reshape(-1, 2).max(axis=1) * 16000 / 4096)

        curve = re.findall(r'<path d="M([^"]+)" fill="none"', drawn)[0].split("L")
        heights = np.array([float(place.split()[1]) for place in curve])[:1024]
        places, levels = np.array(level_ticks(drawn, 540, 690)).T
        ours = np.polynomial.Polynomial.fit(places, levels, 1)(heights)
        np.testing.assert_allclose(ours[2:], theirs[2:], atol=0.15)

    def test_escapes_and_shortens_texts(self):
        drawn = picture(recording(noise(1)), title='<script>&"\x00' + "x" * 500)

        assert max(len(text) for text in texts(drawn)) <= 120
        assert "<script" not in drawn

    @settings(max_examples=40)
    @given(
        st.lists(st.floats(-1, 1, width=32), min_size=1, max_size=3000),
        st.sampled_from([8000, 44100, 500_000]),
        st.text(max_size=200),
    )
    def test_is_well_formed_for_any_samples_and_words(self, samples, rate, words):
        drawn = picture(Recording(np.array(samples, dtype=np.float32), rate), title=words, note=words)

        assert "nan" not in " ".join(re.findall(r' (?:d|x|y|x1|y2)="([^"]*)"', drawn))
        assert (texts(drawn)[0] or "") == html.unescape(safe(words))

    def test_stays_small(self):
        assert len(picture(recording(noise(60)), title="a minute of noise")) < 400_000
