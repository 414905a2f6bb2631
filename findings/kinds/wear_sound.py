"""What a recording says of a bearing or gear: whose rhythm it is, how grave that is, what it can't say."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from types import MappingProxyType
from typing import Any, Final

from findings.kinds.base import Kind
from findings.kinds.condition import ConditionFound, ConditionSource
from findings.physics.defect_frequencies import Geometry, defect_frequencies
from findings.physics.estimate import Reason
from findings.sound.rhythm import Character, Hit, Line, Match, hits

METHOD: Final = "wear_by_sound"
VERSION: Final = "1"
PARTS: Final[Mapping[str, str]] = MappingProxyType(
    {
        "outer_ring": "outer ring",
        "inner_ring": "inner ring",
        "element_both": "rolling element",
        "element_spin": "rolling element on one race",
        "cage": "cage",
    }
)
"""The parts of a rolling bearing whose damage has a rhythm of its own, and how people call them."""
RINGS_AND_ELEMENTS: Final = frozenset({"outer_ring", "inner_ring", "element_both", "element_spin"})
SHAFT: Final = "shaft"
MESH: Final = "gear_mesh"
MOST_HIT_ORDERS: Final = 2
LOOK_AGAIN_DAYS: Final[Mapping[int | None, int]] = MappingProxyType({None: 30, 1: 90, 2: 30, 3: 14, 4: 7})
"""The longest until the next look by severity: our judgement, a starting point for the site's engineer."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """What is known of the machine while it was recorded; None: nobody said it. Speed in Hz."""

    shaft_speed_hz: float | None = None
    geometry: Geometry | None = None
    gear_teeth: int | None = None
    mains_hz: float | None = None

    def known_hz(self) -> dict[str, float]:
        """Return the frequencies in Hz that this machine may beat at, by the part's key."""
        if self.shaft_speed_hz is None or self.shaft_speed_hz <= 0.0:
            return {}
        known = {SHAFT: self.shaft_speed_hz}
        if self.gear_teeth:
            known[MESH] = self.shaft_speed_hz * self.gear_teeth
        if self.mains_hz:
            known["twice_mains"] = 2.0 * self.mains_hz
        if self.geometry is not None:
            found = defect_frequencies(self.geometry, self.shaft_speed_hz)
            for part in PARTS:
                value = getattr(found, part).value
                if value is not None:
                    known[part] = value
        return known

    def spacing_hz(self) -> dict[str, float]:
        """Return where a part's sidebands lie: the shaft for a ring, the cage for an element."""
        known = self.known_hz()
        spacing = {"inner_ring": known[SHAFT], MESH: known[SHAFT]} if SHAFT in known else {}
        if "cage" in known:
            spacing |= dict.fromkeys(("element_both", "element_spin"), known["cage"])
        return spacing


def wear_by_sound(result: Mapping[str, Any], machine: Machine) -> ConditionFound:
    """Judge a recording's kept analysis beside what is known of the machine.

    Severity (our judgement): 4 where a ring's or element's rhythm has sidebands or two further orders, 3
    where it stands alone, 3 for irregular impacts, 2 for any other rhythm than the shaft's; None for a smooth
    sound, which clears nothing, and for one that could not be heard. An order is due for a part's own rhythm;
    whether any other sound asks for one is for a person to say.
    """
    lines = [Line(float(line["frequency_hz"]), float(line["above_floor_db"])) for line in result["lines"]]
    character = Character(result["character"])
    found = hits(lines, machine.known_hz(), machine.spacing_hz())
    heard = [hit for hit in found if hit.match is Match.FOUND and hit.name in PARTS]
    state, severity, order_due, reasons = _judged(character, heard, found, machine)
    return ConditionFound(
        kind=Kind.MECHANICAL_WEAR,
        source=ConditionSource.RECORDING,
        method=METHOD,
        version=VERSION,
        state=state,
        severity=severity,
        opens_finding=severity is not None and severity >= 3,
        order_due=order_due,
        look_again_days=LOOK_AGAIN_DAYS[severity],
        figures=_figures(result, found),
        inputs={"result": dict(result), "machine": _machine_json(machine)},
        reasons=tuple(reasons),
    )


def recomputed(inputs: Mapping[str, Any]) -> ConditionFound:
    """Judge once more from the kept inputs; raises KeyError, TypeError or ValueError for unreadable ones."""
    known = dict(inputs["machine"])
    geometry = known.pop("geometry")
    return wear_by_sound(
        inputs["result"], Machine(**known, geometry=None if geometry is None else Geometry(**geometry))
    )


