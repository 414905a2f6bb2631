"""From an assessment's floating number to the exact decimal that money is made of."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from findings.losses.actions import Rate
from findings.physics.estimate import Status
from findings.register.models import Assessment, Finding

QUANTUM = Decimal("1e-12")


def decimal_of(number: float | None) -> Decimal | None:
    """Return a flow in m3/s with the twelve decimals that are kept; a lower bound never falls below zero."""
    return None if number is None else Decimal(repr(max(number, 0.0))).quantize(QUANTUM)


def rate_of(assessment: Assessment | None) -> Rate | None:
    """Return the rate that an assessment states; None where it was refused or is indicative only.

    Whatever makes money of a rate asks here, so that no order of magnitude ever becomes money.
    """
    value = None if assessment is None else decimal_of(assessment.leak_rate_m3_per_s)
    if assessment is None or value is None or assessment.status == Status.INDICATIVE:
        return None
    return Rate(
        value=value,
        low=decimal_of(assessment.low_m3_per_s),
        high=decimal_of(assessment.high_m3_per_s),
        method=assessment.method,
        method_version=assessment.method_version,
        assessment_id=assessment.pk,
    )


def fields_of(assessment: Assessment) -> dict[str, Any]:
    """Return what a finding keeps of an assessment; of an indicative one its interval, and no rate."""
    if assessment.status != Status.INDICATIVE:
        return finding_fields(rate_of(assessment), assessment.status)
    return {
        "leak_rate_m3_per_s": None,
        "leak_rate_low_m3_per_s": decimal_of(assessment.low_m3_per_s),
        "leak_rate_high_m3_per_s": decimal_of(assessment.high_m3_per_s),
        "leak_rate_status": Status.INDICATIVE,
        "standing_id": None,
    }


def indication(finding: Finding, assessment: Assessment | None) -> dict[str, Any]:
    """Return what a finding keeps of an indicative assessment; a rate that it has is never unsaid by one."""
    if assessment is None or assessment.status != Status.INDICATIVE:
        return {}
    return {} if finding.leak_rate_m3_per_s is not None else fields_of(assessment)


def finding_fields(rate: Rate | None, status: str) -> dict[str, Any]:
    """Return what a finding keeps of the assessment that stands."""
    if rate is None:
        return {
            "leak_rate_m3_per_s": None,
            "leak_rate_low_m3_per_s": None,
            "leak_rate_high_m3_per_s": None,
            "leak_rate_status": Status.REFUSED,
            "standing_id": None,
        }
    return {
        "leak_rate_m3_per_s": rate.value,
        "leak_rate_low_m3_per_s": rate.low,
        "leak_rate_high_m3_per_s": rate.high,
        "leak_rate_status": status,
        "standing_id": rate.assessment_id,
    }
