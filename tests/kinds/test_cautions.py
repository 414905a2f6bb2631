"""Cautions: present where work can hurt, deferring to local codes, never weakened by a site."""

import itertools

import pytest

from findings.kinds.base import Kind, Medium
from findings.kinds.cautions import CAUTIONS, Caution, cautions, with_site_cautions
from findings.kinds.hazards import hazard
from findings.physics.safety import CautionKey


class TestCautions:
    @pytest.mark.parametrize("key", list(CautionKey))
    def test_have_a_text_for_every_key(self, key):
        assert CAUTIONS[key].key == key.value

    @pytest.mark.parametrize("caution", CAUTIONS.values(), ids=lambda caution: caution.key)
    def test_defer_to_rules_or_trained_people(self, caution):
        words = ("local code", "site", "trained", "qualified")

        assert any(word in caution.text for word in words)

    @pytest.mark.parametrize(
        ("kind", "medium", "first"),
        [
            (Kind.PRESSURE_LEAK, Medium.NATURAL_GAS, "fuel_gas"),
            (Kind.PRESSURE_LEAK, Medium.OXYGEN, "oxygen"),
            (Kind.PRESSURE_LEAK, Medium.ARGON, "inert_gas"),
            (Kind.PRESSURE_LEAK, Medium.OTHER, "unknown_gas"),
            (Kind.PRESSURE_LEAK, Medium.COMPRESSED_AIR, "pressure_jet"),
            (Kind.ELECTRICAL_DISCHARGE, None, "electrical"),
            (Kind.MECHANICAL_WEAR, None, "rotation"),
            (Kind.ENCLOSURE_LEAK, None, "tone_source"),
        ],
    )
    def test_begin_with_the_most_urgent(self, kind, medium, first):
        assert cautions(kind, medium)[0].key == first

    @pytest.mark.parametrize(("kind", "medium"), list(itertools.product(Kind, [None, *Medium])))
    def test_are_shown_for_every_safety_finding(self, kind, medium):
        assert cautions(kind, medium) or not hazard(kind, medium).safety

    def test_of_a_machine_keep_the_probe_outside_its_guards(self):
        texts = {caution.key: caution.text for caution in cautions(Kind.MECHANICAL_WEAR, None)}

        assert "never reach through" in texts["contact_probe"]

    def test_of_an_enclosure_are_each_said_once(self):
        keys = [caution.key for caution in cautions(Kind.ENCLOSURE_LEAK, Medium.NATURAL_GAS)]

        assert keys.count("confined_space") == 1

    def test_of_every_gas_say_that_ultrasound_is_no_gas_test(self):
        keys = {caution.key for caution in cautions(Kind.PRESSURE_LEAK, Medium.HYDROGEN)}

        assert "not_a_gas_test" in keys


class TestSiteCautions:
    def test_come_after_ours(self):
        own = cautions(Kind.PRESSURE_LEAK, Medium.NATURAL_GAS)
        site = Caution("gas_contact", "Call the boiler house, extension 112.", "site rule")

        assert with_site_cautions(own, [site]) == (*own, site)

    def test_cannot_replace_ours(self):
        own = cautions(Kind.PRESSURE_LEAK, Medium.NATURAL_GAS)
        weaker = Caution("fuel_gas", "No worries.", "site rule")

        assert with_site_cautions(own, [weaker])[: len(own)] == own
