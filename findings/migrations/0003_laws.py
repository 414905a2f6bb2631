"""Laws that Django's constraints cannot say: one site along every key, facts that are only added, proof of closure."""

from django.db import migrations

from plantcare.api.laws import kept, law_functions, only_added, same_site

CLOSING_READING = """
CREATE FUNCTION plantcare_closing_reading() RETURNS trigger LANGUAGE plpgsql AS $$
-- A reading closes a finding only if it was taken at the finding's own point after the last repair.
BEGIN
    IF NEW.status = 'closed' AND NEW.closing_reading_id IS NOT NULL AND NOT EXISTS (
        SELECT 1 FROM findings_reading r
        WHERE r.id = NEW.closing_reading_id AND r.point_id = NEW.point_id AND r.taken_at >= NEW.repaired_at
    ) THEN
        RAISE EXCEPTION 'the closing reading was not taken at this point after the repair'
            USING ERRCODE = 'check_violation', CONSTRAINT = 'finding_closing_reading_after_repair',
                  TABLE = TG_TABLE_NAME;
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER closing_reading BEFORE INSERT OR UPDATE ON findings_finding
    FOR EACH ROW EXECUTE FUNCTION plantcare_closing_reading();
"""

# table: columns that may be set once
ONLY_ADDED = {
    "findings_entry": ["relayed_at"],
    "findings_reading": [],
    "findings_evidence": [],
    "findings_assessment": [],
    "findings_import": [],
    "findings_datedvalue": ["void_at", "void_reason"],
    "findings_losssegment": [
        "ended_at",
        "end_reason",
        "end_recorded_at",
        "end_confirmed_at",
        "void_at",
        "void_reason",
    ],
}
KEPT = [
    "findings_site",
    "findings_membership",
    "findings_area",
    "findings_asset",
    "findings_measuringpoint",
    "findings_supplysystem",
    "findings_compressor",
    "findings_instrument",
    "findings_route",
    "findings_survey",
    "findings_finding",
    "findings_deferral",
    "findings_visitrequest",
]
# (table, column, parent): the child's site is the parent's site
SAME_SITE = [
    ("findings_asset", "area_id", "findings_area"),
    ("findings_asset", "parent_id", "findings_asset"),
    ("findings_measuringpoint", "asset_id", "findings_asset"),
    ("findings_compressor", "system_id", "findings_supplysystem"),
    ("findings_compressor", "asset_id", "findings_asset"),
    ("findings_connection", "asset_id", "findings_asset"),
    ("findings_connection", "system_id", "findings_supplysystem"),
    ("findings_datedvalue", "system_id", "findings_supplysystem"),
    ("findings_stop", "route_id", "findings_route"),
    ("findings_stop", "point_id", "findings_measuringpoint"),
    ("findings_visitrequest", "point_id", "findings_measuringpoint"),
    ("findings_survey", "route_id", "findings_route"),
    ("findings_survey", "instrument_id", "findings_instrument"),
    ("findings_reading", "survey_id", "findings_survey"),
    ("findings_reading", "point_id", "findings_measuringpoint"),
    ("findings_reading", "instrument_id", "findings_instrument"),
    ("findings_reading", "corrects_id", "findings_reading"),
    ("findings_losssegment", "finding_id", "findings_finding"),
    ("findings_losssegment", "system_id", "findings_supplysystem"),
    ("findings_finding", "asset_id", "findings_asset"),
    ("findings_finding", "point_id", "findings_measuringpoint"),
    ("findings_finding", "system_id", "findings_supplysystem"),
    ("findings_finding", "closing_reading_id", "findings_reading"),
    ("findings_finding", "merged_into_id", "findings_finding"),
    ("findings_finding", "follows_id", "findings_finding"),
    ("findings_evidence", "finding_id", "findings_finding"),
    ("findings_evidence", "reading_id", "findings_reading"),
    ("findings_assessment", "finding_id", "findings_finding"),
    ("findings_assessment", "reading_id", "findings_reading"),
    ("findings_deferral", "finding_id", "findings_finding"),
]


class Migration(migrations.Migration):
    dependencies = [("findings", "0002_tables")]
    operations = [
        law_functions(),
        *(only_added(table, columns) for table, columns in ONLY_ADDED.items()),
        *(kept(table) for table in KEPT),
        *(same_site(*row) for row in SAME_SITE),
        migrations.RunSQL(
            CLOSING_READING,
            "DROP TRIGGER closing_reading ON findings_finding; DROP FUNCTION plantcare_closing_reading();",
        ),
    ]
