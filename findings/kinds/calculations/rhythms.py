"""Rhythm and peaks of a recording at a machine, from the figures that were taken of it."""

from collections.abc import Mapping
from typing import Any

from findings.kinds.calculations import schemas
from findings.kinds.calculations.calculation import Calculation, InvalidInput, Json
from findings.kinds.calculations.input_schema import Problem
from findings.sound import bursts, rhythm
from findings.sound.rhythm import Character, Line, Match

LINE = schemas.inputs(
    ["frequency_hz", "above_floor_db"],
    {
        "frequency_hz": schemas.between(0.1, 1e4, "Where the line stands, Hz."),
        "above_floor_db": schemas.at_least_zero(200.0, "How far above its surroundings, dB."),
    },
)
LINES = {
    "type": "array",
    "minItems": 0,
    "maxItems": 200,
    "items": LINE,
    "description": "Lines of the envelope's spectrum.",
}
NAME = {"type": "string", "minLength": 1, "maxLength": 60, "description": "Name of the part."}
PART = schemas.inputs(
    ["name", "frequency_hz"],
    {
        "name": NAME,
        "frequency_hz": schemas.between(0.01, 1e4, "The part's frequency, Hz."),
        "spacing_hz": schemas.between(0.01, 1e4, "How far beside its harmonics sidebands are expected, Hz."),
    },
)

SOUND_CHARACTER = schemas.inputs(
    ["lines"], {"lines": LINES, "kurtosis": schemas.positive(1e9, "Kurtosis, 3 for normal noise.")}
)
RHYTHM_HITS = schemas.inputs(
    ["lines", "parts"],
    {
        "lines": LINES,
        "parts": {
            "type": "array",
            "minItems": 1,
            "maxItems": 40,
            "items": PART,
            "description": "Parts that could beat; name shaft, gear mesh and twice the mains as well.",
        },
        "search_share": {
            "type": "number",
            "minimum": 0.0,
            "maximum": 0.1,
            "default": rhythm.SEARCH_SHARE,
            "description": "How far from each frequency to search, as a share of it.",
        },
    },
)
BURST_KURTOSIS = schemas.inputs(
    ["period_s", "decay_s"],
    {
        "period_s": schemas.between(1e-6, 1e3, "Time from burst to burst, s."),
        "decay_s": schemas.between(1e-9, 1e3, "Time in which a burst falls to 1/e, s."),
        "power_ratio": schemas.at_least_zero(1e6, "Power of the bursts over that of the noise."),
    },
)

METHOD = {
    "method": schemas.PROVENANCE["method"],
    "method_version": schemas.PROVENANCE["method_version"],
    "reasons": schemas.REASONS,
}
SOUND_CHARACTER_ANSWER = schemas.answer(
    {
        "character": schemas.choice([one.value for one in Character], "What the recording sounds like."),
        "fundamental_hz": schemas.result("The rhythm, Hz: the lowest line that divides the strongest."),
        **METHOD,
    }
)
HARMONIC = schemas.answer(
    {
        "order": {"type": "integer", "description": "Multiple of the part's frequency."},
        "frequency_hz": schemas.result("Where the line stands, Hz."),
        "above_floor_db": schemas.result("How far above its surroundings, dB."),
        "sidebands": {"type": "integer", "description": "On how many sides a line stands one spacing away."},
    }
)
HIT = schemas.answer(
    {
        "name": NAME,
        "frequency_hz": schemas.result("The part's frequency, Hz."),
        "low_hz": schemas.result("Where the search began, Hz."),
        "high_hz": schemas.result("Where it ended, Hz."),
        "match": schemas.choice([one.value for one in Match], "Whether its fundamental was heard."),
        "harmonics": schemas.listing(HARMONIC, "Lines at its multiples, up to the fifth."),
        "fits_as_well": schemas.listing(NAME, "Other parts that the same line fits."),
    }
)
RHYTHM_HITS_ANSWER = schemas.answer({"hits": schemas.listing(HIT, "What was found of each part."), **METHOD})
BURST_KURTOSIS_ANSWER = schemas.answer(
    {
        "kurtosis": schemas.result("Kurtosis of the bursts alone."),
        "rms": schemas.result("Their rms, as a share of the height they begin with."),
        **METHOD,
    },
    {"kurtosis_in_noise": schemas.result("Kurtosis with the noise.")},
)


