"""Every route of this app on one page."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, path

from findings.balance.api import balances, what_ifs
from findings.calculations import api as calculations
from findings.calibration import api as calibration
from findings.conditions.api import bearings, greasings, ladders
from findings.conditions.api import history as wear_history
from findings.deferrals import api as deferrals
from findings.detectors import api as detectors
from findings.intake import api as intake
from findings.logbook import api as logbook
from findings.panels.api import overruling, particulars, qualifications, releases
from findings.plant.api import assets, batches, members, points, sites
from findings.recordings import api as recordings
from findings.register.api import conditions, findings, moves, readings, recomputations
from findings.routes import api as routes
from findings.seals.api import seams
from findings.seals.api import walks as seam_walks
from findings.supply.api import compressors, leak_tests, systems, tariffs, values
from findings.surveys import api as surveys

urlpatterns: list[URLPattern | URLResolver] = [
    path("calculations", calculations.Calculations.as_view(), name="calculations"),
    *(
        path(f"calculations/{name}", door.as_view(), name=f"calculation-{name}")
        for name, door in calculations.DOORS.items()
    ),
    path("me", members.Me.as_view(), name="me"),
    path("memberships", members.Memberships.as_view(), name="memberships"),
    path("memberships/<uuid:id>", members.Membership.as_view(), name="membership"),
    path("memberships/<uuid:id>/end", members.MembershipEnd.as_view(), name="membership-end"),
    path("api-keys", members.ApiKeys.as_view(), name="api-keys"),
    path("api-keys/<uuid:id>", members.ApiKey.as_view(), name="api-key"),
    path("api-keys/<uuid:id>/revocation", members.ApiKeyRevocation.as_view(), name="api-key-revocation"),
    path("sites", sites.Sites.as_view(), name="sites"),
    path("sites/<uuid:id>", sites.Site.as_view(), name="site"),
    path("areas", sites.Areas.as_view(), name="areas"),
    path("areas/<uuid:id>", sites.Area.as_view(), name="area"),
    path("assets", assets.Assets.as_view(), name="assets"),
    path("assets/<uuid:id>", assets.Asset.as_view(), name="asset"),
    path("assets/<uuid:id>/subtree", assets.AssetSubtree.as_view(), name="asset-subtree"),
    path(
        "assets/<uuid:id>/decommissioning",
        assets.AssetDecommissioning.as_view(),
        name="asset-decommissioning",
    ),
    path(
        "assets/<uuid:id>/recommissioning",
        assets.AssetRecommissioning.as_view(),
        name="asset-recommissioning",
    ),
    path("asset-batches", batches.AssetBatches.as_view(), name="asset-batches"),
    path("measuring-points", points.MeasuringPoints.as_view(), name="measuring-points"),
    path("measuring-points/<uuid:id>", points.MeasuringPoint.as_view(), name="measuring-point"),
    path(
        "measuring-points/<uuid:id>/bearing-particulars",
        bearings.PointBearings.as_view(),
        name="point-bearing-particulars",
    ),
    path(
        "measuring-points/<uuid:id>/good-states", bearings.PointGoodStates.as_view(), name="point-good-states"
    ),
    path("measuring-points/<uuid:id>/greasings", greasings.PointGreasings.as_view(), name="point-greasings"),
    path("measuring-points/<uuid:id>/grease-advice", greasings.GreaseAdvice.as_view(), name="grease-advice"),
    path("measuring-points/<uuid:id>/wear-history", wear_history.WearHistory.as_view(), name="wear-history"),
    path(
        "measuring-points/<uuid:id>/conditions", conditions.PointConditions.as_view(), name="point-conditions"
    ),
    path(
        "measuring-points/<uuid:id>/wear-judgement", conditions.WearJudgement.as_view(), name="wear-judgement"
    ),
    path("bearing-particulars/<uuid:id>", bearings.BearingParticulars.as_view(), name="bearing-particulars"),
    path(
        "bearing-particulars/<uuid:id>/void",
        bearings.BearingParticularsVoid.as_view(),
        name="bearing-particulars-void",
    ),
    path("good-states/<uuid:id>", bearings.GoodState.as_view(), name="good-state"),
    path("good-states/<uuid:id>/void", bearings.GoodStateVoid.as_view(), name="good-state-void"),
    path("greasings/<uuid:id>", greasings.Greasing.as_view(), name="greasing"),
    path("greasings/<uuid:id>/void", greasings.GreasingVoid.as_view(), name="greasing-void"),
    path("wear-ladders", ladders.WearLadders.as_view(), name="wear-ladders"),
    path("wear-ladders/<uuid:id>", ladders.WearLadder.as_view(), name="wear-ladder"),
    path("wear-ladders/<uuid:id>/void", ladders.WearLadderVoid.as_view(), name="wear-ladder-void"),
    path("sites/<uuid:id>/wear-ladder", ladders.LadderInForce.as_view(), name="site-wear-ladder"),
    path("measuring-point-batches", batches.MeasuringPointBatches.as_view(), name="measuring-point-batches"),
    path("logbook-entries", logbook.LogbookEntries.as_view(), name="logbook-entries"),
    path("logbook-entries/<uuid:id>", logbook.LogbookEntry.as_view(), name="logbook-entry"),
    path("logbook-check", logbook.LogbookCheck.as_view(), name="logbook-check"),
    path("supply-systems", systems.SupplySystems.as_view(), name="supply-systems"),
    path("supply-systems/<uuid:id>", systems.SupplySystem.as_view(), name="supply-system"),
    path(
        "supply-systems/<uuid:id>/leak-tests", leak_tests.LeakTests.as_view(), name="supply-system-leak-tests"
    ),
    path("supply-systems/<uuid:id>/leak-balance", balances.LeakBalance.as_view(), name="leak-balance"),
    *(
        path(f"supply-systems/<uuid:id>/what-if/{name}", door.as_view(), name=f"what-if-{name}")
        for name, door in what_ifs.DOORS.items()
    ),
    path("leak-tests/<uuid:id>", leak_tests.LeakTest.as_view(), name="leak-test"),
    path("leak-tests/<uuid:id>/void", leak_tests.LeakTestVoid.as_view(), name="leak-test-void"),
    path("compressors", compressors.Compressors.as_view(), name="compressors"),
    path("compressors/<uuid:id>", compressors.Compressor.as_view(), name="compressor"),
    path("connections", systems.Connections.as_view(), name="connections"),
    path("connections/<uuid:id>", systems.Connection.as_view(), name="connection"),
    path("connections/<uuid:id>/end", systems.ConnectionEnd.as_view(), name="connection-end"),
    path("tariff-tables", tariffs.TariffTables.as_view(), name="tariff-tables"),
    path("tariff-tables/<uuid:id>", tariffs.TariffTable.as_view(), name="tariff-table"),
    path("tariff-tables/<uuid:id>/void", tariffs.TariffTableVoid.as_view(), name="tariff-table-void"),
    path("dated-values", values.DatedValues.as_view(), name="dated-values"),
    path("dated-values/<uuid:id>", values.DatedValue.as_view(), name="dated-value"),
    path("dated-values/<uuid:id>/void", values.DatedValueVoid.as_view(), name="dated-value-void"),
    path("instruments", detectors.Instruments.as_view(), name="instruments"),
    path("instruments/<uuid:id>", detectors.Instrument.as_view(), name="instrument"),
    path(
        "instruments/<uuid:id>/calibrations",
        detectors.InstrumentCalibrations.as_view(),
        name="instrument-calibrations",
    ),
    path(
        "instruments/<uuid:id>/calibration-leaks",
        calibration.InstrumentCalibrationLeaks.as_view(),
        name="instrument-calibration-leaks",
    ),
    path(
        "instruments/<uuid:id>/calibration-fits",
        calibration.InstrumentCalibrationFits.as_view(),
        name="instrument-calibration-fits",
    ),
    path("calibration-leaks/<uuid:id>", calibration.CalibrationLeak.as_view(), name="calibration-leak"),
    path(
        "calibration-leaks/<uuid:id>/void",
        calibration.CalibrationLeakVoid.as_view(),
        name="calibration-leak-void",
    ),
    path("routes", routes.Routes.as_view(), name="routes"),
    path("routes/<uuid:id>", routes.Route.as_view(), name="route"),
    path("routes/<uuid:id>/stops", routes.RouteStops.as_view(), name="route-stops"),
    path("visit-requests", routes.VisitRequests.as_view(), name="visit-requests"),
    path("visit-requests/<uuid:id>", routes.VisitRequest.as_view(), name="visit-request"),
    path("visit-requests/<uuid:id>/drop", routes.VisitRequestDrop.as_view(), name="visit-request-drop"),
    path("surveys", surveys.Surveys.as_view(), name="surveys"),
    path("surveys/<uuid:id>", surveys.Survey.as_view(), name="survey"),
    path("surveys/<uuid:id>/end", surveys.SurveyEnd.as_view(), name="survey-end"),
    path("readings", readings.Readings.as_view(), name="readings"),
    path("readings/<uuid:id>", readings.Reading.as_view(), name="reading"),
    path("reading-batches", readings.ReadingBatches.as_view(), name="reading-batches"),
    path("readings/<uuid:id>/recordings", recordings.ReadingRecordings.as_view(), name="reading-recordings"),
    path("recordings", recordings.Recordings.as_view(), name="recordings"),
    path("recordings/<uuid:id>", recordings.Recording.as_view(), name="recording"),
    path("recordings/<uuid:id>/sound", recordings.RecordingSound.as_view(), name="recording-sound"),
    path("recordings/<uuid:id>/picture", recordings.RecordingPicture.as_view(), name="recording-picture"),
    path("recordings/<uuid:id>/void", recordings.RecordingVoid.as_view(), name="recording-void"),
    path("findings", findings.Findings.as_view(), name="findings"),
    path("findings/<uuid:id>", findings.Finding.as_view(), name="finding"),
    path("findings/<uuid:id>/readings", findings.FindingReadings.as_view(), name="finding-readings"),
    path("findings/<uuid:id>/assessments", findings.FindingAssessments.as_view(), name="finding-assessments"),
    path(
        "findings/<uuid:id>/assessments/<uuid:assessment_id>/recomputation",
        recomputations.AssessmentRecomputation.as_view(),
        name="assessment-recomputation",
    ),
    path(
        "assessments/recomputations",
        recomputations.AssessmentRecomputations.as_view(),
        name="assessment-recomputations",
    ),
    path("findings/<uuid:id>/conditions", conditions.FindingConditions.as_view(), name="finding-conditions"),
    path("findings/<uuid:id>/segments", findings.FindingSegments.as_view(), name="finding-segments"),
    path("findings/<uuid:id>/history", findings.FindingHistory.as_view(), name="finding-history"),
    path("findings/<uuid:id>/moves", moves.FindingMoves.as_view(), name="finding-moves"),
    path("conditions/<uuid:id>/overrule", overruling.ConditionOverrule.as_view(), name="condition-overrule"),
    path("panel-particulars", particulars.PanelParticulars.as_view(), name="panel-particulars"),
    path(
        "panel-particulars/<uuid:id>", particulars.OnePanelParticulars.as_view(), name="one-panel-particulars"
    ),
    path(
        "panel-particulars/<uuid:id>/void",
        particulars.PanelParticularsVoid.as_view(),
        name="panel-particulars-void",
    ),
    path(
        "electrical-qualifications", qualifications.Qualifications.as_view(), name="electrical-qualifications"
    ),
    path(
        "electrical-qualifications/<uuid:id>",
        qualifications.Qualification.as_view(),
        name="electrical-qualification",
    ),
    path(
        "electrical-qualifications/<uuid:id>/void",
        qualifications.QualificationVoid.as_view(),
        name="electrical-qualification-void",
    ),
    path("opening-releases", releases.OpeningReleases.as_view(), name="opening-releases"),
    path("opening-releases/<uuid:id>", releases.OpeningRelease.as_view(), name="opening-release"),
    path(
        "opening-releases/<uuid:id>/void", releases.OpeningReleaseVoid.as_view(), name="opening-release-void"
    ),
    path("deferrals", deferrals.Deferrals.as_view(), name="deferrals"),
    path("deferrals/<uuid:id>", deferrals.Deferral.as_view(), name="deferral"),
    path("deferrals/<uuid:id>/approval", deferrals.DeferralApproval.as_view(), name="deferral-approval"),
    path("deferrals/<uuid:id>/refusal", deferrals.DeferralRefusal.as_view(), name="deferral-refusal"),
    path("deferrals/<uuid:id>/end", deferrals.DeferralEnd.as_view(), name="deferral-end"),
    path("seams", seams.Seams.as_view(), name="seams"),
    path("seams/<uuid:id>", seams.Seam.as_view(), name="seam"),
    path("seam-walks", seam_walks.SeamWalks.as_view(), name="seam-walks"),
    path("seam-walks/<uuid:id>", seam_walks.SeamWalk.as_view(), name="seam-walk"),
    path("seam-walks/<uuid:id>/places", seam_walks.SeamWalkPlaces.as_view(), name="seam-walk-places"),
    path("seam-walks/<uuid:id>/finish", seam_walks.SeamWalkFinish.as_view(), name="seam-walk-finish"),
    path("seam-walks/<uuid:id>/plan", seam_walks.SeamWalkPlan.as_view(), name="seam-walk-plan"),
    path("mappings", intake.Mappings.as_view(), name="mappings"),
    path("mappings/<uuid:id>", intake.Mapping.as_view(), name="mapping"),
    path("import-trials", intake.ImportTrials.as_view(), name="import-trials"),
    path("imports", intake.Imports.as_view(), name="imports"),
    path("imports/<uuid:id>", intake.Import.as_view(), name="import"),
]
