"""The laws of calibration leaks are the database's own."""

from __future__ import annotations

import pytest
from django.db import IntegrityError, connection

from findings.calibration.models import CalibrationLeak
from tests.findings.chain import Plant
from tests.makers import NOW, make_calibration_leak, make_instrument

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("values", "law"),
    [
        ({"level_db": 300.0}, "level_plausible"),
        ({"normalised_level_db": -60.0}, "level_plausible"),
        ({"background_db": 64.0}, "above_background"),
        ({"distance_m": 0.05}, "distance_in_range"),
        ({"pressure_ratio": 1.0}, "under_pressure"),
        ({"flow_m3_per_s": 0.0}, "flow_measured"),
        ({"flow_u_m3_per_s": 0.0}, "flow_measured"),
        ({"flow_u_m3_per_s": 2e-5}, "flow_measured"),
        ({"attachment": "contact_probe"}, "heard_through_air"),
        ({"flow_method": "stated"}, "method_direct"),
        ({"air_temperature_k": 20.0}, "air_temperature"),
        ({"relative_humidity": 45.0}, "humidity_a_share"),
        ({"band_centre_hz": 40.0}, "band_plausible"),
        ({"void_at": NOW}, "void_has_reason"),
        ({"void_reason": "wrong"}, "void_has_reason"),
    ],
)
def test_a_leak_that_teaches_nothing_is_refused_by_the_database(values, law):
    with pytest.raises(IntegrityError, match=f"calibration_leak_{law}"):
        make_calibration_leak(**values)


def test_a_leak_is_never_deleted():
    make_calibration_leak()

    with pytest.raises(IntegrityError, match="never deleted"):
        CalibrationLeak.objects.all()._raw_delete("default")


def test_a_leak_is_not_changed():
    make_calibration_leak()

    with pytest.raises(IntegrityError, match="only added"):
        CalibrationLeak.objects.update(flow_m3_per_s=4e-5)


def test_a_leak_is_voided_once():
    make_calibration_leak(void_at=NOW, void_reason="another nozzle")

    with pytest.raises(IntegrityError, match="set only once"):
        CalibrationLeak.objects.update(void_reason="the same nozzle after all")


def test_a_reading_teaches_once():
    plant = Plant()
    tool, reading = make_instrument(plant.site), plant.take(level_db=40.0).reading
    make_calibration_leak(tool, reading=reading)

    with pytest.raises(IntegrityError, match="once_per_reading"):
        make_calibration_leak(tool, reading=reading)


@pytest.mark.parametrize("foreign", ["instrument", "reading"])
def test_a_leak_names_nothing_of_another_site(foreign):
    here, there = Plant(), Plant()
    elsewhere = {"instrument": make_instrument(there.site), "reading": there.take(level_db=40.0).reading}
    named = {"instrument": make_instrument(here.site), foreign: elsewhere[foreign]}

    make_calibration_leak(**named, site_id=here.site.pk)

    with pytest.raises(IntegrityError, match="same_site"), connection.cursor() as cursor:
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
