"""No work begins at an enclosure that a discharge keeps shut, until a qualified person has released it."""

from django.db import migrations
from django.db.migrations import RunSQL

STARTED_SHUT = """
CREATE FUNCTION workorders_refuse_kept_shut() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    -- Work that is under way already may be written down.
    IF TG_OP = 'UPDATE' AND OLD.state = 'in_progress' THEN
        RETURN NEW;
    END IF;
    IF EXISTS (
        SELECT 1
        FROM workorders_orderfinding tied
        JOIN findings_finding finding ON finding.id = tied.finding_id
        WHERE tied.order_id = NEW.id AND tied.ended_at IS NULL
          AND plantcare_kept_shut(finding.point_id, coalesce(NEW.started_at, now()))
    ) THEN
        RAISE EXCEPTION 'an enclosure of work order % is kept shut', NEW.number
            USING ERRCODE = 'restrict_violation', CONSTRAINT = 'order_started_at_shut_enclosure',
                  TABLE = TG_TABLE_NAME;
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER not_at_shut_enclosure BEFORE INSERT OR UPDATE OF state ON workorders_workorder
FOR EACH ROW WHEN (NEW.state = 'in_progress') EXECUTE FUNCTION workorders_refuse_kept_shut();
"""

TIED_SHUT = """
CREATE FUNCTION workorders_refuse_tied_shut() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF EXISTS (
        SELECT 1
        FROM workorders_workorder paper
        JOIN findings_finding finding ON finding.id = NEW.finding_id
        WHERE paper.id = NEW.order_id AND paper.state = 'in_progress'
          AND plantcare_kept_shut(finding.point_id, now())
    ) THEN
        RAISE EXCEPTION 'the enclosure of this finding is kept shut'
            USING ERRCODE = 'restrict_violation', CONSTRAINT = 'order_started_at_shut_enclosure',
                  TABLE = TG_TABLE_NAME;
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER not_of_shut_enclosure BEFORE INSERT ON workorders_orderfinding
FOR EACH ROW WHEN (NEW.ended_at IS NULL) EXECUTE FUNCTION workorders_refuse_tied_shut();
"""


class Migration(migrations.Migration):
    dependencies = [("workorders", "0004_order_clocks"), ("findings", "0014_panels_and_releases")]
    operations = [
        RunSQL(
            STARTED_SHUT,
            "DROP TRIGGER not_at_shut_enclosure ON workorders_workorder; "
            "DROP FUNCTION workorders_refuse_kept_shut();",
        ),
        RunSQL(
            TIED_SHUT,
            "DROP TRIGGER not_of_shut_enclosure ON workorders_orderfinding; "
            "DROP FUNCTION workorders_refuse_tied_shut();",
        ),
    ]
