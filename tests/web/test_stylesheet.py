"""The inks can be read: contrast after WCAG 2.2, success criteria 1.4.3 (text) and 1.4.11 (controls)."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

SHEETS = Path(__file__).parents[2] / "plantcare/web/static/plantcare_web"
PAGE = (SHEETS / "page.css").read_text()


def inks(mode: str) -> dict[str, str]:
    """Return the colours of the light or the dark page."""
    light, dark = (dict(re.findall(r"--([\w-]+): (#\w{6});", part)) for part in PAGE.split("dark) {")[:2])
    return light if mode == "light" else {**light, **dark}


def luminance(colour: str) -> float:
    """Return the relative luminance as WCAG 2.2 defines it."""
    shares = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (s / 12.92 if s <= 0.04045 else ((s + 0.055) / 1.055) ** 2.4 for s in shares)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio as WCAG 2.2 defines it: 1 to 21."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


class TestContrast:
    def test_is_reckoned_as_the_standard_does(self):
        assert contrast("#ffffff", "#000000") == pytest.approx(21.0)

    @pytest.mark.parametrize("mode", ["light", "dark"])
    @pytest.mark.parametrize(
        ("ink", "ground"),
        [
            ("ink", "paper"),
            ("ink-2", "paper"),
            ("accent", "paper"),
            ("ink", "wash"),
            ("ink-2", "wash"),
            ("accent", "wash"),
            ("accent-ink", "accent"),
        ],
    )
    def test_of_text_is_four_and_a_half_at_least(self, mode, ink, ground):
        colours = inks(mode)

        assert contrast(colours[ink], colours[ground]) >= 4.5

    @pytest.mark.parametrize("mode", ["light", "dark"])
    def test_of_a_fields_edge_is_three_at_least(self, mode):
        colours = inks(mode)

        assert contrast(colours["line-2"], colours["paper"]) >= 3.0


class TestSheets:
    @pytest.mark.parametrize("sheet", ["page.css", "parts.css", "narrow.css"])
    def test_fetch_nothing_from_elsewhere(self, sheet):
        text = (SHEETS / sheet).read_text()

        assert "url(" not in text
        assert "@import" not in text
