"""Say what a price or factor is from a moment on; a wrong row is voided, never rewritten."""

from __future__ import annotations

import uuid
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from findings.logbook import actions as logbook
from findings.plant import actions as plant
from findings.plant.models import Site
from findings.plant.rules import local_day
from findings.supply.actions.systems import ruled
from findings.supply.models import DatedValue, SupplySystem, TariffTable
from findings.supply.rules import (
    PER_SITE,
    Quantity,
    check_currency_of,
    check_source,
    check_specific_energy,
    check_value,
)
from plantcare.api.actor import Actor
from plantcare.api.problems import Conflict, FieldError, constraint_refusals


class ValueDated(Conflict):
    """Two values cannot begin to hold at once."""

    code = "value_dated"
    title = "A value holds from this very moment already; void it first."


class AlreadyVoid(Conflict):
    """A row is voided once."""

    code = "value_void"
    title = "The value is void already."


constraint_refusals["dated_value_once_per_moment"] = ValueDated


def set_value(
    *,
    actor: Actor,
    at: datetime,
    site_id: uuid.UUID,
    quantity: Quantity | str,
    value: Decimal,
    from_at: datetime,
    source: str,
    system_id: uuid.UUID | None = None,
    currency: str = "",
    source_year: int | None = None,
) -> DatedValue:
    """Add a value in force from ``from_at`` until the next one.

    Raises Invalid with the pointer of what cannot be: a price in another currency, a value without a
    source, a specific energy below the isothermal least work; OtherSite, ValueDated.
    """
    with transaction.atomic():
        site = plant.site_of(site_id)
        if quantity not in set(Quantity):
            plant.refuse("/quantity", "invalid_choice", f"One of {', '.join(Quantity)}.")
        which = Quantity(quantity)
        system = _system(site, which, system_id)
        with ruled():
            check_currency_of(which, currency, site.currency)
            check_source(which, source, source_year, this_year=local_day(at, site.time_zone).year)
            _check_size(site, system, which, value)
        _check_free(site, system, which, from_at)
        row = DatedValue.objects.create(
            site=site,
            system=system,
            quantity=which,
            value=value,
            currency=currency,
            from_at=from_at,
            recorded_at=at,
            source=source.strip(),
            source_year=source_year,
        )
        _log_set(row, actor, at)
    return row


def _check_free(site: Site, system: SupplySystem | None, which: Quantity, from_at: datetime) -> None:
    same = {"site": site, "from_at": from_at, "void_at__isnull": True}
    taken = DatedValue.objects.filter(system=system, quantity=which, **same).exists()
    if which == Quantity.ELECTRICITY_PRICE_PER_KWH:
        taken = taken or TariffTable.objects.filter(**same).exists()
    if taken:
        raise ValueDated(errors=[FieldError("/from_at", ValueDated.code, ValueDated.title)])


def _check_size(site: Site, system: SupplySystem | None, which: Quantity, value: Decimal) -> None:
    check_value(which, value)
    if system is not None and which == Quantity.SPECIFIC_ENERGY_J_PER_M3:
        check_specific_energy(
            float(value),
            medium=system.medium,
            pressure_gauge_pa=system.pressure_gauge_pa,
            atmosphere_pa=site.atmosphere_pa,
            member="value",
        )


def _log_set(row: DatedValue, actor: Actor, at: datetime) -> None:
    told = ("quantity", "value", "currency", "from_at", "system_id", "source")
    logbook.write(
        site_id=row.site_id,
        actor=actor,
        at=at,
        act="value.set",
        subject_kind="dated_value",
        subject_id=row.pk,
        detail={name: getattr(row, name) for name in told},
    )


def void_value(*, actor: Actor, at: datetime, value_id: uuid.UUID, reason: str) -> DatedValue:
    """Void a value: from now on it never held. Raises NotFound, Invalid without a reason, AlreadyVoid."""
    told = plant.check_reason(reason)
    with transaction.atomic():
        row = plant.void_row(DatedValue, value_id, at=at, reason=told, already=AlreadyVoid)
        logbook.write(
            site_id=row.site_id,
            actor=actor,
            at=at,
            act="value.voided",
            subject_kind="dated_value",
            subject_id=row.pk,
            reason=row.void_reason,
            detail={"quantity": row.quantity, "value": row.value, "from_at": row.from_at},
        )
    return row


def _system(site: Site, quantity: Quantity, system_id: uuid.UUID | None) -> SupplySystem | None:
    if quantity in PER_SITE:
        if system_id is not None:
            plant.refuse("/system_id", "system_needless", "This holds for the whole site.")
        return None
    if system_id is None:
        plant.refuse("/system_id", "required", "Name the supply system that this holds for.")
    system = SupplySystem.objects.filter(pk=system_id).first()
    plant.same_site(site.pk, "/system_id", system.site_id if system else None)
    return system
