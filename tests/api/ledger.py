"""See the rows of the sites as the database holds them, whatever an answer said."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from functools import lru_cache

from django.apps import apps
from django.db import connection, models, transaction

from findings.plant.models import Site
from plantcare.api.models import IdempotencyKey
from plantcare.jobs.models import JobRun, Lease, Stumble, Tally
from plantcare.people.models import ApiKey, User

OURS = ("findings", "workorders", "people", "jobs", "api")
OF_NO_SITE = {User, ApiKey, JobRun, Lease, Stumble, Tally, IdempotencyKey}
"""Tables that belong to people or to the house; every other table carries its site."""


@contextmanager
def undone() -> Iterator[None]:
    """Take back whatever happens inside."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


@lru_cache(maxsize=1)
def tables() -> dict[type[models.Model], str]:
    """Return each table of the sites with the column that names the site."""
    found: dict[type[models.Model], str] = {Site: "id"}
    for model in apps.get_models():
        named = [
            column
            for column in model._meta.concrete_fields
            if column.is_relation and column.related_model is Site
        ]
        if named:
            found[model] = named[0].column
    return found


def without_site() -> set[type[models.Model]]:
    """Return our tables that name no site."""
    return {model for model in apps.get_models() if model._meta.app_label in OURS} - set(tables())


def rows_of(site_id: uuid.UUID, people: Iterable[int]) -> dict[str, str]:
    """Return one digest a table of all rows of a site and of the people who work only there."""
    parts, values = [], []
    for model, column in tables().items():
        parts.append(_digest(model._meta.db_table, f"{column} = %s"))
        values.append(site_id)
    for table, column in (("people_user", "id"), ("people_apikey", "user_id")):
        parts.append(_digest(table, f"{column} = ANY(%s)"))
        values.append(list(people))
    return _asked(" UNION ALL ".join(parts), values)


def everything() -> dict[str, str]:
    """Return one digest a table of all rows of all sites, of all people and of their keys."""
    names = [model._meta.db_table for model in tables()]
    names += [model._meta.db_table for model in OF_NO_SITE - {IdempotencyKey}]
    return _asked(" UNION ALL ".join(_digest(name, "TRUE") for name in names), [])


def ids_of(site_id: uuid.UUID) -> set[str]:
    """Return the id of every row of a site, as text."""
    found: set[str] = set()
    for model, column in tables().items():
        if isinstance(model._meta.pk, models.UUIDField):
            with connection.cursor() as cursor:
                sql = f"SELECT id::text FROM {model._meta.db_table} WHERE {column} = %s"  # noqa: S608
                cursor.execute(sql, [site_id])
                found |= {row[0] for row in cursor.fetchall()}
    return found


def stained(site_id: uuid.UUID, words: Iterable[str], people: Iterable[int]) -> list[str]:
    """Return the tables where a row of a site holds one of the words, or names one of the people."""
    pattern = "|".join(words)
    parts, values = [], []
    for model, column in tables().items():
        table = model._meta.db_table
        wheres = ["lower(t::text) ~ %s"]
        values += [site_id, pattern]
        for one in model._meta.concrete_fields:
            if one.is_relation and one.related_model is User:
                wheres.append(f"{one.column} = ANY(%s)")
                values.append(list(people))
        parts.append(
            f"SELECT '{table}', count(*)::text FROM {table} t "  # noqa: S608
            f"WHERE {column} = %s AND ({' OR '.join(wheres)})"
        )
    return sorted(name for name, count in _asked(" UNION ALL ".join(parts), values).items() if count != "0")


@lru_cache(maxsize=1)
def _crossings() -> str:
    parts = []
    for model, column in tables().items():
        for one in model._meta.concrete_fields:
            target = one.related_model if one.is_relation else None
            if model is Site or target is Site or target not in tables():
                continue
            parts.append(
                f"SELECT '{model._meta.db_table}.{one.column}', count(*)::text "  # noqa: S608
                f"FROM {model._meta.db_table} c JOIN {target._meta.db_table} p "
                f"ON p.{target._meta.pk.column} = c.{one.column} WHERE c.{column} <> p.{tables()[target]}"
            )
    return " UNION ALL ".join(parts)


def crossings() -> list[str]:
    """Return each column in which a row of one site points at a row of another."""
    return sorted(name for name, count in _asked(_crossings(), []).items() if count != "0")


def _digest(table: str, where: str) -> str:
    # When a key was last used is written down at any request; it is no part of what may not change.
    row = "(to_jsonb(t) - 'last_used_at')::text"
    return (
        f"SELECT '{table}', md5(coalesce(string_agg({row}, chr(10) ORDER BY {row}), '')) "  # noqa: S608
        f"FROM {table} t WHERE {where}"
    )


def _asked(sql: str, values: list[object]) -> dict[str, str]:
    with connection.cursor() as cursor:
        cursor.execute(sql, values)
        return dict(cursor.fetchall())
