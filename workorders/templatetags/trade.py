"""Figures and words in templates: each filter hands on to one pure function of the desk."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

from django import template
from django.templatetags.static import static
from django.utils.html import format_html
from django.utils.safestring import SafeString

from findings.kinds.base import Kind
from findings.kinds.registry import kind_of
from workorders.desk.rules import figures, words

register = template.Library()

_FILTERS: dict[str, Callable[..., Any]] = {
    "flow": figures.flow,
    "mass_flow": figures.mass_flow,
    "pressure": figures.pressure,
    "temperature": figures.temperature,
    "distance": figures.length,
    "width": figures.width,
    "level": figures.level,
    "day": figures.day,
    "moment": figures.time_of,
    "age": figures.age,
    "month_name": figures.month_name,
    "plain": words.plain,
    "said": words.title,
    "actor_told": words.actor_told,
    "result_told": words.result_told,
}
register.filters.update(_FILTERS)


@register.filter
def money(amount: Decimal | None, currency: str) -> str:
    """Write an amount with its currency."""
    return figures.money(amount, currency)


@register.filter
def about(amount: Decimal | None, currency: str) -> str:
    """Write a rough amount: three significant digits, no decimals."""
    return figures.money(None if amount is None else figures.rough(amount), currency, 0)


@register.filter
def per_year(cost_per_hour: Decimal | None) -> Decimal | None:
    """Return what an hourly cost comes to in 8,760 hours."""
    return None if cost_per_hour is None else cost_per_hour * figures.HOURS_PER_YEAR


@register.filter
def number(value: int | Decimal | None, digits: int = 0) -> str:
    """Write a number with thin spaces."""
    return figures.NOTHING if value is None else figures.grouped(value, digits)


@register.filter
def exact(value: Decimal) -> str:
    """Write a price or factor with the digits it was given, without idle zeros."""
    return format(value.normalize(), "f")


@register.filter
def counted(value: int, noun: str) -> str:
    """Write a number with its noun, given as "finding" or "one,many"."""
    one, _, many = noun.partition(",")
    return words.counted(value, one, many)


@register.filter
def kind_label(kind: str) -> str:
    """Return the label of a kind of finding; an unknown word as it is."""
    return kind_of(kind).label if kind in Kind.__members__.values() else words.title(kind)


@register.filter
def act_told(entry: Any) -> str:
    """Return what a logbook entry tells; who was told stands in its detail."""
    return words.act_told(entry.act, entry.detail)


@register.filter
def some(rows: Iterable[Any], path: str) -> bool:
    """Say whether any row has something at the path; a column of nothing need not be shown."""
    return any(template.Variable(f"row.{path}").resolve({"row": row}) not in (None, "", []) for row in rows)


@register.filter
def item(mapping: Mapping[Any, Any], key: Any) -> Any:
    """Return a mapping's value, or None."""
    return mapping.get(key)


@register.filter
def bare(word: str) -> str:
    """Write a record's word as it is, only without underscores."""
    return word.replace("_", " ")


@register.filter
def plural_is(value: int) -> str:
    """Return the verb for so many."""
    return "is" if value == 1 else "are"


@register.filter
def amount(value: Decimal | None) -> str:
    """Write an amount whose currency stands elsewhere in the table."""
    return figures.NOTHING if value is None else figures.grouped(value, 2)


@register.filter
def signed(value: Decimal) -> str:
    """Write a difference with its sign."""
    return f"{'+' if value > 0 else ''}{figures.grouped(value, 2)}"


@register.filter
def money_text(value: str | None, currency: str) -> str:
    """Write an amount that is kept as a JSON text; nothing kept is a dash."""
    return figures.NOTHING if value in (None, "") else figures.money(Decimal(str(value)), currency)


@register.filter
def lasted(passed: timedelta) -> str:
    """Write how long something took or is ago."""
    start = datetime(2000, 1, 1, tzinfo=UTC)
    return figures.age(start, start + passed)


@register.filter
def seconds(value: float) -> str:
    """Write a length of time: in seconds or minutes while it is short, then as an age."""
    if value < 60:
        return f"{value:.1f}\u202fs"
    return f"{value / 60:.0f}\u202fmin" if value < 3600 else lasted(timedelta(seconds=value))


@register.filter
def hexed(digest: bytes) -> str:
    """Write the beginning of a digest."""
    return bytes(digest).hex()[:16]


@register.filter
def is_word(value: object) -> bool:
    """Say whether a logbook's detail is a plain word."""
    return isinstance(value, str) and 0 < len(value) <= 32


@register.filter
def month_key(month_on: date) -> str:
    """Write a month as addresses have it: 2026-03."""
    return f"{month_on:%Y-%m}"


@register.simple_tag
def sign(name: str) -> SafeString:
    """Draw one of our signs; the word beside it says the same."""
    return format_html(
        '<svg class="sign" viewBox="0 0 16 16" aria-hidden="true"><use href="{}#{}"></use></svg>',
        static("plantcare_web/signs.svg"),
        name,
    )


@register.filter
def metres(value: float) -> str:
    """Write a place along a seam in metres, as it is walked and drawn."""
    return f"{value:.2f} m"


@register.simple_tag
def verdict(word: str) -> SafeString:
    """Write a place's or a seam's verdict: a shape and its word."""
    shape = {"fail": "■", "watch": "◆", "pass": "○"}.get(word, "?")
    return format_html(
        '<span class="verdict"><span aria-hidden="true">{}</span> {}</span>', shape, bare(word)
    )


@register.simple_tag
def flow_between(low: Decimal | None, high: Decimal | None, system: str) -> str:
    """Write an interval of leak rates."""
    return figures.flow_range(low, high, system)


@register.simple_tag
def flow_order(low: Decimal | None, high: Decimal | None, system: str) -> str:
    """Write a leak rate of which only the order of magnitude is known."""
    return figures.flow_order(low, high, system)


@register.simple_tag
def mass_flow_between(low: float | None, high: float | None, system: str) -> str:
    """Write an interval of mass flows."""
    return figures.mass_flow_range(low, high, system)


@register.simple_tag(takes_context=True)
def with_query(context: template.Context, **changes: Any) -> str:
    """Return the present query string with some values set; an empty value takes the name out."""
    query = context["request"].GET.copy()
    for name, value in changes.items():
        query.pop(name, None)
        if value not in ("", None):
            query[name] = str(value)
    return f"?{query.urlencode()}"
