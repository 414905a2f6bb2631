"""What the doors of the balance answer: each figure with its interval, method and reasons."""

from __future__ import annotations

from findings.physics.leak_balance import Verdict
from findings.supply.rules import LeakTestMethod
from plantcare.api import shapes

METHODS = [(method.value, method.value) for method in LeakTestMethod]
VERDICTS = [(verdict.value, verdict.value) for verdict in Verdict]


class BalanceReasonShape(shapes.Shape):
    """Why a figure is as it is, or why there is none."""

    code = shapes.TextField()
    text = shapes.TextField()


class ToldShape(shapes.Shape):
    """How a figure came to be; a refused one has no numbers."""

    method = shapes.TextField()
    method_version = shapes.TextField()
    status = shapes.TextField()
    reasons = BalanceReasonShape(many=True)


class FlowFigureShape(ToldShape):
    """A flow at 1 bar, 20 °C, dry, with its standard uncertainty and 95 % interval."""

    value_m3_per_s = shapes.FloatField(allow_null=True)
    u_m3_per_s = shapes.FloatField(allow_null=True)
    low_m3_per_s = shapes.FloatField(allow_null=True)
    high_m3_per_s = shapes.FloatField(allow_null=True)


class PowerFigureShape(ToldShape):
    """A power with its standard uncertainty and 95 % interval."""

    value_w = shapes.FloatField(allow_null=True)
    u_w = shapes.FloatField(allow_null=True)
    low_w = shapes.FloatField(allow_null=True)
    high_w = shapes.FloatField(allow_null=True)


class EnergyFigureShape(ToldShape):
    """An energy a year with its standard uncertainty and 95 % interval."""

    value_kwh = shapes.FloatField(allow_null=True)
    u_kwh = shapes.FloatField(allow_null=True)
    low_kwh = shapes.FloatField(allow_null=True)
    high_kwh = shapes.FloatField(allow_null=True)


class NumberFigureShape(ToldShape):
    """A share or a number with its standard uncertainty and 95 % interval."""

    value = shapes.FloatField(allow_null=True)
    u = shapes.FloatField(allow_null=True)
    low = shapes.FloatField(allow_null=True)
    high = shapes.FloatField(allow_null=True)


class BareFlowShape(shapes.Shape):
    """A flow at 1 bar, 20 °C, dry, that stands behind a figure."""

    value_m3_per_s = shapes.FloatField()
    u_m3_per_s = shapes.FloatField()
    low_m3_per_s = shapes.FloatField()
    high_m3_per_s = shapes.FloatField()


class YearlyMoneyShape(shapes.Shape):
    """Money a year with its 95 % interval; the price is taken as known."""

    per_year = shapes.DecimalString(max_digits=24, decimal_places=2, allow_null=True)
    low_per_year = shapes.DecimalString(max_digits=24, decimal_places=2, allow_null=True)
    high_per_year = shapes.DecimalString(max_digits=24, decimal_places=2, allow_null=True)
    reasons = BalanceReasonShape(many=True)


class FlowCostShape(shapes.Shape):
    """What a flow costs per hour and year of the calendar."""

    per_hour = shapes.DecimalString(max_digits=24, decimal_places=4, allow_null=True)
    per_year = shapes.DecimalString(max_digits=24, decimal_places=2, allow_null=True)
    reasons = BalanceReasonShape(many=True)


class BothCostsShape(shapes.Shape):
    """What a flow is worth at full load, and what its going away is expected to save."""

    full_load = FlowCostShape()
    expected = FlowCostShape()


class CountedLeakShape(shapes.Shape):
    """A finding that loses at the moment; its flow at 1 bar, 20 °C, dry."""

    finding_id = shapes.UuidField()
    number = shapes.IntegerField()
    asset_code = shapes.TextField()
    flow_m3_per_s = shapes.FloatField()
    u_m3_per_s = shapes.FloatField()
    shared_relative_u = shapes.FloatField(help_text="What it has in common with the other findings.")


class BalanceTestShape(shapes.Shape):
    """The leak test that the balance stands on."""

    id = shapes.UuidField()
    method = shapes.ChoiceField(choices=METHODS)
    taken_at = shapes.AwareDateTimeField()
    pressure_gauge_pa = shapes.FloatField()
    source = shapes.TextField()  # type: ignore[assignment]


class MissedLeaksShape(shapes.Shape):
    """How many leaks two surveys of the same areas probably both missed."""

    first_survey_id = shapes.UuidField()
    second_survey_id = shapes.UuidField()
    heard_by_first = shapes.IntegerField()
    heard_by_second = shapes.IntegerField()
    heard_by_both = shapes.IntegerField()
    there = NumberFigureShape()
    missed = NumberFigureShape()
    first_found = shapes.FloatField(allow_null=True)
    second_found = shapes.FloatField(allow_null=True)
    reasons = BalanceReasonShape(many=True)


