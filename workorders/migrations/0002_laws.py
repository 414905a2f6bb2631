"""The laws of the upper floor: one site along every key, facts that are only added."""

from django.db import migrations

from plantcare.api.laws import kept, only_added, same_site

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


class Migration(migrations.Migration):
    dependencies = [("workorders", "0001_tables"), ("findings", "0003_laws")]
    operations = [
        *(only_added(table, columns) for table, columns in ONLY_ADDED.items()),
        *(kept(table) for table in KEPT),
        *(same_site(*row) for row in SAME_SITE),
    ]