def _lines(data: Mapping[str, Any]) -> tuple[Line, ...]:
    """Return the lines of the input."""
    return tuple(Line(float(one["frequency_hz"]), float(one["above_floor_db"])) for one in data["lines"])


def sound_character(data: Mapping[str, Any]) -> Json:
    """Return rhythmic, irregular or smooth, and the rhythm."""
    lines = _lines(data)
    character, reasons = rhythm.character(lines, data.get("kurtosis"))
    return {
        "character": character.value,
        "fundamental_hz": rhythm.fundamental_hz(lines),
        "method": "lines of the envelope spectrum, then kurtosis",
        "method_version": rhythm.VERSION,
        "reasons": [reason._asdict() for reason in reasons],
    }


def rhythm_hits(data: Mapping[str, Any]) -> Json:
    """Return what was found of each part's frequency."""
    names = [part["name"] for part in data["parts"]]
    if len(set(names)) < len(names):
        raise InvalidInput(Problem("/parts", "must not name a part twice"))
    found = rhythm.hits(
        _lines(data),
        {part["name"]: float(part["frequency_hz"]) for part in data["parts"]},
        {part["name"]: float(part["spacing_hz"]) for part in data["parts"] if "spacing_hz" in part},
        float(data.get("search_share", rhythm.SEARCH_SHARE)),
    )
    return {
        "hits": [_hit(hit) for hit in found],
        "method": "lines within a share of each multiple",
        "method_version": rhythm.VERSION,
        "reasons": [],
    }


def _hit(hit: rhythm.Hit) -> Json:
    """Return a hit as plain JSON."""
    return {
        "name": hit.name,
        "frequency_hz": hit.frequency_hz,
        "low_hz": hit.low_hz,
        "high_hz": hit.high_hz,
        "match": hit.match.value,
        "harmonics": [
            {
                "order": one.order,
                "frequency_hz": one.frequency_hz,
                "above_floor_db": one.above_floor_db,
                "sidebands": one.sidebands,
            }
            for one in hit.harmonics
        ],
        "fits_as_well": list(hit.fits_as_well),
    }


def burst_kurtosis(data: Mapping[str, Any]) -> Json:
    """Return what a burst train does to kurtosis and rms, alone and in noise."""
    period, decay = float(data["period_s"]), float(data["decay_s"])
    alone = bursts.burst_kurtosis(period, decay)
    result: Json = {
        "kurtosis": alone,
        "rms": bursts.burst_rms(period, decay),
        "method": "moments of a train of decaying bursts",
        "method_version": bursts.VERSION,
        "reasons": [bursts.OVERLAP._asdict()] if alone is None else [],
    }
    if "power_ratio" in data:
        ratio = float(data["power_ratio"])
        result["kurtosis_in_noise"] = None if alone is None else bursts.kurtosis_in_noise(alone, ratio)
    return result


ROWS = (
    Calculation(
        "sound-character",
        "Rhythmic, irregular or smooth",
        sound_character,
        SOUND_CHARACTER,
        SOUND_CHARACTER_ANSWER,
        {
            "lines": [
                {"frequency_hz": 88.2, "above_floor_db": 14.0},
                {"frequency_hz": 176.5, "above_floor_db": 11.2},
            ],
            "kurtosis": 4.9,
        },
        "Lines above chance in the envelope spectrum; kurtosis above 4.5 without any: irregular (judgement).",
    ),
    Calculation(
        "rhythm-hits",
        "Which part of a machine beats at a rhythm",
        rhythm_hits,
        RHYTHM_HITS,
        RHYTHM_HITS_ANSWER,
        {
            "lines": [
                {"frequency_hz": 88.2, "above_floor_db": 14.0},
                {"frequency_hz": 176.5, "above_floor_db": 11.2},
            ],
            "parts": [
                {"name": "outer ring", "frequency_hz": 87.6},
                {"name": "inner ring", "frequency_hz": 132.4, "spacing_hz": 24.4},
                {"name": "twice the mains", "frequency_hz": 100.0},
            ],
        },
        "Search of 2 % around each multiple, for slip of 1 to 2 % (common practice).",
    ),
    Calculation(
        "burst-kurtosis",
        "What impacts do to the kurtosis, and how noise hides them",
        burst_kurtosis,
        BURST_KURTOSIS,
        BURST_KURTOSIS_ANSWER,
        {"period_s": 0.0113, "decay_s": 0.0009, "power_ratio": 0.25},
        "Own derivation: 1.5 T/tau alone; second and fourth moments add in normal noise.",
    ),
)