class LeakBalanceShape(shapes.Shape):
    """The measured leakage against the findings that lose at a moment, and what the rest costs."""

    system_id = shapes.UuidField()
    at = shapes.AwareDateTimeField()
    test = BalanceTestShape(allow_null=True)
    measured = FlowFigureShape()
    explained = FlowFigureShape()
    unexplained = FlowFigureShape(help_text="Below zero: more was found than measured.")
    unexplained_share = NumberFigureShape()
    verdict = shapes.ChoiceField(choices=VERDICTS)
    is_significant = shapes.BooleanField(allow_null=True)
    p = shapes.FloatField(allow_null=True, help_text="The chance of such a difference if none were there.")
    finding_count = shapes.IntegerField()
    without_flow = shapes.IntegerField(help_text="Open findings of which no rate is known.")
    findings = CountedLeakShape(many=True)
    currency = shapes.CurrencyField()
    cost_of_measured = BothCostsShape()
    cost_of_unexplained = BothCostsShape()
    reasons = BalanceReasonShape(many=True)
    missed = MissedLeaksShape(allow_null=True)


class HeaderPressureShape(shapes.Shape):
    """What a lower header pressure would save: by less leak flow, by less work, and together."""

    currency = shapes.CurrencyField()
    findings = CountedLeakShape(many=True)
    before_pressure_gauge_pa = shapes.FloatField()
    after_pressure_gauge_pa = shapes.FloatField()
    leakage = BareFlowShape(allow_null=True)
    leak_factor = shapes.FloatField(allow_null=True)
    work_factor = shapes.FloatField(allow_null=True)
    less_flow = PowerFigureShape()
    less_work = PowerFigureShape()
    together = PowerFigureShape(help_text="Both at once, not their sum.")
    saving = YearlyMoneyShape()
    reasons = BalanceReasonShape(many=True)


class PlannedRepairShape(CountedLeakShape):
    """A finding of the plan, with what its repair saves over the years counted, costs and takes."""

    saving = shapes.DecimalString(max_digits=24, decimal_places=2)
    cost = shapes.DecimalString(max_digits=24, decimal_places=2)
    hours = shapes.DecimalString(max_digits=24, decimal_places=2)
    is_mandatory = shapes.BooleanField(help_text="A safety finding, repaired whatever it saves.")


class RepairPlanShape(shapes.Shape):
    """The open findings whose repair gains most within the budget."""

    currency = shapes.CurrencyField()
    basis = shapes.TextField()
    weighed = shapes.IntegerField()
    findings = PlannedRepairShape(many=True)
    saving = shapes.DecimalString(max_digits=24, decimal_places=2, allow_null=True)
    cost = shapes.DecimalString(max_digits=24, decimal_places=2, allow_null=True)
    hours = shapes.DecimalString(max_digits=24, decimal_places=2, allow_null=True)
    net = shapes.DecimalString(max_digits=24, decimal_places=2, allow_null=True)
    bound = shapes.DecimalString(
        max_digits=24, decimal_places=2, allow_null=True, help_text="A net gain that no plan exceeds."
    )
    is_proven = shapes.BooleanField(allow_null=True)
    together = PowerFigureShape(allow_null=True, help_text="All of them gone at once, as one leak.")
    together_saving = YearlyMoneyShape()
    reasons = BalanceReasonShape(many=True)


class ShutOffShape(shapes.Shape):
    """What shutting a branch off would save in a year."""

    currency = shapes.CurrencyField()
    findings = CountedLeakShape(many=True)
    leakage = BareFlowShape()
    energy = EnergyFigureShape()
    saving = YearlyMoneyShape()
    reasons = BalanceReasonShape(many=True)


class AtPriceShape(shapes.Shape):
    """What the open findings come to in a year at a price per kWh."""

    price_per_kwh = shapes.DecimalString(max_digits=24, decimal_places=10, allow_null=True)
    full_load = YearlyMoneyShape()
    expected = YearlyMoneyShape()


class TariffChangeShape(shapes.Shape):
    """The open findings at the price in force, at another one, and the difference."""

    currency = shapes.CurrencyField()
    findings = CountedLeakShape(many=True)
    leakage = BareFlowShape()
    before = AtPriceShape()
    after = AtPriceShape()
    difference = AtPriceShape()
    reasons = BalanceReasonShape(many=True)
