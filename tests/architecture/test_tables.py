"""The laws that every table keeps, read from the models and from PostgreSQL itself."""

from collections.abc import Iterator

import pytest
from django.apps import apps
from django.db import connection
from django.db.models import FloatField, ForeignKey, Model

# A database is set up only for tests that ask for one.
pytestmark = pytest.mark.django_db

FLOORS = {"people": 0, "findings": 1, "workorders": 2}
FREE_OF_SITE = {"findings_site"}
MAY_GO = {
    # The order of a route is a plan, not a fact; it is written anew. A lost connection ends a supply.
    "findings_stop",
    "findings_connection",
    # A mapping is a tool, a counter and a chain's head are only the place where the next one stands.
    "findings_mapping",
    "findings_head",
    "findings_findingcounter",
    "workorders_ordercounter",
}


def ours() -> list[type[Model]]:
    return [
        model for label in ("findings", "workorders") for model in apps.get_app_config(label).get_models()
    ]


def keys() -> Iterator[tuple[type[Model], ForeignKey]]:
    for model in ours():
        for field in model._meta.get_fields():
            if isinstance(field, ForeignKey):
                yield model, field


@pytest.fixture(scope="module")
def triggers(django_db_setup: None, django_db_blocker: object) -> dict[str, set[str]]:
    with django_db_blocker.unblock(), connection.cursor() as cursor:  # type: ignore[attr-defined]
        cursor.execute(
            "SELECT c.relname, p.proname FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid "
            "JOIN pg_proc p ON p.oid = t.tgfoid WHERE NOT t.tgisinternal"
        )
        found: dict[str, set[str]] = {}
        for table, function in cursor.fetchall():
            found.setdefault(table, set()).add(function)
    return found


@pytest.fixture(scope="module")
def composite_keys(django_db_setup: None, django_db_blocker: object) -> set[tuple[str, str]]:
    """Return (table, column) of every foreign key that also ties the site."""
    with django_db_blocker.unblock(), connection.cursor() as cursor:  # type: ignore[attr-defined]
        cursor.execute(
            "SELECT c.relname, array_agg(a.attname::text) FROM pg_constraint k "
            "JOIN pg_class c ON c.oid = k.conrelid "
            "JOIN unnest(k.conkey) AS u(attnum) ON true "
            "JOIN pg_attribute a ON a.attrelid = k.conrelid AND a.attnum = u.attnum "
            "WHERE k.contype = 'f' GROUP BY k.oid, c.relname HAVING count(*) = 2"
        )
        return {
            (table, column)
            for table, columns in cursor.fetchall()
            for column in columns
            if "site_id" in columns and column != "site_id"
        }


def test_every_table_belongs_to_a_site() -> None:
    homeless = [
        model._meta.db_table
        for model in ours()
        if model._meta.db_table not in FREE_OF_SITE
        and "site" not in {field.name for field in model._meta.fields}
    ]

    assert homeless == []


def test_every_key_between_rows_of_a_site_ties_the_site(composite_keys: set[tuple[str, str]]) -> None:
    loose = [
        (model._meta.db_table, field.column)
        for model, field in keys()
        if "site" in {other.name for other in field.related_model._meta.fields}
        and field.name != "site"
        and (model._meta.db_table, field.column) not in composite_keys
    ]

    assert loose == []


def test_no_row_can_be_deleted_but_those_named(triggers: dict[str, set[str]]) -> None:
    guards = {"plantcare_append_only", "plantcare_kept"}
    open_tables = {
        model._meta.db_table for model in ours() if not triggers.get(model._meta.db_table, set()) & guards
    }

    assert open_tables == MAY_GO


def test_keys_point_down_and_leave_no_way_up() -> None:
    wrong = []
    for model, field in keys():
        own, other = FLOORS[model._meta.app_label], FLOORS[field.related_model._meta.app_label]
        if other > own or not field.remote_field.hidden:
            wrong.append(f"{model.__name__}.{field.name}")

    assert wrong == []


def test_no_money_is_kept_in_floats() -> None:
    floats = [
        f"{model.__name__}.{field.name}"
        for model in ours()
        for field in model._meta.fields
        if isinstance(field, FloatField)
        and any(word in field.name for word in ("cost", "price", "amount", "saving"))
    ]

    assert floats == []


def test_no_table_orders_itself() -> None:
    assert [model.__name__ for model in ours() if model._meta.ordering] == []
