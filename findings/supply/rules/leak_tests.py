"""The whole leakage of a supply system, measured: what was sent becomes a flow, or is refused in words.

Flows stand at 1 bar, 20 °C, dry; pressures that are sent are gauge.
"""

from collections.abc import Mapping
from enum import StrEnum
from typing import Any, Final

from findings.kinds.base import Medium
from findings.physics.direct_flow import load_unload_flow, pressure_decay_flow, stated_flow
from findings.physics.estimate import Estimate, Reason, Status
from findings.physics.reference_states import DEFAULT_STATE
from findings.physics.uncertainty import Uncertain
from findings.supply.rules.stated import ControlType, refuse_supply


class LeakTestMethod(StrEnum):
    """How the whole leakage was measured; none of them with production running."""

    LOAD_UNLOAD = "load_unload"
    BASE_FLOW = "base_flow"
    PRESSURE_DECAY = "pressure_decay"


NEEDED: Final[Mapping[LeakTestMethod, tuple[str, ...]]] = {
    LeakTestMethod.LOAD_UNLOAD: ("load_s", "unload_s"),
    LeakTestMethod.BASE_FLOW: ("flow_m3_per_s",),
    LeakTestMethod.PRESSURE_DECAY: ("start_pressure_gauge_pa", "end_pressure_gauge_pa", "duration_s"),
}
"""What has to be sent for each method."""
ALLOWED: Final[Mapping[LeakTestMethod, tuple[str, ...]]] = {
    LeakTestMethod.LOAD_UNLOAD: ("time_u_s", "capacity_m3_per_s", "capacity_u_m3_per_s"),
    LeakTestMethod.BASE_FLOW: ("flow_u_m3_per_s",),
    LeakTestMethod.PRESSURE_DECAY: ("volume_m3", "volume_u_m3", "pressure_u_pa", "duration_u_s"),
}
"""What may be sent beside it; the rest of what could be sent belongs to another method."""

CAPACITY_RELATIVE_U: Final = 0.03
"""Of a machine's rated delivery (judgement; acceptance tests allow a few per cent)."""
VOLUME_RELATIVE_U: Final = 0.10
"""Of the volume of receivers and pipes when nobody stated it better (judgement)."""
GAUGE_U_PA: Final = 2_000.0
STOPWATCH_U_S: Final = 1.0
TEMPERATURE_U_K: Final = 3.0
"""Of an ordinary gauge, a hand-held stopwatch and the air in the pipes (judgement)."""
TESTED_MEDIA: Final = frozenset(set(Medium) - {Medium.VACUUM, Medium.STEAM})


def check_sent(method: LeakTestMethod, sent: Mapping[str, Any]) -> None:
    """Raise SupplyRefused unless exactly what the method needs was sent."""
    for name in NEEDED[method]:
        if name not in sent:
            refuse_supply(name, "required", f"A test by {method.replace('_', ' ')} needs it.")
    for name in sent:
        if name not in (*NEEDED[method], *ALLOWED[method]):
            text = f"It says nothing about a test by {method.replace('_', ' ')}."
            refuse_supply(name, "needless", text)


def check_testable(method: LeakTestMethod, medium: str, control: str | None) -> None:
    """Raise SupplyRefused where the method tells nothing of this medium, or of this machine's control."""
    if medium not in TESTED_MEDIA:
        text = "The leakage of a vacuum or of steam isn't told by this test."
        refuse_supply("method", "medium_not_testable", text)
    if method == LeakTestMethod.PRESSURE_DECAY and medium != Medium.COMPRESSED_AIR:
        text = "Pressure decay is worked out for compressed air only; meter the flow instead."
        refuse_supply("method", "medium_not_testable", text)
    if control is not None and control not in {ControlType.LOAD_UNLOAD, ControlType.START_STOP}:
        text = "The times tell the leakage only of a machine that loads and unloads, or starts and stops."
        refuse_supply("compressor_id", "control_not_timed", text)


def total_leakage(
    method: LeakTestMethod,
    sent: Mapping[str, Any],
    *,
    atmosphere_pa: float,
    temperature_k: float,
    capacity_m3_per_s: float | None = None,
    storage_m3: float | None = None,
) -> Estimate:
    """Return the whole leak flow at 1 bar, 20 °C, dry, or the refusal with its reasons.

    ``sent`` holds what ``check_sent`` let through; capacity (at 1 bar, 20 °C) and storage are taken from the
    machine and the system where they weren't sent.
    """
    if method == LeakTestMethod.LOAD_UNLOAD:
        return _load_unload(sent, capacity_m3_per_s)
    if method == LeakTestMethod.PRESSURE_DECAY:
        return _decay({"volume_m3": storage_m3, **sent}, atmosphere_pa, temperature_k)
    return stated_flow(
        sent["flow_m3_per_s"],
        sent.get("flow_u_m3_per_s"),
        status=Status.MEASURED,
        method=LeakTestMethod.BASE_FLOW.value,
    )


def _load_unload(sent: Mapping[str, Any], rated: float | None) -> Estimate:
    capacity = sent.get("capacity_m3_per_s", rated)
    if capacity is None:
        text = "Name the machine that was timed, or its delivery."
        refuse_supply("capacity_m3_per_s", "required", text)
    spread = sent.get("capacity_u_m3_per_s", capacity * CAPACITY_RELATIVE_U)
    return load_unload_flow(
        sent["load_s"],
        sent["unload_s"],
        Uncertain(capacity, spread),
        time_u_s=sent.get("time_u_s", STOPWATCH_U_S),
    )


def _decay(sent: Mapping[str, Any], atmosphere_pa: float, temperature_k: float) -> Estimate:
    volume, gauge_u = sent["volume_m3"], sent.get("pressure_u_pa", GAUGE_U_PA)
    if volume is None:
        text = "Name the volume that was shut in, or record the storage of the system."
        refuse_supply("volume_m3", "required", text)
    return pressure_decay_flow(
        Uncertain(volume, sent.get("volume_u_m3", volume * VOLUME_RELATIVE_U)),
        Uncertain(sent["start_pressure_gauge_pa"] + atmosphere_pa, gauge_u),
        Uncertain(sent["end_pressure_gauge_pa"] + atmosphere_pa, gauge_u),
        Uncertain(sent["duration_s"], sent.get("duration_u_s", STOPWATCH_U_S)),
        temperature_k=Uncertain(temperature_k, TEMPERATURE_U_K),
        atmosphere_pa=atmosphere_pa,
    )


def at_reference(flow_m3_per_s: float, *, atmosphere_pa: float) -> float:
    """Return a flow of inlet air at the site's atmosphere and 20 °C as one at 1 bar and 20 °C."""
    return flow_m3_per_s * atmosphere_pa / DEFAULT_STATE.pressure_pa


def assumed(sent: Mapping[str, Any], method: LeakTestMethod) -> tuple[Reason, ...]:
    """Return what was assumed of the uncertainty of a test, in words."""
    if method == LeakTestMethod.LOAD_UNLOAD and "capacity_u_m3_per_s" not in sent:
        text = f"The delivery is taken as known to {CAPACITY_RELATIVE_U:.0%} (judgement)."
        return (Reason("capacity_uncertainty_assumed", text),)
    if method == LeakTestMethod.PRESSURE_DECAY and "volume_u_m3" not in sent:
        text = f"The volume is taken as known to {VOLUME_RELATIVE_U:.0%} (judgement)."
        return (Reason("volume_uncertainty_assumed", text),)
    return ()
