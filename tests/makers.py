"""Make things for tests: one plain function per thing, every value overridable, codes unique by themselves.

Rows are written directly, without the acts that would record them, so that a test starts from a quiet
logbook. The plant is invented: Tarnbeck Biscuit Works and its second site, Corran Mill.
"""

from __future__ import annotations

import hashlib
import io
import itertools
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from findings.calibration.models import CalibrationLeak
from findings.detectors.models import Instrument
from findings.kinds.base import Kind, Medium
from findings.kinds.tariff_reading import table_of
from findings.physics.level_form import LeakFamily
from findings.plant.models import Area, Asset, MeasuringPoint, Site
from findings.plant.rules import Method
from findings.readings.models import Reading
from findings.readings.rules import Attachment, DirectMethod, NewReading
from findings.recordings import files
from findings.recordings.models import Recording, RecordingAnalysis
from findings.recordings.rules import ANALYSIS_VERSION, PICTURE_ENDING, RecordingState
from findings.routes.models import Route, Stop, VisitRequest
from findings.routes.rules import VisitReason
from findings.supply.models import Compressor, Connection, DatedValue, LeakTest, SupplySystem, TariffTable
from findings.supply.rules import ControlType, LeakTestMethod, Quantity, plain_bands
from findings.surveys.models import Survey
from tests.sounds import wav

NOW = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
"""A Monday morning; the moment of everything that a test does not date itself."""

LONG_AGO = datetime(2024, 1, 1, tzinfo=UTC)
"""Before everything else: from when prices hold."""

_numbers = itertools.count(1)


def number() -> int:
    """Return a number that no call returned before."""
    return next(_numbers)


def make_site(code: str = "", **values: Any) -> Site:
    """Make a site in Berlin that pays in EUR."""
    given = {"name": "Tarnbeck Biscuit Works", "time_zone": "Europe/Berlin", "currency": "EUR"}
    return Site.objects.create(code=code or f"TBW{number()}", created_at=LONG_AGO, **{**given, **values})


def make_us_site(code: str = "", **values: Any) -> Site:
    """Make a site in Chicago that pays in USD and reads US units."""
    given = {
        "name": "Corran Mill",
        "time_zone": "America/Chicago",
        "currency": "USD",
        "unit_system": Site.UnitSystem.US,
    }
    return make_site(code or f"CML{number()}", **{**given, **values})


def make_area(site: Site | None = None, **values: Any) -> Area:
    """Make an area."""
    n = number()
    given = {"code": f"H{n}", "name": "Wrapping hall", "created_at": LONG_AGO}
    return Area.objects.create(site=site or make_site(), **{**given, **values})


def make_asset(
    site: Site | None = None, area: Area | None = None, parent: Asset | None = None, **values: Any
) -> Asset:
    """Make an asset; its site and area come from the parent or the area where one is given."""
    if parent is not None:
        site, area = site or parent.site, area or parent.area
    area = area or make_area(site)
    given = {"code": f"WR-{number()}", "name": "Flow wrapper", "created_at": LONG_AGO}
    return Asset.objects.create(site=site or area.site, area=area, parent=parent, **{**given, **values})


def make_point(site: Site | None = None, asset: Asset | None = None, **values: Any) -> MeasuringPoint:
    """Make a measuring point where the detector is pointed through the air."""
    asset = asset or make_asset(site)
    given = {"code": f"P-{number()}", "method": Method.AIRBORNE, "created_at": LONG_AGO}
    return MeasuringPoint.objects.create(site=asset.site, asset=asset, **{**given, **values})


def make_system(site: Site | None = None, **values: Any) -> SupplySystem:
    """Make a compressed-air network at 6 bar gauge."""
    given = {
        "code": f"AIR{number()}",
        "name": "Compressed air",
        "medium": Medium.COMPRESSED_AIR,
        "pressure_gauge_pa": 600_000.0,
        "created_at": LONG_AGO,
    }
    return SupplySystem.objects.create(site=site or make_site(), **{**given, **values})


def make_connection(asset: Asset, system: SupplySystem) -> Connection:
    """Feed an asset from a system."""
    return Connection.objects.create(site=asset.site, asset=asset, system=system, created_at=LONG_AGO)


def make_compressor(system: SupplySystem | None = None, **values: Any) -> Compressor:
    """Make a screw compressor of 10 m³/min and 60 kW that loads and unloads."""
    system = system or make_system()
    given = {
        "code": f"C{number()}",
        "control": ControlType.LOAD_UNLOAD,
        "rated_flow_m3_per_s": 10 / 60,
        "rated_power_w": 60_000.0,
        "created_at": LONG_AGO,
    }
    return Compressor.objects.create(site=system.site, system=system, **{**given, **values})