def _judged(
    character: Character, heard: Sequence[Hit], found: Sequence[Hit], machine: Machine
) -> tuple[str, int | None, bool | None, list[Reason]]:
    """Return state, severity, whether an order is due, and why."""
    rolling = [hit for hit in heard if hit.name in RINGS_AND_ELEMENTS]
    if rolling:
        loudest = max(rolling, key=lambda hit: hit.harmonics[0].above_floor_db)
        return "part_heard", 4 if _is_plain(loudest) else 3, True, [_part_reason(loudest), *_rivals(loudest)]
    if heard:
        return "cage_heard", 3, True, [_part_reason(heard[0]), *_rivals(heard[0])]
    if character is Character.RHYTHMIC:
        return _other_rhythm(found, machine)
    if character is Character.IRREGULAR:
        return "irregular_impacts", 3, None, [_IRREGULAR]
    if character is Character.SMOOTH:
        return "smooth", None, None, [_SMOOTH, *_unknown(machine)]
    return "not_determined", None, None, [_UNDETERMINED]


def _other_rhythm(
    found: Sequence[Hit], machine: Machine
) -> tuple[str, int | None, bool | None, list[Reason]]:
    """Return what a rhythm means that is no part's own: the machine's usual beat, or nobody's."""
    usual = [hit for hit in found if hit.match is Match.FOUND]
    if usual:
        names = " and ".join(hit.name.replace("_", " ") for hit in usual)
        text = (
            f"It beats with the {names}, as such a machine may: unbalance, alignment, teeth or the drive's "
            "own magnetism. No rolling part's rhythm is heard, which doesn't prove them sound."
        )
        return "machine_rhythm", 2, None, [Reason("machine_rhythm", text), *_unknown(machine)]
    text = (
        "It beats, but with nothing that is known of this machine. Whose rhythm it is, a person has to find."
    )
    return "rhythm_unexplained", 2, None, [Reason("rhythm_unexplained", text), *_unknown(machine)]


def _is_plain(hit: Hit) -> bool:
    """Tell whether a part is heard beyond its first line: sidebands, or two further orders."""
    beside = any(one.sidebands for one in hit.harmonics)
    return beside or len(hit.harmonics) > MOST_HIT_ORDERS


def _part_reason(hit: Hit) -> Reason:
    first = hit.harmonics[0]
    orders = f", and {len(hit.harmonics) - 1} of its multiples" if len(hit.harmonics) > 1 else ""
    sides = ", with sidebands" if any(one.sidebands for one in hit.harmonics) else ""
    text = (
        f"The {PARTS[hit.name]}'s rhythm is heard: {first.frequency_hz:.1f} Hz where "
        f"{hit.frequency_hz:.1f} Hz is expected, {first.above_floor_db:.0f} dB above its "
        f"surroundings{orders}{sides}."
    )
    return Reason("part_heard", text)


def _rivals(hit: Hit) -> list[Reason]:
    if not hit.fits_as_well:
        return []
    names = ", ".join(name.replace("_", " ") for name in hit.fits_as_well)
    text = f"The same line would fit as well: {names}. Tell them apart at another speed or place."
    return [Reason("fits_as_well", text)]


def _unknown(machine: Machine) -> list[Reason]:
    """Return what has to be known before a rhythm can be given to a part."""
    if machine.shaft_speed_hz is None:
        text = "The shaft's speed isn't known, so that no rhythm can be given to a part. Note it."
        return [Reason("speed_unknown", text)]
    if machine.geometry is None:
        text = "The bearing's geometry isn't known, so that its parts' rhythms can't be looked for."
        return [Reason("geometry_unknown", text)]
    return []


_IRREGULAR: Final = Reason(
    "irregular_impacts", "Peaks without a rhythm: dirt, looseness or a rub. Look for the cause."
)
_SMOOTH: Final = Reason(
    "smooth",
    "Neither rhythm nor peaks. That clears nothing: noise hides weak impacts, and spread damage sounds "
    "smooth again; the level against its baseline decides.",
)
_UNDETERMINED: Final = Reason(
    "sound_not_determined", "The recording doesn't let the rhythm be judged; its own reasons say why."
)


def _figures(result: Mapping[str, Any], found: Sequence[Hit]) -> dict[str, Any]:
    """Return the numbers that people are shown, units in their names."""
    return {
        "character": result["character"],
        "fundamental_hz": result.get("fundamental_hz"),
        "kurtosis": (result.get("kurtosis") or {}).get("value"),
        "crest_factor": (result.get("crest_factor") or {}).get("value"),
        "parts": [
            {
                "part": hit.name,
                "expected_hz": hit.frequency_hz,
                "low_hz": hit.low_hz,
                "high_hz": hit.high_hz,
                "match": hit.match.value,
                "fits_as_well": list(hit.fits_as_well),
                "orders": [asdict(one) for one in hit.harmonics],
            }
            for hit in found
        ],
    }


def _machine_json(machine: Machine) -> dict[str, Any]:
    geometry = None if machine.geometry is None else machine.geometry._asdict()
    return {
        "shaft_speed_hz": machine.shaft_speed_hz,
        "geometry": geometry,
        "gear_teeth": machine.gear_teeth,
        "mains_hz": machine.mains_hz,
    }
