"""The invented plants: Tarnbeck Biscuit Works, and the small Corran Mill. Nothing here is real."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from findings.kinds.base import Kind, Medium
from findings.plant.rules import Method


@dataclass(frozen=True, slots=True)
class AssetPlan:
    """One asset: where it stands, what feeds it, and its spots by kind of finding."""

    code: str
    name: str
    area: str
    asset_class: str
    criticality: str = "B"
    parent: str = ""
    supplies: tuple[str, ...] = ()
    spots: tuple[tuple[Kind, Medium | None, tuple[str, ...]], ...] = ()
    restrictions: tuple[str, ...] = ()
    sunday_stop: bool = True


METHOD_OF: Final = {
    Kind.PRESSURE_LEAK: Method.AIRBORNE,
    Kind.VACUUM_LEAK: Method.AIRBORNE,
    Kind.ENCLOSURE_LEAK: Method.TONE_SOURCE,
    Kind.MECHANICAL_WEAR: Method.CONTACT,
    Kind.ELECTRICAL_DISCHARGE: Method.ELECTRICAL,
}
_SIX_DAYS: Final = ["mon", "tue", "wed", "thu", "fri", "sat"]
SHIFTS: Final = (
    {"days": _SIX_DAYS, "start": "06:00", "end": "14:00"},
    {"days": _SIX_DAYS, "start": "14:00", "end": "22:00"},
    # The night before Monday begins on Sunday evening.
    {"days": ["sun", "mon", "tue", "wed", "thu", "fri"], "start": "22:00", "end": "06:00"},
)
MILL_SHIFTS: Final = ({"days": _SIX_DAYS[:5], "start": "07:00", "end": "15:30"},)
SUNDAY_STOP: Final = [{"days": [0, 1, 2, 3, 4, 5], "start": "05:00", "end": "23:00"}]

AREAS: Final = (
    ("DOUGH", "Hall 1: dough and ovens"),
    ("WRAP", "Hall 2: wrapping"),
    ("UTIL", "Utilities building"),
    ("STORE", "Parts sluice and proving"),
)

AIR, VAC, N2, GAS, STEAM = "AIR7", "VAC1", "N2", "GAS", "STM"

SUPPLIES: Final = (
    # code, name, medium, header in Pa gauge, receivers and pipes in m3
    (AIR, "Compressed air, 7 bar", Medium.COMPRESSED_AIR, 700_000.0, 3.2),
    (VAC, "Pick-up vacuum", Medium.VACUUM, -70_000.0, None),
    (N2, "Nitrogen for flushing", Medium.NITROGEN, 500_000.0, None),
    (GAS, "Natural gas to the burners", Medium.NATURAL_GAS, 30_000.0, None),
    (STEAM, "Steam to the proving chamber", Medium.STEAM, 400_000.0, None),
)


def _air(*spots: str) -> tuple[Kind, Medium | None, tuple[str, ...]]:
    return Kind.PRESSURE_LEAK, Medium.COMPRESSED_AIR, spots


def _of(kind: Kind, medium: Medium | None, *spots: str) -> tuple[Kind, Medium | None, tuple[str, ...]]:
    return kind, medium, spots


def _wear(*spots: str) -> tuple[Kind, Medium | None, tuple[str, ...]]:
    return Kind.MECHANICAL_WEAR, None, spots


WRAPPER_SPOTS: Final = (
    "filter regulator bowl", "soft start valve", "valve island fitting 1", "valve island fitting 2",
    "valve island fitting 3", "valve island exhaust", "jaw cylinder rod seal", "jaw cylinder hose",
    "end seal cylinder", "film brake hose", "film tension regulator", "quick coupling left",
    "quick coupling right", "blow-off valve", "reject gate elbow", "reject gate cylinder", "splice table hose",
    "date coder connection", "dump valve", "drip leg",
)  # fmt: skip
CONVEYOR_SPOTS: Final = (
    "stopper cylinder", "stopper hose", "diverter hose", "diverter valve", "filter bowl", "quick coupling",
    "clamp cylinder", "side guide hose", "blow-off nozzle hose", "sensor purge line", "manifold plug",
)  # fmt: skip
OVEN_DOOR: Final = (
    "exhaust damper cylinder", "damper valve", "regulator at the frame", "belt tracking cylinder", "tracking valve",
    "brush lift cylinder", "purge fitting",
)  # fmt: skip
DRIVE: Final = ("motor drive end", "motor fan end", "gearbox input")
FAN: Final = ("fan bearing, drive end", "fan bearing, free end")
HALL_HOT: Final = ("hot surfaces", "guarded access only")


def _wrapper(number: int, criticality: str) -> tuple[AssetPlan, ...]:
    code = f"WR-{number}"
    return (
        AssetPlan(
            code, f"Flow wrapper {number}", "WRAP", "flow wrapper", criticality, "", (AIR, N2, VAC),
            (
                _air(*WRAPPER_SPOTS),
                _of(Kind.PRESSURE_LEAK, Medium.NITROGEN, "flush lance connection", "nitrogen hose"),
                _of(Kind.VACUUM_LEAK, Medium.VACUUM, "pick-up head", "vacuum hose", "ejector gasket", "rotary union", "filter cup", "check valve"),
            ),
            ("guarded access only",),
        ),
        AssetPlan(f"{code}-DRV", f"Drive of wrapper {number}", "WRAP", "drive", criticality, code, (), (_wear(*DRIVE),)),
    )  # fmt: skip


def _conveyor(number: int, area: str) -> AssetPlan:
    return AssetPlan(
        f"CV-{number}", f"Conveyor {number}", area, "conveyor", "C", "", (AIR,),
        (_air(*CONVEYOR_SPOTS), _wear("head drum bearing", "tail drum bearing")),
    )  # fmt: skip


def _oven(number: int) -> tuple[AssetPlan, ...]:
    code = f"OV-{number}"
    gas = _of(Kind.PRESSURE_LEAK, Medium.NATURAL_GAS, "burner train flange", "gas valve gland")
    return (
        AssetPlan(code, f"Tunnel oven {number}", "DOUGH", "oven", "A", "", (AIR, GAS), (_air(*OVEN_DOOR), gas), HALL_HOT),
        AssetPlan(f"{code}-FAN", f"Circulation fan of oven {number}", "DOUGH", "fan", "A", code, (), (_wear(*FAN),), HALL_HOT),
    )  # fmt: skip


def _panel(number: int, name: str, area: str, criticality: str) -> AssetPlan:
    discharge = _of(Kind.ELECTRICAL_DISCHARGE, None, "door seam, upper", "door seam, lower")
    return AssetPlan(
        f"EP-{number}", name, area, "electrical panel", criticality, "", (), (discharge,),
        ("doors stay closed", "qualified persons only"), sunday_stop=False,
    )  # fmt: skip


def _gasketed(code: str, name: str, *spots: str) -> AssetPlan:
    return AssetPlan(
        code, name, "STORE", "gasketed door", "C", "", (), (_of(Kind.ENCLOSURE_LEAK, None, *spots),)
    )


ASSETS: Final[tuple[AssetPlan, ...]] = (
    AssetPlan("MX-1", "Dough mixer 1", "DOUGH", "mixer", "A", "", (AIR,), (_air("lid cylinder", "lid valve", "hose reel", "tilt cylinder", "flour gate valve", "filter bowl"), _wear(*DRIVE))),
    AssetPlan("MX-2", "Dough mixer 2", "DOUGH", "mixer", "B", "", (AIR,), (_air("lid cylinder", "lid valve", "hose reel", "tilt cylinder", "flour gate valve", "filter bowl"), _wear(*DRIVE))),
    AssetPlan("SH-1", "Sheeter", "DOUGH", "sheeter", "A", "", (AIR,), (_air("scraper cylinder", "tension regulator", "hose"), _wear(*DRIVE))),
    *_oven(1),
    *_oven(2),
    _conveyor(1, "DOUGH"),
    _conveyor(2, "DOUGH"),
    AssetPlan("DF-1", "Dust fan, flour", "DOUGH", "fan", "B", "", (), (_wear(*FAN),)),
    AssetPlan("DF-2", "Dust fan, sugar", "DOUGH", "fan", "B", "", (), (_wear(*FAN),)),
    *_wrapper(1, "A"),
    *_wrapper(2, "A"),
    *_wrapper(3, "B"),
    *_wrapper(4, "B"),
    _conveyor(3, "WRAP"),
    _conveyor(4, "WRAP"),
    _conveyor(5, "WRAP"),
    _conveyor(6, "STORE"),
    AssetPlan("PK-1", "Case packer", "WRAP", "packer", "B", "", (AIR, VAC), (
        _air("erector cylinder", "erector valve", "glue unit regulator", "coupling"),
        _of(Kind.VACUUM_LEAK, Medium.VACUUM, "suction cup row 1", "suction cup row 2"),
    )),
    AssetPlan("AC-1", "Screw compressor 1, fixed speed", "UTIL", "compressor", "A", "", (AIR,), (_air("separator flange", "drain valve", "aftercooler union", "minimum pressure valve", "control line"), _wear(*DRIVE)), sunday_stop=False),
    AssetPlan("AC-2", "Screw compressor 2, variable speed", "UTIL", "compressor", "A", "", (AIR,), (_air("separator flange", "drain valve", "aftercooler union", "minimum pressure valve", "control line"), _wear(*DRIVE)), sunday_stop=False),
    AssetPlan("RC-1", "Air receiver, 3 m³", "UTIL", "receiver", "B", "", (AIR,), (_air("safety valve seat", "drain valve", "manhole gasket"),), sunday_stop=False),
    AssetPlan("DR-1", "Refrigerant dryer", "UTIL", "dryer", "B", "", (AIR,), (_air("bypass valve", "drain valve"),), sunday_stop=False),
    AssetPlan("RM-1", "Ring main", "UTIL", "pipe run", "A", "", (AIR,), (_air("isolation valve hall 1", "isolation valve hall 2", "flange at the bridge", "dead leg cap"),), ("work at height",), sunday_stop=False),
    AssetPlan("VP-1", "Vacuum pump 1", "UTIL", "vacuum pump", "B", "", (VAC,), (_of(Kind.VACUUM_LEAK, Medium.VACUUM, "inlet flange", "filter lid"), _wear(*DRIVE))),
    AssetPlan("VP-2", "Vacuum pump 2", "UTIL", "vacuum pump", "B", "", (VAC,), (_of(Kind.VACUUM_LEAK, Medium.VACUUM, "inlet flange", "filter lid"), _wear(*DRIVE))),
    AssetPlan("SB-1", "Steam boiler", "UTIL", "boiler", "A", "", (STEAM, GAS), (
        _of(Kind.PRESSURE_LEAK, Medium.STEAM, "main stop valve gland", "trap bypass"),
        _of(Kind.PRESSURE_LEAK, Medium.NATURAL_GAS, "gas train flange"),
    ), ("hot surfaces",), sunday_stop=False),
    _panel(1, "Main switch room, incoming panel", "UTIL", "A"),
    _panel(2, "Distribution panel, hall 1", "DOUGH", "B"),
    _panel(3, "Distribution panel, hall 2", "WRAP", "B"),
    _gasketed("PC-1", "Proving chamber door", "top edge", "hinge side", "lock side", "sill", "seam, all round"),
    _gasketed("PS-1", "Parts sluice, outer door", "top edge", "lock side", "sill"),
    _gasketed("PS-2", "Parts sluice, inner door", "top edge", "lock side", "sill"),
)  # fmt: skip
"""Tarnbeck's assets."""