def make_value(
    site: Site,
    quantity: Quantity,
    value: Decimal | str,
    *,
    system: SupplySystem | None = None,
    **values: Any,
) -> DatedValue:
    """Make a price or factor in force since long ago; money is in the site's currency."""
    money = "price" in quantity.value
    given = {
        "from_at": LONG_AGO,
        "recorded_at": LONG_AGO,
        "source": "supply contract",
        "currency": site.currency if money else "",
        "source_year": 2024 if quantity is Quantity.GRID_FACTOR_KG_PER_KWH else None,
    }
    return DatedValue.objects.create(
        site=site, system=system, quantity=quantity, value=Decimal(value), **{**given, **values}
    )


def make_tariff_table(
    site: Site, *, name: str = "day", day: str = "0.30", rest: str = "0.10", **values: Any
) -> TariffTable:
    """Make a table in force since long ago: one price from 06:00 to 22:00 of working days, another else."""
    work, whole = ["mon", "tue", "wed", "thu", "fri"], [{"start": "00:00", "end": "24:00"}]
    night = [{"start": "00:00", "end": "06:00"}, {"start": "22:00", "end": "24:00"}]
    bands = [
        {"name": name, "price_per_kwh": day, "days": work, "windows": [{"start": "06:00", "end": "22:00"}]},
        {"name": f"{name} night", "price_per_kwh": rest, "days": work, "windows": night},
        {"name": f"{name} rest", "price_per_kwh": rest, "days": ["sat", "sun", "holiday"], "windows": whole},
    ]
    given = {
        "from_at": LONG_AGO,
        "recorded_at": LONG_AGO,
        "source": "supply contract",
        "currency": site.currency,
        "bands": plain_bands(table_of(bands)),
    }
    return TariffTable.objects.create(site=site, **{**given, **values})


def make_priced_system(site: Site | None = None, **values: Any) -> SupplySystem:
    """Make a compressed-air network whose loss can be priced: 0.20 per kWh, 6 kW per m³/min, all the time."""
    system = make_system(site, **values)
    make_value(system.site, Quantity.ELECTRICITY_PRICE_PER_KWH, "0.20")
    make_value(system.site, Quantity.GRID_FACTOR_KG_PER_KWH, "0.40")
    make_value(system.site, Quantity.SPECIFIC_ENERGY_J_PER_M3, "360000", system=system)
    make_value(system.site, Quantity.PRESSURISED_SHARE, "1", system=system)
    return system


def make_leak_test(system: SupplySystem | None = None, **values: Any) -> LeakTest:
    """Make a metered base flow of 36 m³/h with 5 % standard uncertainty, taken at NOW."""
    system = system or make_system()
    flow = values.get("flow_m3_per_s", 0.010)
    given = {
        "method": LeakTestMethod.BASE_FLOW,
        "method_version": "1",
        "taken_at": NOW,
        "recorded_at": NOW,
        "pressure_gauge_pa": system.pressure_gauge_pa,
        "flow_m3_per_s": flow,
        "u_m3_per_s": 0.05 * flow,
        "low_m3_per_s": 0.9 * flow,
        "high_m3_per_s": 1.1 * flow,
        "inputs": {},
        "as_sent": {"flow_m3_per_s": flow},
        "source": "flow meter behind the receivers",
    }
    return LeakTest.objects.create(site=system.site, system=system, **{**given, **values})


def make_instrument(site: Site | None = None, **values: Any) -> Instrument:
    """Make a detector whose calibration holds at NOW."""
    given = {
        "code": f"D{number()}",
        "name": "Ultrasound detector",
        "calibration_due_on": date(2027, 1, 1),
        "created_at": LONG_AGO,
    }
    return Instrument.objects.create(site=site or make_site(), **{**given, **values})


def make_calibration_leak(instrument: Instrument | None = None, **values: Any) -> CalibrationLeak:
    """Make a leak of 60 dB and 2 l/min at 7 bar absolute, heard at a nozzle with the open horn."""
    instrument = instrument or make_instrument()
    given: dict[str, Any] = {
        "attachment": Attachment.OPEN_HORN,
        "gas": "air",
        "leak_family": LeakFamily.HOLE,
        "taken_at": LONG_AGO,
        "level_db": 66.0,
        "distance_m": 0.5,
        "air_pressure_pa": 101_325.0,
        "normalised_level_db": 60.0,
        "pressure_ratio": 7.0,
        "flow_m3_per_s": 2.0 / 60_000,
        "flow_u_m3_per_s": 0.06 / 60_000,
        "flow_method": DirectMethod.FLOW_METER,
        "recorded_at": LONG_AGO,
    }
    given |= {"site_id": instrument.site_id, "instrument": instrument}
    return CalibrationLeak.objects.create(**{**given, **values})


