"""From what an inspector's detector showed at a leak to the leak's flow, every step kept.

Background off, brought to 1 m, asked of the level model. Wherever a step doesn't hold the flow is refused and
the leak only ranked: a direct measurement supersedes any of this.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any, NamedTuple

from findings.physics import level_model
from findings.physics.acoustics import (
    BACKGROUND_RULES,
    DEFAULT_BACKGROUND_RULE,
    REFERENCE_PRESSURE_PA,
    Air,
    BackgroundStatus,
    Corrected,
    air_absorption,
    correct_background,
    normalise_level,
    problems_of_level,
)
from findings.physics.estimate import Estimate, Reason, refused
from findings.physics.input_check import finite_or_none, number_problems
from findings.physics.jet_noise import DETECTOR_FREQUENCY_HZ
from findings.physics.level_fit import PRIOR_FAMILIES
from findings.physics.level_form import VERSION
from findings.physics.level_model import LeakFamily, LevelModel
from findings.physics.uncertainty import Uncertain

OUT = "out"
IN = "in"
ROOM_PA = (5e4, 1.2e5)
"""Between these a jet ends in a room or the open; the model isn't asked about closed vessels (judgement)."""
ASSUMED_DISTANCE_RELATIVE_U = 0.1

_FAMILY_WORDS = {
    LeakFamily.HOLE: "round holes",
    LeakFamily.SLOT: "slots and cracks",
    LeakFamily.THREAD: "screwed joints",
    LeakFamily.PACKING: "packings",
    LeakFamily.UNKNOWN: "leaks of unknown shape",
}


@dataclass(frozen=True, kw_only=True)
class LevelEvidence:
    """What was read at a leak, and in which air.

    Levels in dB as the detector showed them; ``absolute_scale`` says that they refer to 20 µPa. Pressures are
    absolute in Pa, humidity 0 to 1, ``..._u_...`` standard uncertainties. ``direction`` is "out" of the line,
    or "in" for a vacuum. None stands for what nobody knows: weather and downstream pressure have stand-ins.
    Raises ValueError for an unknown family, direction or background rule.
    """

    level_db: float
    background_db: float | None = None
    background_rule: str = DEFAULT_BACKGROUND_RULE
    distance_m: float | None = None
    distance_u_m: float | None = None
    frequency_hz: float = DETECTOR_FREQUENCY_HZ
    air_temperature_k: float | None = None
    relative_humidity: float | None = None
    air_pressure_pa: float | None = None
    upstream_absolute_pa: float | None = None
    downstream_absolute_pa: float | None = None
    gas: str = "air"
    family: LeakFamily = LeakFamily.UNKNOWN
    absolute_scale: bool = False
    direction: str = OUT
    level_u_db: float = 0.0

    def __post_init__(self) -> None:
        """Check the words, and take a family by its name too."""
        object.__setattr__(self, "family", LeakFamily(self.family))
        if self.direction not in (OUT, IN) or self.background_rule not in BACKGROUND_RULES:
            msg = f"a direction is {OUT} or {IN}, the background rules are {', '.join(BACKGROUND_RULES)}"
            raise ValueError(msg)

    @property
    def air(self) -> Air:
        """Return the air between leak and detector, usual values standing in for unknown ones."""
        known = {
            "temperature_k": self.air_temperature_k,
            "relative_humidity": self.relative_humidity,
            "pressure_pa": self.air_pressure_pa,
        }
        given = {name: value for name, value in known.items() if value is not None}
        # The air's pressure moves the absorption by a few per cent only; its lack isn't worth a remark.
        measured = self.air_temperature_k is not None and self.relative_humidity is not None
        return Air(**given, measured=measured)

    @property
    def behind_pa(self) -> float:
        """Return the absolute pressure the leak blows into."""
        if self.downstream_absolute_pa is not None:
            return self.downstream_absolute_pa
        return self.air_pressure_pa if self.air_pressure_pa is not None else REFERENCE_PRESSURE_PA

    def to_json(self) -> dict[str, Any]:
        """Return a dictionary of plain JSON types; a number JSON can't carry becomes None."""
        plain = {name: finite_or_none(value) for name, value in asdict(self).items()}
        return plain | {"family": self.family.value}


