"""Assess the evidence of any kind of leak, keep it as JSON, and compute it once more from there."""

from collections.abc import Callable, Mapping
from dataclasses import MISSING, fields, replace
from types import MappingProxyType
from typing import Any, Final, NamedTuple

from findings.kinds import enclosure_leak, level_evidence, pressure_leak, vacuum_leak
from findings.kinds.base import Kind, Medium
from findings.kinds.enclosure_leak import EnclosureLeakEvidence
from findings.kinds.pressure_leak import PressureLeakEvidence
from findings.kinds.vacuum_leak import VacuumLeakEvidence
from findings.physics.estimate import Estimate, Reason, refused
from findings.physics.leak_flow import Edge
from findings.physics.steam import booked_as_vapour

LeakEvidence = PressureLeakEvidence | VacuumLeakEvidence | EnclosureLeakEvidence


class _Form(NamedTuple):
    """The evidence of a kind, and what assesses it in m3/s."""

    evidence: type[Any]
    assess: Callable[[Any], Estimate]


def _pressure_leak(evidence: PressureLeakEvidence) -> Estimate:
    """Return a pressure leak's flow in m3/s at 1 bar 20 °C, steam as the volume of its books."""
    estimate = pressure_leak.assess(evidence)
    return booked_as_vapour(estimate) if estimate.unit == "kg/s" else estimate


_FORMS: Final[Mapping[Kind, _Form]] = MappingProxyType(
    {
        Kind.PRESSURE_LEAK: _Form(PressureLeakEvidence, _pressure_leak),
        Kind.VACUUM_LEAK: _Form(VacuumLeakEvidence, vacuum_leak.assess),
        Kind.ENCLOSURE_LEAK: _Form(EnclosureLeakEvidence, enclosure_leak.assess),
    }
)
_WORDS: Final[Mapping[str, Callable[[Any], Any]]] = MappingProxyType({"medium": Medium, "edge": Edge})
_TEXTS: Final = frozenset({"gas_name", "measured_method", "measured_state", "stated_state"})
_NOT_KEPT = Reason(
    "evidence_not_kept",
    "This assessment was made before the whole evidence was kept with it, so it can't be computed again; "
    "the readings of the finding still can be assessed anew.",
)


def assess(kind: Kind, evidence: LeakEvidence) -> Estimate:
    """Return what evidence of a kind says of the flow, in m3/s at 1 bar 20 °C, or the refusal."""
    return _FORMS[kind].assess(evidence)


def evidence_to_json(evidence: LeakEvidence) -> dict[str, Any]:
    """Return every field of the evidence in plain JSON types."""
    return {field.name: _plain(getattr(evidence, field.name)) for field in fields(evidence)}


def evidence_from_json(kind: Kind, kept: Mapping[str, Any]) -> LeakEvidence:
    """Return the evidence that ``evidence_to_json`` wrote; a field added since takes its default.

    Raises KeyError, TypeError or ValueError for anything else.
    """
    form = _FORMS[kind].evidence
    known = {field.name: field for field in fields(form)}
    if kept.keys() - known.keys():
        msg = "a field of the evidence isn't known"
        raise ValueError(msg)
    needed = {name for name, field in known.items() if field.default is MISSING}
    if needed - kept.keys():
        msg = "a field of the evidence is missing"
        raise ValueError(msg)
    evidence: LeakEvidence = form(**{name: _read(name, value) for name, value in kept.items()})
    return evidence


def recompute(kind: Kind, inputs: Mapping[str, Any]) -> Estimate:
    """Return what the kept inputs of an assessment give by the present version of its method.

    Never raises: inputs without the whole evidence, or with one that can't be read, are refused.
    """
    if kind not in _FORMS:
        return _refusal(kind, Reason("kind_not_computed", "No flow is computed for this kind of finding."))
    kept = inputs.get("evidence")
    if not isinstance(kept, Mapping):
        return _refusal(kind, _NOT_KEPT)
    try:
        evidence = evidence_from_json(kind, kept)
        if isinstance(evidence, PressureLeakEvidence) and evidence.level is not None:
            evidence = replace(evidence, level=level_evidence.recomputed(evidence.level))
    except (KeyError, TypeError, ValueError):
        text = "The evidence kept with this assessment isn't in a form that is known today."
        return _refusal(kind, Reason("evidence_unreadable", text))
    return assess(kind, evidence)


def _refusal(kind: Kind, reason: Reason) -> Estimate:
    return refused(unit="m3/s", method=kind.value, version="1", reasons=(reason,), inputs={})


def _plain(value: Any) -> Any:
    return value.to_json() if isinstance(value, Estimate) else value


def _read(name: str, value: Any) -> Any:
    if name in _WORDS:
        return _WORDS[name](value)
    if value is None:
        return None
    if isinstance(value, Mapping):
        return Estimate.from_json(value)  # a finished estimate that the evidence holds
    if name in _TEXTS:
        if not isinstance(value, str):
            msg = "a text is needed"
            raise TypeError(msg)
        return value
    return float(value)
