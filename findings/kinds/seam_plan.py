"""A small plan of a seam with its leaks, as SVG text: every colour has its word and its stroke beside it."""

from collections.abc import Sequence
from html import escape
from typing import NamedTuple

from findings.kinds.seam_outline import Outline, Spot, circle, frame, line
from findings.physics.seal_test import PointResult, SealResult, SeamLeak, Verdict
from findings.physics.seam import Seam

WIDTH = 640
ROW = 20
MOST_LISTED = 30
LONGEST_TITLE = 80
NOT_WALKED = "not walked"


class Stroke(NamedTuple):
    """How a stretch is drawn: its word, colour, width and dashes."""

    word: str
    colour: str
    width: float
    dashes: str


_STROKES = {
    Verdict.PASS.value: Stroke("pass", "#1f8a7a", 3.0, ""),
    Verdict.WATCH.value: Stroke("watch", "#b07a10", 5.0, "10 4"),
    Verdict.FAIL.value: Stroke("fail", "#d0414b", 8.0, ""),
    Verdict.NOT_DETERMINED.value: Stroke("not determined", "#7b8790", 4.0, "4 4"),
    NOT_WALKED: Stroke(NOT_WALKED, "#7b8790", 2.5, "2 7"),
}


class Stretch(NamedTuple):
    """A part of the seam of one verdict, from and to in m; on a ring "to" may lie past the end."""

    verdict: str
    start_m: float
    end_m: float


def seam_plan(
    seam: Seam,
    result: SealResult,
    *,
    title: str,
    door: tuple[float, float] | None = None,
    outline: Outline | None = None,
    notes: Sequence[str] = (),
) -> str:
    """Return the plan of a walked seam as one SVG element, the leaks numbered and listed.

    ``result`` has points: a refused walk has no plan. ``door`` are the width and height in m of a ring that
    frames a door, both above zero; without it a ring is a circle. ``outline`` is another drawing of
    the seam. ``notes`` are lines below the list. ``title`` is any text, escaped here.
    Colours and widths are attributes, so that a page's own rules for the classes ``seam-...`` go first.
    """
    outline = outline or _outline(seam, door)
    name = escape(_printable(title)[:LONGEST_TITLE])
    stretches = seam_stretches(seam, result)
    used = [key for key in _STROKES if any(stretch.verdict == key for stretch in stretches)]
    listed = [_sentence(leak) for leak in result.leaks[:MOST_LISTED]]
    if len(result.leaks) > MOST_LISTED:
        listed.append(f"and {len(result.leaks) - MOST_LISTED} more")
    rows = [_heading(seam, result, outline), *(listed or [_without_leaks(result)]), *notes]
    body = [
        f"<title>{name}</title>",
        f"<desc>{escape('; '.join(rows))}</desc>",
        *(_drawn(stretch, seam, outline) for stretch in stretches),
        *_start(outline),
        *(_marked(leak, seam, outline) for leak in result.leaks),
        *_legend(used, outline.height),
        *(_text(16.0, outline.height + ROW * (2 + row), text) for row, text in enumerate(rows)),
    ]
    height = round(outline.height + ROW * (len(rows) + 2))
    opening = (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="seam-plan" viewBox="0 0 {WIDTH} {height}" '
        f'role="img" aria-label="{name}" font-family="sans-serif" font-size="13" fill="currentColor">'
    )
    return "\n".join((opening, *body, "</svg>"))


def seam_stretches(seam: Seam, result: SealResult) -> tuple[Stretch, ...]:
    """Return the seam cut into stretches of one verdict; each point speaks half-way to its neighbours."""
    stretches = [Stretch(NOT_WALKED, start, _after(seam, start, end)) for start, end in result.gaps]
    starts = {start for start, _ in result.gaps}
    ends = {end for _, end in result.gaps}
    for index, point in enumerate(result.points):
        here = point.position_m
        before, after = _neighbours(seam, result.points, index)
        low = here if here in ends else (here + before) / 2.0
        high = here if here in starts else (here + after) / 2.0
        if not seam.ring:
            low = 0.0 if index == 0 and here not in ends else low
            high = seam.length_m if index == len(result.points) - 1 and here not in starts else high
        turn = seam.length_m if low < 0.0 else 0.0
        stretches.append(Stretch(point.verdict.value, low + turn, high + turn))
    return tuple(_joined([stretch for stretch in stretches if stretch.end_m > stretch.start_m]))


def _after(seam: Seam, start_m: float, end_m: float) -> float:
    """Return the end of a stretch, past the seam's end where it runs over the start of a ring."""
    return end_m + seam.length_m if end_m < start_m else end_m


def _neighbours(seam: Seam, points: Sequence[PointResult], index: int) -> tuple[float, float]:
    """Return the places before and after a point, on a ring below 0 or past the end."""
    here, count = points[index].position_m, len(points)
    before = points[index - 1].position_m if index else here
    after = points[index + 1].position_m if index + 1 < count else here
    if seam.ring:
        before = before if index else points[-1].position_m - seam.length_m
        after = after if index + 1 < count else points[0].position_m + seam.length_m
    return before, after