class LevelAtOneMetre(NamedTuple):
    """The level of the leak alone at 1 m, what was taken off for the background, and what was assumed."""

    estimate: Estimate
    background: Corrected
    remarks: tuple[Reason, ...]


def level_at_1_m(evidence: LevelEvidence) -> LevelAtOneMetre:
    """Return the leak's own level at 1 m in dB with its interval, or why it can't be had.

    An upper bound is brought to 1 m too: it may rank.
    """
    remarks = []
    level = Uncertain(evidence.level_db, evidence.level_u_db)
    background = Corrected(evidence.level_db, 0.0, BackgroundStatus.NONE)
    if evidence.background_db is None:
        text = "No background was read beside the leak; its part in the level isn't known."
        remarks.append(Reason("background_not_read", text))
    elif not problems_of_level(level) and not problems_of_level(Uncertain(evidence.background_db)):
        background = correct_background(evidence.level_db, evidence.background_db, evidence.background_rule)
    distance, distance_u = evidence.distance_m, evidence.distance_u_m
    if distance is None:
        text = "The distance to the leak isn't recorded; without it the level can't be brought to 1 m."
        estimate = _no_level((Reason("distance", text),))
        return LevelAtOneMetre(estimate, background, tuple(remarks))
    if distance_u is None:
        distance_u = ASSUMED_DISTANCE_RELATIVE_U * abs(distance)
        text = "No uncertainty came with the distance; a tenth of it is assumed (judgement)."
        remarks.append(Reason("distance_uncertainty_assumed", text))
    absorption = air_absorption(evidence.frequency_hz, evidence.air)
    own = Uncertain(background.level_db, evidence.level_u_db * background.u_factor)
    estimate = normalise_level(own, Uncertain(distance, distance_u), absorption)
    if evidence.background_db is not None:
        problems = problems_of_level(Uncertain(evidence.background_db))
        estimate = _no_level(problems) if problems else estimate
    return LevelAtOneMetre(estimate, background, tuple(remarks))


def _no_level(reasons: tuple[Reason, ...]) -> Estimate:
    """Return the refusal of a level."""
    return refused(unit="dB", method="distance", version="1", reasons=reasons, inputs={})


def flow_from_level(evidence: LevelEvidence, model: LevelModel) -> Estimate:
    """Return the leak's flow in m3/s at 1 bar 20 °C by its level, or every reason why not.

    The inputs hold the evidence, the model and each step between, so that an old estimate can be recomputed.
    Without measured leaks (``prior_model``) only an absolute scale, air, a jet into the room and a hole or
    unknown shape are taken, as an order of magnitude.
    """
    heard = level_at_1_m(evidence)
    no_jet = _problems_of_pressure(evidence)
    problems = [*_problems_of_leak(evidence, model), *no_jet]
    problems += _problems_of_background(evidence, heard.background)
    if heard.estimate.is_refused:
        problems += heard.estimate.reasons
    inputs: dict[str, Any] = {
        "reference_state": "bar20",
        "evidence": evidence.to_json(),
        "model": model.to_json(),
        "background_correction_db": finite_or_none(heard.background.correction_db),
        "background_status": heard.background.status.value,
        "level_at_1_m_db": heard.estimate.value,
        "level_at_1_m_u_db": heard.estimate.u,
        "absorption_db_per_m": heard.estimate.inputs.get("absorption_db_per_m"),
    }
    level, level_u, upstream = heard.estimate.value, heard.estimate.u, evidence.upstream_absolute_pa
    if level is None or level_u is None or upstream is None or no_jet:
        return _refusal(problems, inputs)
    estimate = level_model.predict(
        model, level, upstream / evidence.behind_pa, level_u, frequency_hz=evidence.frequency_hz
    )
    if problems or estimate.is_refused:
        return _refusal([*problems, *(estimate.reasons if estimate.is_refused else ())], inputs)
    remarks = (*estimate.reasons, *heard.remarks, *heard.estimate.reasons)
    return replace(estimate, reasons=tuple(dict.fromkeys(remarks)), inputs={**estimate.inputs, **inputs})


