"""Keep what the whole leakage of a system was measured to be; a wrong test is voided, never rewritten."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any, Final

from django.db import transaction

from findings.physics.estimate import Estimate, Reason
from findings.plant import actions as plant
from findings.supply.actions.systems import log_of, ruled
from findings.supply.models import Compressor, LeakTest, SupplySystem
from findings.supply.rules import (
    LeakTestMethod,
    assumed,
    at_reference,
    check_sent,
    check_testable,
    total_leakage,
)
from plantcare.api.actor import Actor
from plantcare.api.problems import (
    Conflict,
    FieldError,
    NotFound,
    Unprocessable,
    constraint_refusals,
)

CLOCK_LEEWAY: Final = timedelta(minutes=10)
"""How far a clock on the walk may run ahead of ours."""


class LeakTestDated(Conflict):
    """One method gives one answer per moment."""

    code = "leak_test_dated"
    title = "A test of this method at this very moment is recorded already; void it first."


class LeakTestAlreadyVoid(Conflict):
    """A row is voided once."""

    code = "leak_test_void"
    title = "The leak test is void already."


class LeakTestRefused(Unprocessable):
    """What was sent gives no flow, and nothing is guessed."""

    code = "leak_test_refused"
    title = "No leak flow follows from this test."


def _dated() -> LeakTestDated:
    return LeakTestDated(errors=[FieldError("/taken_at", LeakTestDated.code, LeakTestDated.title)])


constraint_refusals["leak_test_once_per_moment"] = _dated


def record_leak_test(
    *,
    actor: Actor,
    at: datetime,
    system_id: uuid.UUID,
    method: LeakTestMethod | str,
    taken_at: datetime,
    source: str,
    sent: Mapping[str, Any],
    pressure_gauge_pa: float | None = None,
    compressor_id: uuid.UUID | None = None,
    note: str = "",
) -> LeakTest:
    """Work a test out and keep it beside what was sent; without a pressure the header's is taken.

    Raises NotFound, Invalid, OtherSite, LeakTestRefused with the reasons in words, LeakTestDated.
    """
    with transaction.atomic():
        system = SupplySystem.objects.select_related("site").filter(pk=system_id).first()
        if system is None:
            raise NotFound
        which = LeakTestMethod(method)
        _check_said(at, taken_at, source, pressure_gauge_pa)
        machine = _machine(system, compressor_id)
        estimate = _worked_out(system, machine, which, sent)
        _check_free(system, which, taken_at)
        test = LeakTest.objects.create(
            site_id=system.site_id,
            system=system,
            compressor=machine,
            method=which,
            taken_at=taken_at,
            recorded_at=at,
            pressure_gauge_pa=_pressure(system, which, sent, pressure_gauge_pa),
            **_computed(estimate, assumed(sent, which)),
            as_sent=dict(sent),
            source=source.strip(),
            note=note,
        )
        detail = {
            "system_id": system.pk,
            "method": which,
            "flow_m3_per_s": estimate.value,
            "taken_at": taken_at,
        }
        log_of(test, "leak_test", actor, at, "leak_test.recorded", detail)
    return test


def _check_said(at: datetime, taken_at: datetime, source: str, pressure_gauge_pa: float | None) -> None:
    if taken_at > at + CLOCK_LEEWAY:
        plant.refuse("/taken_at", "in_the_future", "A test is recorded after it was made.")
    if not source.strip():
        plant.refuse("/source", "source_missing", "Say who measured, or with what.")
    if pressure_gauge_pa is not None and not pressure_gauge_pa > 0.0:
        plant.refuse("/pressure_gauge_pa", "not_above_atmosphere", "A header is tested under pressure.")


def _check_free(system: SupplySystem, method: LeakTestMethod, taken_at: datetime) -> None:
    rows = LeakTest.objects.filter(system=system, method=method, taken_at=taken_at)
    if rows.filter(void_at__isnull=True).exists():
        raise _dated()


def _worked_out(
    system: SupplySystem, machine: Compressor | None, method: LeakTestMethod, sent: Mapping[str, Any]
) -> Estimate:
    rated = None if machine is None else machine.rated_flow_m3_per_s
    with ruled():
        check_sent(method, sent)
        check_testable(method, system.medium, None if machine is None else machine.control)
        estimate = total_leakage(
            method,
            sent,
            atmosphere_pa=system.site.atmosphere_pa,
            temperature_k=system.temperature_k,
            capacity_m3_per_s=None
            if rated is None
            else at_reference(rated, atmosphere_pa=system.site.atmosphere_pa),
            storage_m3=system.storage_m3,
        )
    if estimate.is_refused:
        text = " ".join(reason.text for reason in estimate.reasons)
        raise LeakTestRefused(text, errors=[FieldError("", code, words) for code, words in estimate.reasons])
    return estimate


def _computed(estimate: Estimate, assumptions: tuple[Reason, ...]) -> dict[str, Any]:
    return {
        "method_version": estimate.method_version,
        "flow_m3_per_s": estimate.value,
        "u_m3_per_s": estimate.u,
        "low_m3_per_s": estimate.low,
        "high_m3_per_s": estimate.high,
        "inputs": dict(estimate.inputs),
        "reasons": [reason._asdict() for reason in (*estimate.reasons, *assumptions)],
    }


def _pressure(
    system: SupplySystem, method: LeakTestMethod, sent: Mapping[str, Any], given: float | None
) -> float:
    """Return the gauge pressure that the flow belongs to; a decay's flow belongs to its start."""
    if method == LeakTestMethod.PRESSURE_DECAY:
        return float(sent["start_pressure_gauge_pa"])
    return system.pressure_gauge_pa if given is None else given


def _machine(system: SupplySystem, compressor_id: uuid.UUID | None) -> Compressor | None:
    if compressor_id is None:
        return None
    machine = Compressor.objects.filter(pk=compressor_id, site_id=system.site_id).first()
    if machine is None:
        plant.unknown("/compressor_id")
    if machine.system_id != system.pk:
        plant.refuse("/compressor_id", "other_system", "The machine feeds another supply system.")
    return machine


def void_leak_test(*, actor: Actor, at: datetime, test_id: uuid.UUID, reason: str) -> LeakTest:
    """Void a test: it never counted. Raises NotFound, Invalid without a reason, LeakTestAlreadyVoid."""
    told = plant.check_reason(reason)
    with transaction.atomic():
        test = plant.void_row(LeakTest, test_id, at=at, reason=told, already=LeakTestAlreadyVoid)
        detail = {"system_id": test.system_id, "method": test.method, "taken_at": test.taken_at}
        log_of(test, "leak_test", actor, at, "leak_test.voided", detail, test.void_reason)
    return test