COMPRESSORS: Final = (
    # code, asset, control, rated m³/min at 1 bar and 20 °C, rated kW, years before today it came, part load
    (
        "AC-1",
        "load_unload",
        10.0,
        66.0,
        None,
        {"load_order": 1, "unloaded_share": 0.27, "part_load_points": [[0.0, 0.27], [0.5, 0.68], [1.0, 1.0]]},
    ),
    ("AC-2", "variable_speed", 8.5, 58.0, 1, {"load_order": 2, "least_share": 0.25}),
)
DEMANDS_M3_PER_MIN: Final = (
    # from so many days before today, what the machines delivered on average while they ran, and who says so
    (10_000, "8.6", "station log, AC-1 alone"),
    (365, "14.2", "station log, both machines"),
    (120, "13.7", "station log, a month of production"),
)
"""Mean demand of the air system, leaks included: invented, like the plant."""

PEOPLE: Final = (
    ("ines.falk", "Ines", "Falk", "inspector"),
    ("jonas.brandt", "Jonas", "Brandt", "inspector"),
    ("petra.kern", "Petra", "Kern", "planner"),
    ("tomas.weiss", "Tomas", "Weiss", "technician"),
    ("lea.sommer", "Lea", "Sommer", "technician"),
    ("marta.lindner", "Marta", "Lindner", "manager"),
    ("carl.osten", "Carl", "Osten", "manager"),
)
SERVICE_ACCOUNT: Final = ("bridge.tbw", "integrator")