def recomputed(kept: Estimate) -> Estimate:
    """Return what the evidence and the model kept with a level's estimate give today.

    An estimate that kept neither stays as it is. Raises KeyError, TypeError or ValueError for others.
    """
    evidence, model = kept.inputs.get("evidence"), kept.inputs.get("model")
    if not isinstance(evidence, Mapping) or not isinstance(model, Mapping):
        return kept
    return flow_from_level(LevelEvidence(**evidence), LevelModel.from_json(model))


def _refusal(problems: list[Reason], inputs: dict[str, Any]) -> Estimate:
    """Return the refusal of a flow."""
    return refused(
        unit="m3/s",
        method=level_model.METHOD,
        version=VERSION,
        reasons=tuple(dict.fromkeys(problems)),
        inputs=inputs,
    )


def _problems_of_background(evidence: LevelEvidence, background: Corrected) -> list[Reason]:
    """Return why the background leaves too little of the reading."""
    if background.status is not BackgroundStatus.UPPER_BOUND:
        return []
    text = (
        f"The background of {evidence.background_db:.1f} dB is too near the reading of "
        f"{evidence.level_db:.1f} dB: the leak's own level is only known from above. Shield it or come "
        "back when it is quieter; until then the reading may rank, not measure."
    )
    return [Reason("background", text)]


def _problems_of_leak(evidence: LevelEvidence, model: LevelModel) -> list[Reason]:
    """Return why the model doesn't hold for this instrument, gas and kind of leak."""
    problems = []
    if model.uses_prior and not evidence.absolute_scale:
        text = (
            "The instrument shows its own decibels, not dB re 20 µPa, and too few leaks were measured with "
            "it: its levels rank leaks but don't say how large they are."
        )
        problems.append(Reason("no_absolute_reference", text))
    if evidence.gas != model.gas:
        text = (
            f"The leak is of {evidence.gas.replace('_', ' ')}; the estimate holds for "
            f"{model.gas.replace('_', ' ')}. Measure leaks of this gas, or this one directly."
        )
        problems.append(Reason("gas", text))
    known = PRIOR_FAMILIES if model.uses_prior and not model.count else (model.family,)
    if evidence.family not in known:
        kind = "its kind isn't recorded"
        if evidence.family is not LeakFamily.UNKNOWN:
            kind = f"this one is of the kind {_FAMILY_WORDS[evidence.family]}"
        text = (
            f"The estimate holds for {_FAMILY_WORDS[model.family]}, but {kind}: each kind turns the same "
            "flow into another level. Record the kind, measure some leaks of it, or this one directly."
        )
        problems.append(Reason("family", text))
    return problems


def _problems_of_pressure(evidence: LevelEvidence) -> list[Reason]:
    """Return why the pressures don't make the jet the model knows: gas out of a line into the room."""
    upstream, behind = evidence.upstream_absolute_pa, evidence.behind_pa
    if evidence.direction != OUT or behind < ROOM_PA[0] or (upstream is not None and upstream < ROOM_PA[0]):
        text = (
            "Air is drawn in, not blown out: the noise of a vacuum leak goes into the line and the level "
            "outside doesn't tell the flow. Use the hole's size or the pump's load."
        )
        return [Reason("vacuum", text)]
    if upstream is None:
        text = "The pressure before the leak isn't known; the same level means another flow at another one."
        return [Reason("pressure_missing", text)]
    numbers = number_problems((), (upstream, behind))
    if numbers:
        return list(numbers)
    if behind > ROOM_PA[1]:
        text = "The leak blows into a space under pressure; the estimate holds for jets into the open room."
        return [Reason("regime", text)]
    if upstream <= behind:
        text = "The pressure before the leak isn't above that behind it: there is no jet."
        return [Reason("regime", text)]
    return []
