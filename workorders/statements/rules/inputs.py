"""What a month's figures stood on, in one canonical form."""

from collections.abc import Collection, Iterable
from dataclasses import replace
from datetime import date, datetime
from zoneinfo import ZoneInfo

from workorders.statements.rules.encode import digest
from workorders.statements.rules.history import FindingHistory, KnownFinding, is_known
from workorders.statements.rules.month import MonthRules
from workorders.statements.rules.series import Dated, PriceSeries, SystemSeries, known_steps
from workorders.statements.rules.time import month_bounds, utc


def inputs_digest(
    histories: Iterable[FindingHistory],
    prices: PriceSeries,
    month_on: date,
    zone: ZoneInfo,
    as_of: datetime,
    rules: MonthRules | None = None,
) -> bytes:
    """Hash everything that was known at `as_of` and the month's figures are made of (SHA-256).

    The order in which facts are given makes no difference; what became known later makes none either.
    """
    as_of = utc(as_of)
    end = month_bounds(month_on, zone)[1]
    counted = [history for history in histories if _began_before(history, end)]
    used = {loss.system for history in counted for loss in history.losses if is_known(loss, as_of)}
    return digest(
        sorted((_known(history, as_of) for history in counted), key=lambda item: str(item[0])),
        _prices(prices, used, as_of),
        month_on.replace(day=1),
        str(zone),
        rules or MonthRules(),
    )


def _began_before(history: FindingHistory, end: datetime) -> bool:
    return any(event.at < end for event in history.events)


def _known(history: FindingHistory, as_of: datetime) -> tuple[object, ...]:
    events = [event for event in history.events if is_known(event, as_of)]
    return (
        history.finding_id,
        history.area,
        history.due_at,
        history.extended_due_at,
        history.watched_from,
        [
            replace(event, void_at=None)
            for event in sorted(events, key=lambda event: (event.at, event.recorded_at, event.kind))
        ],
        [replace(loss, void_at=None) for loss in KnownFinding(history, as_of).losses],
    )


def _prices(prices: PriceSeries, used: Collection[str], as_of: datetime) -> tuple[object, ...]:
    stood_on: tuple[object, ...] = (
        prices.currency,
        _steps(prices.electricity_price_per_kwh, as_of),
        _steps(prices.grid_factor_kg_per_kwh, as_of),
        {key: _system(system, as_of) for key, system in prices.systems.items() if key in used},
    )
    # Left out where there is none: months closed before tables were kept have the same digest still.
    tables = _steps(prices.electricity_tables, as_of)
    return (*stood_on, tables) if tables else stood_on


def _system(system: SystemSeries, as_of: datetime) -> list[object]:
    series = (system.specific_energy_j_per_m3, system.gas_price_per_m3, system.pressurised_share)
    return [None if values is None else _steps(values, as_of) for values in series]


def _steps(values: tuple[Dated, ...], as_of: datetime) -> list[Dated]:
    return [replace(value, void_at=None) for value in known_steps("", values, as_of).values]
