"""The best repairs for a budget of money and hours."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any, Final

from findings.kinds.calculations import schemas
from findings.kinds.calculations.answers import exact, rounded
from findings.kinds.calculations.calculation import Calculation, InvalidInput, Json
from findings.kinds.calculations.input_schema import Problem
from findings.kinds.calculations.savings import MACHINES, machine_of
from findings.kinds.calculations.tariff_input import CURRENCY
from findings.physics.estimate import Reason
from findings.physics.marginal_saving import group_saving
from findings.physics.uncertainty import Uncertain
from findings.planning.repair_plan import MOST_CANDIDATES, Budget, Candidate, Plan, PlanRefused, best_plan

NODES: Final = 100_000
SAVING, SAFETY = "saving", "safety"

REPAIR_PLAN = schemas.inputs(
    ["repairs", "currency"],
    {
        "repairs": schemas.listed(
            schemas.member(
                ["key", "saving", "cost"],
                {
                    "key": schemas.text("Its name; each one once."),
                    "saving": schemas.exact(10**12, "Expected saving over the stated time."),
                    "cost": schemas.exact(10**12, "What the repair costs, work included."),
                    "hours": schemas.exact(10**6, "Hours of work."),
                    "why": schemas.choice([SAVING, SAFETY], "safety: done whatever it saves.", SAVING),
                    "leak_flow_m3_per_s": schemas.between(
                        0.0, 1e4, "Its flow, to judge all repairs together."
                    ),
                },
                "A repair that may be done.",
            ),
            "The repairs to choose from.",
            MOST_CANDIDATES,
        ),
        "money": schemas.exact(10**12, "The most that may be spent; else without limit."),
        "hours": schemas.exact(10**9, "The most hours of work; else without limit."),
        "extra_money": schemas.exact(10**12, "Tell what the plan would gain with so much more money."),
        "machines": MACHINES,
        "demand_m3_per_s": schemas.between(1e-9, 1e4, "What the network delivers, leaks included, m3/s."),
        "currency": CURRENCY,
    },
)
REPAIR_PLAN_ANSWER = schemas.answer(
    {
        "chosen": schemas.listing({"type": "string"}, "The repairs to do, in the order given."),
        "saving": schemas.money("Their savings together."),
        "cost": schemas.money("What they cost."),
        "hours": schemas.money("Their hours of work."),
        "net": schemas.money("Saving less cost: what was made as large as can be."),
        "bound": schemas.money("A net gain that no plan within the budget exceeds."),
        "proof": schemas.choice(["optimal", "not_proven"], "Whether any plan could be better."),
        "gap": schemas.money("By what part of the bound the plan may fall short."),
        "reasons": schemas.REASONS,
        "currency": {"type": "string", "description": "ISO 4217 code of the money."},
    },
    {
        "extra_net": schemas.money("Net gain added by the extra money."),
        "apart_power_w": schemas.result("Savings of the chosen leaks, each taken alone, W."),
        "together_power_w": schemas.result("Saving of the chosen leaks taken away together, W."),
    },
)


def repair_plan(data: Mapping[str, Any]) -> Json:
    """Return the repairs with the highest net gain inside the budget, with proof or gap."""
    candidates = [_candidate(one) for one in data["repairs"]]
    budget = Budget(exact(data, "money"), exact(data, "hours"))
    plan = _planned(candidates, budget)
    result: Json = {
        "chosen": list(plan.chosen),
        "saving": rounded(plan.saving, "0.01"),
        "cost": rounded(plan.cost, "0.01"),
        "hours": rounded(plan.hours, "0.01"),
        "net": rounded(plan.net, "0.01"),
        "bound": rounded(plan.bound, "0.01"),
        "proof": "optimal" if plan.is_proven else "not_proven",
        "gap": rounded(plan.gap, "0.000001"),
        "currency": data["currency"],
    }
    extra = exact(data, "extra_money")
    if extra is not None and budget.money is not None:
        richer = _planned(candidates, budget._replace(money=budget.money + extra))
        result["extra_net"] = rounded(max(richer.net - plan.net, Decimal(0)), "0.01")
    powers, reasons = _together(data, set(plan.chosen))
    return result | powers | {"reasons": [reason._asdict() for reason in (*plan.reasons, *reasons)]}


def _candidate(data: Mapping[str, Any]) -> Candidate:
    saving, cost, hours = (exact(data, name) or Decimal(0) for name in ("saving", "cost", "hours"))
    return Candidate(data["key"], saving, cost, hours, data.get("why") == SAFETY)


def _planned(candidates: list[Candidate], budget: Budget) -> Plan:
    try:
        return best_plan(candidates, budget, most_nodes=NODES)
    except PlanRefused as refusal:
        raise InvalidInput(Problem("/repairs", refusal.reason.text)) from None


def _together(data: Mapping[str, Any], chosen: set[str]) -> tuple[Json, list[Reason]]:
    """Return what the chosen leaks save alone and together, where the machines and all flows are given."""
    if "machines" not in data and "demand_m3_per_s" not in data:
        return {}, []
    if "machines" not in data or "demand_m3_per_s" not in data:
        raise InvalidInput(Problem("/machines", "give machines and demand_m3_per_s together"))
    flows = [float(one.get("leak_flow_m3_per_s", 0.0)) for one in data["repairs"] if one["key"] in chosen]
    flows = [flow for flow in flows if flow > 0.0]
    if not flows:
        return {"apart_power_w": 0.0, "together_power_w": 0.0}, []
    machines, demand = [machine_of(one) for one in data["machines"]], float(data["demand_m3_per_s"])
    # Only the figures are wanted: two draws keep the simulation of their spread short.
    single = [group_saving(machines, demand, Uncertain(flow), draws=2) for flow in flows]
    both = group_saving(machines, demand, Uncertain(sum(flows)), draws=2)
    refused = next((one for one in (*single, both) if one.is_refused), None)
    if refused is not None:
        return {"apart_power_w": None, "together_power_w": None}, [*refused.reasons]
    apart = sum(one.marginal_w or 0.0 for one in single)
    together = both.marginal_w or 0.0
    reasons = []
    if abs(together - apart) > 0.01 * max(together, apart):
        text = (
            f"Each leak alone saves {apart / 1000:.2f} kW in sum, all together {together / 1000:.2f} kW: the "
            "savings given don't add up. Use those of the group."
        )
        reasons.append(Reason("group_differs", text))
    return {"apart_power_w": apart, "together_power_w": together}, reasons


ROWS = (
    Calculation(
        "repair-plan",
        "The best repairs for a budget of money and hours",
        repair_plan,
        REPAIR_PLAN,
        REPAIR_PLAN_ANSWER,
        {
            "repairs": [
                {"key": "hose at press 4", "saving": "1296.00", "cost": "590.00", "hours": "6"},
                {"key": "drain of dryer 2", "saving": "972.00", "cost": "450.00", "hours": "3"},
                {"key": "flange of ring main", "saving": "972.00", "cost": "500.00", "hours": "5"},
                {"key": "gas cock", "saving": "108.00", "cost": "50.00", "hours": "1", "why": "safety"},
                {"key": "valve island 7", "saving": "756.00", "cost": "400.00", "hours": "2.5"},
            ],
            "money": "1000.00",
            "hours": "16",
            "extra_money": "250.00",
            "currency": "EUR",
        },
        "Net gain by branch and bound over Dantzig's bound; two limits folded into one (Glover, 1965).",
    ),
)
