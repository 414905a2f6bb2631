"""Figures leave in the units that were asked for."""

from __future__ import annotations

from plantcare.api import units

# NIST SP 811 appendix B.8: 1 lb = 0.453 592 37 kg exactly; from memory.
TABLE = {
    "us": {
        "_kg": ("_lb", lambda kg: kg / 0.45359237),
        "_pa": ("_psi", lambda pa: pa / 6894.757293168),
        "_gauge_pa": ("_psig", lambda pa: pa / 6894.757293168),
    }
}


class TestRendered:
    def in_us(self, document, settings):
        settings.PLANTCARE_UNIT_TABLE = "tests.api.test_api_units.TABLE"
        return units.rendered(document, "us")

    def test_prefers_the_longest_ending(self, settings):
        assert list(self.in_us({"supply_gauge_pa": 6894.757293168}, settings)) == ["supply_psig"]

    def test_converts_each_bound_of_an_interval(self, settings):
        given = {"weight_kg": {"low": 0.45359237, "high": [0.90718474, None]}}
        assert self.in_us(given, settings) == {"weight_lb": {"low": 1.0, "high": [2.0, None]}}

    def test_renames_a_member_without_a_value(self, settings):
        assert self.in_us([{"weight_kg": None}], settings) == [{"weight_lb": None}]

    def test_leaves_text_and_truth_alone(self, settings):
        assert self.in_us({"weight_kg": "unknown", "has_kg": True}, settings) == {
            "weight_lb": "unknown",
            "has_lb": True,
        }

    def test_converts_exact_text_and_gives_text(self, settings):
        assert self.in_us({"weight_kg": "0.45359237"}, settings) == {"weight_lb": "1.0"}

    def test_leaves_what_is_per_unit(self, settings):
        assert self.in_us({"price_per_kg": "1.20"}, settings) == {"price_per_kg": "1.20"}

    def test_leaves_si_untouched(self):
        document = {"weight_kg": 1}
        assert units.rendered(document, "si") is document