def make_route(site: Site | None = None, points: list[MeasuringPoint] | None = None, **values: Any) -> Route:
    """Make a route that stops at the points in their order."""
    points = points or []
    site = site or (points[0].site if points else make_site())
    given = {"code": f"R{number()}", "name": "Wrapping hall, Mondays", "created_at": LONG_AGO}
    route = Route.objects.create(site=site, **{**given, **values})
    Stop.objects.bulk_create(
        Stop(site=site, route=route, position=position, point=point)
        for position, point in enumerate(points, start=1)
    )
    return route


def make_visit(point: MeasuringPoint, **values: Any) -> VisitRequest:
    """Make a wish that a point be visited."""
    given = {
        "reason": VisitReason.REQUESTED,
        "origin": f"test:{number()}",
        "due_on": date(2026, 3, 31),
        "created_at": NOW,
    }
    return VisitRequest.objects.create(site=point.site, point=point, **{**given, **values})


def make_survey(site: Site | None = None, **values: Any) -> Survey:
    """Make a walk that began at NOW and goes on."""
    given = {
        "code": f"S{number()}",
        "inspector_name": "Ines Falk",
        "started_at": NOW,
        "created_at": NOW,
    }
    return Survey.objects.create(site=site or make_site(), **{**given, **values})


def new_reading(point: MeasuringPoint, kind: str = Kind.PRESSURE_LEAK, **values: Any) -> NewReading:
    """Describe a reading at a point, as a sender would: a pressure leak on compressed air."""
    given: dict[str, Any] = {"client_id": f"r{number()}", "taken_at": NOW, "kind": kind}
    if kind in {Kind.PRESSURE_LEAK, ""}:
        given["medium"] = Medium.COMPRESSED_AIR if kind else ""
    else:
        given["level_db"] = 42.0
    return NewReading(point_id=point.pk, **{**given, **values})


def make_reading(point: MeasuringPoint | None = None, **values: Any) -> Reading:
    """Make a reading at NOW of which the register concluded nothing."""
    point = point or make_point()
    given: dict[str, Any] = {"client_id": f"r{number()}", "taken_at": NOW, "recorded_at": NOW}
    given |= {"fingerprint": bytes(32), "level_db": 42.0}
    given["survey"] = values.pop("survey", None) or make_survey(point.site)
    return Reading.objects.create(site=point.site, point=point, **{**given, **values})


def make_recording(reading: Reading | None = None, content: bytes | None = None, **values: Any) -> Recording:
    """Make a recording of 6 s of silence whose file stands in the store."""
    reading = reading or make_reading()
    content = wav() if content is None else content
    sha256 = hashlib.sha256(content).hexdigest()
    files.write(io.BytesIO(content), sha256, "wav")
    given: dict[str, Any] = {
        "sha256": sha256,
        "file_name": "walk.wav",
        "bytes": len(content),
        "container": "wav",
        "sample_rate_hz": 8_000,
        "channels": 1,
        "bits": 16,
        "seconds": 6.0,
        "uploaded_at": NOW,
        "uploaded_by": "Ines Falk",
    }
    given |= {"site": reading.site, "reading": reading}
    return Recording.objects.create(**{**given, **values})


def make_analysis(recording: Recording, **values: Any) -> RecordingAnalysis:
    """Make what was heard in a recording: nothing that stands out; its picture stands in the store."""
    picture = f"<svg xmlns='http://www.w3.org/2000/svg'><title>{number()}</title></svg>".encode()
    sha256 = hashlib.sha256(picture).hexdigest()
    files.write(io.BytesIO(picture), sha256, PICTURE_ENDING)
    given: dict[str, Any] = {
        "method_version": ANALYSIS_VERSION,
        "state": RecordingState.DONE,
        "result": {"seconds": recording.seconds, "character": "smooth", "lines": []},
        "picture_sha256": sha256,
        "picture_words": "6.0 seconds of sound",
        "started_at": NOW,
        "ended_at": NOW,
    }
    return RecordingAnalysis.objects.create(
        site_id=recording.site_id, recording=recording, **{**given, **values}
    )
