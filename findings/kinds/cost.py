"""What a loss costs and emits per hour, exact in decimals; the caller rounds once, at the edge.

Money has the currency of the price passed in. Sums are exact while the inputs have at most a few
hundred digits together.
"""

from decimal import Context, Decimal

EXACT = Context(prec=600)
SECONDS_PER_HOUR = Decimal(3600)


def product(*factors: Decimal) -> Decimal:
    """Return the exact product of decimals."""
    result = Decimal(1)
    for factor in factors:
        result = EXACT.multiply(result, factor)
    return result


def power_w(flow_m3_per_s: Decimal, specific_energy_j_per_m3: Decimal) -> Decimal:
    """Return the power in W that makes the lost flow; both at the same reference state."""
    return product(flow_m3_per_s, specific_energy_j_per_m3)


def cost_per_hour(
    flow_m3_per_s: Decimal, specific_energy_j_per_m3: Decimal, price_per_kwh: Decimal
) -> Decimal:
    """Return the electricity cost per hour of a lost flow at full-load specific energy."""
    return power_cost_per_hour(power_w(flow_m3_per_s, specific_energy_j_per_m3), price_per_kwh)


def power_cost_per_hour(power_w: Decimal, price_per_kwh: Decimal) -> Decimal:
    """Return the electricity cost per hour of a power in W."""
    return product(power_w, Decimal("0.001"), price_per_kwh)


def mass_cost_per_hour(mass_flow_kg_per_s: Decimal, price_per_kg: Decimal) -> Decimal:
    """Return the cost per hour of a gas or steam that is bought or made at a price per kg."""
    return product(mass_flow_kg_per_s, SECONDS_PER_HOUR, price_per_kg)


def volume_cost_per_hour(flow_m3_per_s: Decimal, price_per_m3: Decimal) -> Decimal:
    """Return the cost per hour of a gas bought at a price per m3 at the flow's own reference state."""
    return product(flow_m3_per_s, SECONDS_PER_HOUR, price_per_m3)


def price_per_energy(price_per_amount: Decimal, energy_per_amount: Decimal) -> Decimal:
    """Return a fuel's price per unit of energy; raises DivisionByZero for an amount without energy."""
    return Context(prec=34).divide(price_per_amount, energy_per_amount)


def co2e_kg_per_hour(power_w: Decimal, factor_kg_per_kwh: Decimal) -> Decimal:
    """Return the CO2e in kg per hour of an electric power in W by the site's grid factor."""
    return product(power_w, Decimal("0.001"), factor_kg_per_kwh)


def vented_co2e_kg_per_hour(mass_flow_kg_per_s: Decimal, warming_potential: Decimal) -> Decimal:
    """Return the CO2e in kg per hour of a gas let into the air."""
    return product(mass_flow_kg_per_s, SECONDS_PER_HOUR, warming_potential)
