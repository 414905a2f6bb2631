"""Which finding is a safety finding."""

import itertools

import pytest

from findings.kinds.base import FUEL_GASES, Hazard, Kind, Medium
from findings.kinds.hazards import hazard


class TestHazard:
    @pytest.mark.parametrize(
        ("kind", "medium", "expected", "safety"),
        [
            (Kind.PRESSURE_LEAK, Medium.COMPRESSED_AIR, Hazard.PRESSURE, False),
            (Kind.PRESSURE_LEAK, Medium.NATURAL_GAS, Hazard.GAS, True),
            (Kind.PRESSURE_LEAK, Medium.OXYGEN, Hazard.OXYGEN, True),
            (Kind.PRESSURE_LEAK, Medium.NITROGEN, Hazard.INERT, True),
            (Kind.PRESSURE_LEAK, Medium.STEAM, Hazard.STEAM, True),
            (Kind.PRESSURE_LEAK, Medium.OTHER, Hazard.GAS, True),
            (Kind.VACUUM_LEAK, Medium.VACUUM, Hazard.VACUUM, False),
            (Kind.ENCLOSURE_LEAK, None, Hazard.NONE, False),
            (Kind.ENCLOSURE_LEAK, Medium.NATURAL_GAS, Hazard.GAS, True),
            (Kind.MECHANICAL_WEAR, None, Hazard.ROTATION, False),
            (Kind.ELECTRICAL_DISCHARGE, None, Hazard.ELECTRICAL, True),
        ],
    )
    def test_is(self, kind, medium, expected, safety):
        assert hazard(kind, medium) == (expected, safety)

    @pytest.mark.parametrize("medium", sorted(FUEL_GASES))
    def test_of_a_fuel_gas_leak_is_always_safety(self, medium):
        assert hazard(Kind.PRESSURE_LEAK, medium).safety

    @pytest.mark.parametrize(("kind", "medium"), list(itertools.product(Kind, [None, *Medium])))
    def test_exists_for_every_pair(self, kind, medium):
        assert hazard(kind, medium).hazard in Hazard
