"""Index of this app's tables; nothing else stands here and nobody imports it."""

from findings.calibration.models import CalibrationLeak
from findings.conditions.models import Condition
from findings.deferrals.models import Deferral
from findings.detectors.models import Instrument
from findings.intake.models import Import, Mapping
from findings.logbook.models import Entry, Head
from findings.losses.models import LossSegment
from findings.plant.models import Area, Asset, MeasuringPoint, Membership, Site
from findings.readings.models import Reading
from findings.register.models import Assessment, Evidence, Finding, FindingCounter
from findings.routes.models import Route, Stop, VisitRequest
from findings.supply.models import Compressor, Connection, DatedValue, LeakTest, SupplySystem, TariffTable
from findings.surveys.models import Survey

__all__ = [
    "Area",
    "Assessment",
    "Asset",
    "CalibrationLeak",
    "Compressor",
    "Condition",
    "Connection",
    "DatedValue",
    "Deferral",
    "Entry",
    "Evidence",
    "Finding",
    "FindingCounter",
    "Head",
    "Import",
    "Instrument",
    "LeakTest",
    "LossSegment",
    "Mapping",
    "MeasuringPoint",
    "Membership",
    "Reading",
    "Route",
    "Site",
    "Stop",
    "SupplySystem",
    "Survey",
    "TariffTable",
    "VisitRequest",
]
