"""Index of this app's tables; nothing else stands here and nobody imports it."""

from findings.calibration.models import CalibrationLeak
from findings.conditions.models import BearingParticulars, Condition, GoodState, Greasing, WearLadder
from findings.deferrals.models import Deferral
from findings.detectors.models import Instrument
from findings.intake.models import Import, Mapping
from findings.logbook.models import Entry, Head
from findings.losses.models import LossSegment
from findings.panels.models import ElectricalQualification, OpeningRelease, PanelParticulars
from findings.plant.models import Area, Asset, MeasuringPoint, Membership, Site
from findings.readings.models import Reading
from findings.recordings.models import AnalysisAttempt, Recording, RecordingAnalysis
from findings.register.models import Assessment, Evidence, Finding, FindingCounter
from findings.routes.models import Route, Stop, VisitRequest
from findings.seals.models import Seam, SeamPlace, SeamResult, SeamWalk
from findings.supply.models import Compressor, Connection, DatedValue, LeakTest, SupplySystem, TariffTable
from findings.surveys.models import Survey

__all__ = [
    "AnalysisAttempt",
    "Area",
    "Assessment",
    "Asset",
    "BearingParticulars",
    "CalibrationLeak",
    "Compressor",
    "Condition",
    "Connection",
    "DatedValue",
    "Deferral",
    "ElectricalQualification",
    "Entry",
    "Evidence",
    "Finding",
    "FindingCounter",
    "GoodState",
    "Greasing",
    "Head",
    "Import",
    "Instrument",
    "LeakTest",
    "LossSegment",
    "Mapping",
    "MeasuringPoint",
    "Membership",
    "OpeningRelease",
    "PanelParticulars",
    "Reading",
    "Recording",
    "RecordingAnalysis",
    "Route",
    "Seam",
    "SeamPlace",
    "SeamResult",
    "SeamWalk",
    "Site",
    "Stop",
    "SupplySystem",
    "Survey",
    "TariffTable",
    "VisitRequest",
    "WearLadder",
]
