"""Laws of the database that Django's constraints cannot say, as operations for migrations.

Migrations import this file, so what stands here keeps its meaning for ever: a changed law is a new function.
"""

from __future__ import annotations

from collections.abc import Sequence

from django.db.migrations import RunSQL

_FUNCTIONS = """
CREATE FUNCTION plantcare_append_only() RETURNS trigger LANGUAGE plpgsql AS $$
-- The trigger's arguments name columns that may be set once; everything else stays as it was written.
DECLARE
    settable text[] := coalesce(TG_ARGV[0:TG_NARGS - 1], ARRAY[]::text[]);
    was jsonb;
    becomes jsonb;
    name text;
BEGIN
    IF TG_OP = 'DELETE' THEN
        RAISE EXCEPTION 'rows of % are never deleted', TG_TABLE_NAME
            USING ERRCODE = 'restrict_violation', CONSTRAINT = 'rows_are_kept', TABLE = TG_TABLE_NAME;
    END IF;
    was := to_jsonb(OLD);
    becomes := to_jsonb(NEW);
    IF (was - settable) IS DISTINCT FROM (becomes - settable) THEN
        RAISE EXCEPTION 'rows of % are only added', TG_TABLE_NAME
            USING ERRCODE = 'restrict_violation', CONSTRAINT = 'rows_are_only_added', TABLE = TG_TABLE_NAME;
    END IF;
    FOREACH name IN ARRAY settable LOOP
        IF (was ->> name) IS DISTINCT FROM (becomes ->> name) AND coalesce(was ->> name, '') <> '' THEN
            RAISE EXCEPTION 'column % of % is set only once', name, TG_TABLE_NAME
                USING ERRCODE = 'restrict_violation', CONSTRAINT = 'column_is_set_once',
                      TABLE = TG_TABLE_NAME;
        END IF;
    END LOOP;
    RETURN NEW;
END $$;

CREATE FUNCTION plantcare_kept() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'rows of % are never deleted', TG_TABLE_NAME
        USING ERRCODE = 'restrict_violation', CONSTRAINT = 'rows_are_kept', TABLE = TG_TABLE_NAME;
END $$;
"""


def law_functions() -> RunSQL:
    """Make the trigger functions that the other laws call."""
    return RunSQL(_FUNCTIONS, "DROP FUNCTION plantcare_append_only(); DROP FUNCTION plantcare_kept();")


def only_added(table: str, columns: Sequence[str]) -> RunSQL:
    """Refuse DELETE, and UPDATE but for columns that are set once."""
    arguments = ", ".join(f"'{column}'" for column in columns)
    return RunSQL(
        f"CREATE TRIGGER only_added BEFORE UPDATE OR DELETE ON {table} "
        f"FOR EACH ROW EXECUTE FUNCTION plantcare_append_only({arguments});",
        f"DROP TRIGGER only_added ON {table};",
    )


def kept(table: str) -> RunSQL:
    """Refuse DELETE."""
    return RunSQL(
        f"CREATE TRIGGER kept BEFORE DELETE ON {table} FOR EACH ROW EXECUTE FUNCTION plantcare_kept();",
        f"DROP TRIGGER kept ON {table};",
    )


def same_site(table: str, column: str, parent: str) -> RunSQL:
    """Tie a child's site to its parent's site by a composite key."""
    name = f"{table.partition('_')[2]}_{column}_same_site"
    return RunSQL(
        f"ALTER TABLE {table} ADD CONSTRAINT {name} FOREIGN KEY ({column}, site_id) "
        f"REFERENCES {parent} (id, site_id) DEFERRABLE INITIALLY DEFERRED;",
        f"ALTER TABLE {table} DROP CONSTRAINT {name};",
    )
