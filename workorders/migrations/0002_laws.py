"""The laws of the upper floor: one site along every key, facts that are only added."""

from django.db import migrations

ONLY_ADDED = {
    "workorders_repairreport": [],
    "workorders_verification": [],
    "workorders_closedmonth": [],
    "workorders_correction": [],
    "workorders_escalation": ["taken_by_id", "taken_at"],
}
KEPT = ["workorders_workorder", "workorders_servicelevel", "workorders_orderfinding"]
SAME_SITE = [
    ("workorders_workorder", "area_id", "findings_area"),
    ("workorders_workorder", "asset_id", "findings_asset"),
    ("workorders_orderfinding", "order_id", "workorders_workorder"),
    ("workorders_orderfinding", "finding_id", "findings_finding"),
    ("workorders_repairreport", "order_id", "workorders_workorder"),
    ("workorders_verification", "finding_id", "findings_finding"),
    ("workorders_verification", "order_id", "workorders_workorder"),
    ("workorders_verification", "reading_id", "findings_reading"),
    ("workorders_escalation", "finding_id", "findings_finding"),
    ("workorders_correction", "month_id", "workorders_closedmonth"),
]


def only_added(table: str, columns: list[str]) -> migrations.RunSQL:
    """Refuse DELETE, and UPDATE but for columns that are set once."""
    arguments = ", ".join(f"'{column}'" for column in columns)
    return migrations.RunSQL(
        f"CREATE TRIGGER only_added BEFORE UPDATE OR DELETE ON {table} "
        f"FOR EACH ROW EXECUTE FUNCTION plantcare_append_only({arguments});",
        f"DROP TRIGGER only_added ON {table};",
    )


def kept(table: str) -> migrations.RunSQL:
    """Refuse DELETE."""
    return migrations.RunSQL(
        f"CREATE TRIGGER kept BEFORE DELETE ON {table} FOR EACH ROW EXECUTE FUNCTION plantcare_kept();",
        f"DROP TRIGGER kept ON {table};",
    )


def same_site(table: str, column: str, parent: str) -> migrations.RunSQL:
    """Tie a child's site to its parent's site by a composite key."""
    name = f"{table}_{column}_same_site".replace("workorders_", "")
    return migrations.RunSQL(
        f"ALTER TABLE {table} ADD CONSTRAINT {name} FOREIGN KEY ({column}, site_id) "
        f"REFERENCES {parent} (id, site_id) DEFERRABLE INITIALLY DEFERRED;",
        f"ALTER TABLE {table} DROP CONSTRAINT {name};",
    )


class Migration(migrations.Migration):
    dependencies = [("workorders", "0001_tables"), ("findings", "0003_laws")]
    operations = [
        *(only_added(table, columns) for table, columns in ONLY_ADDED.items()),
        *(kept(table) for table in KEPT),
        *(same_site(*row) for row in SAME_SITE),
    ]