MILL_PEOPLE: Final = (
    ("rosa.hale", "Rosa", "Hale", "manager"),
    ("sam.quill", "Sam", "Quill", "inspector"),
)
MILL_AREAS: Final = (("MILL", "Roller floor"), ("PACK", "Packing"))
MILL_SUPPLY: Final = ("AIR100", "Plant air, 100 psig", Medium.COMPRESSED_AIR, 689_475.7293)
MILL_ASSETS: Final = (
    AssetPlan("RL-1", "Roller mill 1", "MILL", "roller mill", "A", "", ("AIR100",), (_air("feed gate cylinder", "feed gate valve", "filter bowl"), _wear(*DRIVE))),
    AssetPlan("RL-2", "Roller mill 2", "MILL", "roller mill", "B", "", ("AIR100",), (_air("feed gate cylinder", "feed gate valve", "filter bowl"), _wear(*DRIVE))),
    AssetPlan("BG-1", "Bagger", "PACK", "bagger", "B", "", ("AIR100",), (_air("clamp cylinder", "clamp valve", "coupling", "hose"),)),
    AssetPlan("CP-1", "Rotary compressor", "PACK", "compressor", "A", "", ("AIR100",), (_air("separator flange", "drain valve"),)),
)  # fmt: skip

PRICES: Final = (
    # quarters before today, EUR per kWh, where it is said
    (9, Decimal("0.182"), "supply contract, first term"),
    (4, Decimal("0.214"), "supply contract, second term"),
)
