"""The doors that say what would be: read-only, on the plant's own data, nothing is kept."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from rest_framework.response import Response

from findings.balance import queries
from findings.balance.api import shapes as answers
from findings.balance.rules import Basis
from findings.kinds.tariff_reading import TariffWrong
from findings.plant import queries as plant
from findings.plant.rules import Right
from findings.register import queries as register
from findings.supply import queries as supply
from plantcare.api import shapes
from plantcare.api.problems import FieldError, Invalid
from plantcare.api.references import Reference
from plantcare.api.views import Door

MOST_POINTS, MOST_REPAIRS, MOST_BANDS, MOST_HOLIDAYS = 100, 500, 40, 600


class WhatIf(Door):
    """A question about one supply system; the same question gives the same answer, without any key."""

    room = "balance"
    needs = {"POST": Right.VIEW}
    replayable = False

    def post(self, *_: Any, **__: Any) -> Response:
        """Find the system, check every id, answer."""
        system = self.one(supply.systems(), self.kwargs["id"])
        data = self.take()
        self.clear(data)
        return self.answer(self.tell(system, data))

    def tell(self, system: Any, data: dict[str, Any]) -> dict[str, Any]:
        """Make the one call into the room's queries."""
        raise NotImplementedError


class PointOfUseInput(shapes.InputShape):
    """A consumer: the pressure that it needs, and what is lost on the way to it."""

    name = shapes.TextField(max_length=100)
    least_pressure_gauge_pa = shapes.FloatField(min_value=0, max_value=4e7)
    loss_pa = shapes.FloatField(min_value=0, max_value=4e7, required=False)


class HeaderPressureInput(shapes.InputShape):
    """The pressure to which the header would be turned down."""

    after_pressure_gauge_pa = shapes.FloatField(min_value=0, max_value=4e7)
    points_of_use = shapes.ListField(child=PointOfUseInput(), required=False, max_length=MOST_POINTS)
    stages = shapes.IntegerField(min_value=1, max_value=4, required=False)


class WhatIfHeaderPressure(WhatIf):
    """What a lower header pressure would save: leaks blow less, and each cubic metre takes less work."""

    operation = "what_if_header_pressure"
    shape, input_shape = answers.HeaderPressureShape, HeaderPressureInput

    def tell(self, system: Any, data: dict[str, Any]) -> dict[str, Any]:
        """Answer the saving."""
        return queries.header_pressure_answer(system, self.at, **data)


def _amount(**more: Any) -> shapes.DecimalString:
    return shapes.DecimalString(max_digits=14, decimal_places=2, min_value=0, **more)


class RepairInput(shapes.InputShape):
    """What the repair of one finding takes, where that is known."""

    finding_id = shapes.UuidField()
    cost = _amount()
    hours = _amount()


class RepairPlanInput(shapes.InputShape):
    """The budget, what a repair usually takes, and over how many years its saving counts."""

    money_budget = _amount(required=False, allow_null=True)
    hours_budget = _amount(required=False, allow_null=True)
    usual_cost = _amount(help_text="Of a repair, in the site's currency.")
    usual_hours = _amount(help_text="Of a repair.")
    years = shapes.DecimalString(
        max_digits=4, decimal_places=2, min_value=0, max_value=30, required=False, help_text="1 by default."
    )
    basis = shapes.ChoiceField(choices=[(one.value, one.value) for one in Basis], required=False)
    repairs = shapes.ListField(child=RepairInput(), required=False, max_length=MOST_REPAIRS)


class WhatIfRepairPlan(WhatIf):
    """The open findings whose repair gains most within a budget of money and hours."""

    operation = "what_if_repair_plan"
    shape, input_shape = answers.RepairPlanShape, RepairPlanInput
    references = {"repairs.*.finding_id": Reference(register.findings)}

    def tell(self, system: Any, data: dict[str, Any]) -> dict[str, Any]:
        """Answer the plan."""
        return queries.repair_plan_answer(system, self.at, **data)


class ShutOffInput(shapes.InputShape):
    """The branch, an asset with its parts or an area, and the hours a year for which it would be shut."""

    asset_id = shapes.UuidField(required=False, allow_null=True)
    area_id = shapes.UuidField(required=False, allow_null=True)
    hours_per_year = shapes.FloatField(min_value=0, max_value=8784)
    hours_u = shapes.FloatField(min_value=0, max_value=8784, required=False)
    refilled_m3 = shapes.FloatField(min_value=0, max_value=1e6, required=False)
    refills_per_year = shapes.FloatField(min_value=0, max_value=1e5, required=False)


class WhatIfShutOff(WhatIf):
    """What shutting a branch off outside its hours would save. Read the caution that comes with it."""

    operation = "what_if_branch_shut_off"
    shape, input_shape = answers.ShutOffShape, ShutOffInput
    references = {"asset_id": Reference(plant.assets), "area_id": Reference(plant.areas)}

    def tell(self, system: Any, data: dict[str, Any]) -> dict[str, Any]:
        """Answer the saving; exactly one branch has to be named."""
        if (data.get("asset_id") is None) == (data.get("area_id") is None):
            text = "Name an asset or an area, one of the two."
            raise Invalid(text, errors=[FieldError("/asset_id", "one_branch", text)])
        return queries.shut_off_answer(system, self.at, **data)


class TariffChangeInput(shapes.InputShape):
    """Another price per kWh, or the bands of a time-of-use table that cover every hour once."""

    price_per_kwh = shapes.DecimalString(max_digits=16, decimal_places=10, min_value=0, required=False)
    bands = shapes.ListField(
        child=shapes.JsonObjectField(),
        required=False,
        max_length=MOST_BANDS,
        help_text="Like a time-of-use table: name, price_per_kwh, windows, months and days if not all.",
    )
    holidays = shapes.ListField(child=shapes.DateField(), max_length=MOST_HOLIDAYS, required=False)


class WhatIfTariff(WhatIf):
    """What the open findings would cost at another price of electricity."""

    operation = "what_if_tariff_change"
    shape, input_shape = answers.TariffChangeShape, TariffChangeInput

    def tell(self, system: Any, data: dict[str, Any]) -> dict[str, Any]:
        """Answer before, after and the difference; exactly one tariff has to be named."""
        if ("price_per_kwh" in data) == ("bands" in data):
            text = "Name a price per kWh or the bands of a table, one of the two."
            raise Invalid(text, errors=[FieldError("/price_per_kwh", "one_tariff", text)])
        try:
            return queries.tariff_answer(system, self.at, **data)
        except TariffWrong as wrong:
            errors = [FieldError(*problem) for problem in wrong.problems]
            text = "The bands have to cover every hour of every day once."
            raise Invalid(text, errors=errors) from None


DOORS: Final[Mapping[str, type[WhatIf]]] = {
    "header-pressure": WhatIfHeaderPressure,
    "repair-plan": WhatIfRepairPlan,
    "branch-shut-off": WhatIfShutOff,
    "tariff-change": WhatIfTariff,
}
"""Each question by the last word of its address."""
