"""Say which time-of-use table holds from a moment on; a wrong one is voided, never rewritten."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any

from django.db import transaction

from findings.kinds.tariff import TariffTable as Table
from findings.kinds.tariff_reading import TariffWrong, table_of
from findings.plant import actions as plant
from findings.supply.actions.systems import log_of, ruled
from findings.supply.models import DatedValue, TariffTable
from findings.supply.rules import Quantity, check_currency_of, plain_bands
from plantcare.api.actor import Actor
from plantcare.api.problems import Conflict, FieldError, Invalid, constraint_refusals

PRICE = Quantity.ELECTRICITY_PRICE_PER_KWH


class TariffDated(Conflict):
    """Two prices of electricity cannot begin to hold at once."""

    code = "tariff_dated"
    title = "A price of electricity holds from this very moment already; void it first."


class TariffAlreadyVoid(Conflict):
    """A row is voided once."""

    code = "tariff_void"
    title = "The tariff table is void already."


constraint_refusals["tariff_table_once_per_moment"] = TariffDated


def set_tariff_table(
    *,
    actor: Actor,
    at: datetime,
    site_id: uuid.UUID,
    bands: Sequence[Mapping[str, Any]],
    currency: str,
    from_at: datetime,
    source: str,
    holidays: Sequence[date] = (),
) -> TariffTable:
    """Add a table in force from ``from_at`` until the next table or flat price.

    Raises Invalid with the place of what cannot be: an hour without a price or with two, another currency,
    no source; TariffDated.
    """
    table = _checked(bands, holidays)
    with transaction.atomic():
        site = plant.site_of(site_id)
        with ruled():
            check_currency_of(PRICE, currency, site.currency)
        if not source.strip():
            plant.refuse("/source", "source_missing", "Say where the prices come from.")
        _check_free(site.pk, from_at)
        row = TariffTable.objects.create(
            site=site,
            bands=plain_bands(table),
            holidays=sorted(day.isoformat() for day in table.holidays),
            currency=currency,
            from_at=from_at,
            recorded_at=at,
            source=source.strip(),
        )
        detail = {"from_at": row.from_at, "currency": row.currency, "bands": row.bands, "source": row.source}
        log_of(row, "tariff_table", actor, at, "tariff_table.set", detail)
    return row


def _checked(bands: Sequence[Mapping[str, Any]], holidays: Sequence[date]) -> Table:
    try:
        return table_of(list(bands), list(holidays))
    except TariffWrong as wrong:
        errors = [FieldError(*problem) for problem in wrong.problems]
        raise Invalid(str(wrong)[:500], errors=errors) from None


def _check_free(site_id: uuid.UUID, from_at: datetime) -> None:
    same = {"site_id": site_id, "from_at": from_at, "void_at__isnull": True}
    flat = DatedValue.objects.filter(quantity=PRICE, **same)
    if TariffTable.objects.filter(**same).exists() or flat.exists():
        raise TariffDated(errors=[FieldError("/from_at", TariffDated.code, TariffDated.title)])


def void_tariff_table(*, actor: Actor, at: datetime, table_id: uuid.UUID, reason: str) -> TariffTable:
    """Void a table: from now on it never held. Raises NotFound, Invalid, TariffAlreadyVoid."""
    told = plant.check_reason(reason)
    with transaction.atomic():
        row = plant.void_row(TariffTable, table_id, at=at, reason=told, already=TariffAlreadyVoid)
        log_of(
            row, "tariff_table", actor, at, "tariff_table.voided", {"from_at": row.from_at}, row.void_reason
        )
    return row
