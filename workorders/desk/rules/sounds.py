"""What was heard in a recording, as rows of a small table: each figure with what it can't tell."""

from collections.abc import Iterator, Mapping
from typing import Any, Final, NamedTuple

MOST_LINES: Final = 5
_LEVEL: Final = (
    "It counts from the file's own full scale: only recordings of one instrument at one locked gain compare."
)
_CREST: Final = "One knock raises it, and it falls again as damage spreads: never judge by it alone."
_KURTOSIS: Final = (
    "Even noise has 3. Noise hides weak impacts, and spread damage sounds smooth again: "
    "a low one proves nothing."
)
_RHYTHM: Final = (
    "A line says how often something happens, not what: compare it with the bearing's parts, the shaft, the "
    "gear mesh and twice the mains."
)
_CLASS: Final = (
    "A discharge that is silent now, or well below the noise, isn't heard; a class is a reason to look "
    "closer, and no clearance."
)


class SoundRow(NamedTuple):
    """A name, what was found or why not, and what it can't tell."""

    name: str
    found: str
    cannot: str


def sound_rows(result: Mapping[str, Any]) -> tuple[SoundRow, ...]:
    """Return the rows for what an analysis found; none for a result of nothing."""
    if not result:
        return ()
    rows = [
        SoundRow("Level", _figure(result.get("level"), 1), _LEVEL),
        SoundRow("Crest factor", _figure(result.get("crest_factor"), 1), _CREST),
        SoundRow("Kurtosis", _figure(result.get("kurtosis"), 1), _KURTOSIS),
        SoundRow("Rhythm", _rhythm(result), _RHYTHM),
    ]
    named = result.get("discharge")
    if named:
        label = str(named["label"])
        rows.append(SoundRow("Sounds like", f"{label[0].upper()}{label[1:]}. {named['why']}", _CLASS))
    return tuple(rows)


def _figure(kept: Mapping[str, Any] | None, digits: int) -> str:
    """Return a figure with its interval, or the reason why there is none."""
    if kept is None:
        return "not determined"
    if kept["value"] is None:
        return "Not determined. " + " ".join(str(reason["text"]) for reason in kept["reasons"])
    unit = "" if kept["unit"] == "1" else f" {kept['unit']}"
    low, high = kept["low"], kept["high"]
    return f"{kept['value']:.{digits}f}{unit}, interval {low:.{digits}f} to {high:.{digits}f}"


def _rhythm(result: Mapping[str, Any]) -> str:
    """Return what it sounds like, with the lines that stand out most, by frequency."""
    character = str(result.get("character", "not determined"))
    lines = sorted(result.get("lines") or (), key=lambda line: -float(line["above_floor_db"]))[:MOST_LINES]
    told = ", ".join(_line(line) for line in sorted(lines, key=lambda line: float(line["frequency_hz"])))
    beat = result.get("fundamental_hz")
    return "".join(_parts(character, beat, told))


def _parts(character: str, beat: float | None, told: str) -> Iterator[str]:
    yield character[0].upper() + character[1:]
    if beat is not None:
        yield f" at {beat:.1f} Hz"
    if told:
        yield f". Strongest lines above their surroundings: {told}"


def _line(line: Mapping[str, Any]) -> str:
    return f"{line['frequency_hz']:.1f} Hz by {line['above_floor_db']:.0f} dB"