def _joined(stretches: Sequence[Stretch]) -> list[Stretch]:
    """Return the stretches in order, neighbours of one verdict made one."""
    joined: list[Stretch] = []
    for stretch in sorted(stretches, key=lambda one: one.start_m):
        last = joined[-1] if joined else None
        if last and last.verdict == stretch.verdict and stretch.start_m - last.end_m < 1e-9:
            joined[-1] = last._replace(end_m=max(last.end_m, stretch.end_m))
        else:
            joined.append(stretch)
    return joined


def _outline(seam: Seam, door: tuple[float, float] | None) -> Outline:
    """Return the drawing that fits the seam."""
    if not seam.ring:
        return line()
    return frame(*door) if door else circle()


def _printable(text: str) -> str:
    """Return a text without the signs that no drawing can hold."""
    return "".join(sign for sign in text if sign.isprintable())


def _text(x: float, y: float, text: str, anchor: str = "start") -> str:
    """Return a line of text."""
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{escape(text)}</text>'


def _drawn(stretch: Stretch, seam: Seam, outline: Outline) -> str:
    """Return the line of a stretch."""
    spots = outline.stretch(stretch.start_m / seam.length_m, stretch.end_m / seam.length_m)
    return _polyline(spots, stretch.verdict)


def _polyline(spots: Sequence[Spot], verdict: str) -> str:
    """Return a line through spots in the stroke of a verdict."""
    stroke = _STROKES[verdict]
    places = " ".join(f"{spot.x:.1f},{spot.y:.1f}" for spot in spots)
    dashes = f' stroke-dasharray="{stroke.dashes}"' if stroke.dashes else ""
    return (
        f'<polyline class="seam-{verdict.replace("_", "-").replace(" ", "-")}" points="{places}" fill="none" '
        f'stroke="{stroke.colour}" stroke-width="{stroke.width:g}"{dashes}/>'
    )


def _start(outline: Outline) -> list[str]:
    """Return the mark of the seam's start."""
    spot = outline.spot(0.0)
    inner_x, inner_y = spot.x - 14.0 * spot.out_x, spot.y - 14.0 * spot.out_y
    across = f'x1="{spot.x:.1f}" y1="{spot.y:.1f}" x2="{inner_x:.1f}" y2="{inner_y:.1f}"'
    tick = f'<line {across} stroke="currentColor" stroke-width="2"/>'
    label_x, label_y = spot.x - 26.0 * spot.out_x, spot.y - 26.0 * spot.out_y + 4.0
    return [tick, _text(label_x, label_y, "0", "middle")]


def _marked(leak: SeamLeak, seam: Seam, outline: Outline) -> str:
    """Return a leak's mark, filled where it fails, with its number outside the seam."""
    spot = outline.spot(min((leak.position.value or 0.0) / seam.length_m, 1.0))
    stroke = _STROKES[leak.verdict.value]
    filled = stroke.colour if leak.verdict is Verdict.FAIL else "none"
    reach = 20.0 if leak.number % 2 else 34.0
    dot = (
        f'<circle cx="{spot.x:.1f}" cy="{spot.y:.1f}" r="7" fill="{filled}" stroke="{stroke.colour}" '
        'stroke-width="3"/>'
    )
    label = _text(spot.x + reach * spot.out_x, spot.y + reach * spot.out_y + 4.0, str(leak.number), "middle")
    return dot + label


def _legend(used: Sequence[str], top: float) -> list[str]:
    """Return one sample and word per stroke that was drawn, side by side."""
    parts = []
    for place, key in enumerate(used):
        left = 16.0 + 124.0 * place
        parts.append(_polyline([Spot(left, top, 0, 0), Spot(left + 26.0, top, 0, 0)], key))
        parts.append(_text(left + 32.0, top + 4.0, _STROKES[key].word))
    return parts


def _heading(seam: Seam, result: SealResult, outline: Outline) -> str:
    """Return the line that says how the plan is to be read."""
    word = _STROKES[result.verdict.value].word
    shape = "ring" if seam.ring else "line"
    return f"Whole seam: {word}. A {shape} of {seam.length_m:.2f} m, seen as walked, {outline.walked}."


def _sentence(leak: SeamLeak) -> str:
    """Return a leak in words."""
    place, left = leak.position, leak.amplitude_percent
    return (
        f"{leak.number}: {_STROKES[leak.verdict.value].word} at {place.value:.2f} m "
        f"({place.low:.2f} to {place.high:.2f} m), drop {leak.drop_db:.1f} dB, "
        f"{left:.{0 if left >= 10.0 else 1}f} % of the open sound pressure"
    )


def _without_leaks(result: SealResult) -> str:
    """Return what stands where no leak is listed."""
    if result.verdict is Verdict.PASS:
        return "No leak for sound found where the seam was walked."
    return "No leak found, but that was not determined for the whole seam."
