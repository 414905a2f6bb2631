"""Read a site's months and what they are made of."""

from workorders.statements.queries.answers import lines_of, month_answer, row_answer, sites_answer
from workorders.statements.queries.facts import SiteFacts, facts_of
from workorders.statements.queries.months import (
    MonthRow,
    MonthTold,
    booking_from,
    closed_month,
    closed_months,
    corrections_of,
    digest_of,
    facts_for,
    figures_of,
    first_month,
    money_of,
    month_figures,
    month_told,
    months_of,
    months_told,
)
from workorders.statements.queries.prices import price_series

__all__ = [
    "MonthRow",
    "MonthTold",
    "SiteFacts",
    "booking_from",
    "closed_month",
    "closed_months",
    "corrections_of",
    "digest_of",
    "facts_for",
    "facts_of",
    "figures_of",
    "first_month",
    "lines_of",
    "money_of",
    "month_answer",
    "month_figures",
    "month_told",
    "months_of",
    "months_told",
    "price_series",
    "row_answer",
    "sites_answer",
]
