"""Ten thousand leak flows: the service's estimate against the bare numpy expression of the same physics."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from findings.physics import lazily
from findings.physics.gases import GASES

LEAKS = 10_000


def ways() -> tuple[Callable[[], object], Callable[[], object]]:
    """Return the plain way, which gives volume flows alone, and ours, with interval and reasons."""
    batch = lazily.load("findings.physics.batch_flow")
    source = np.random.default_rng(1)
    gases = [GASES[key] for key in batch.GAS_KEYS]
    k_of, molar_of = np.array([g.k for g in gases]), np.array([g.molar_mass_kg_per_mol for g in gases])
    gas, edge = source.integers(0, len(gases), LEAKS), source.integers(0, len(batch.EDGES), LEAKS)
    diameter, upstream = source.uniform(1e-4, 5e-3, LEAKS), source.uniform(1.1e5, 1.1e6, LEAKS)
    leaks = batch.Leaks(
        gas=gas,
        diameter_m=diameter,
        diameter_u_m=0.1 * diameter,
        edge=edge,
        coefficient=np.full(LEAKS, np.nan),
        coefficient_u=np.zeros(LEAKS),
        upstream_pa=upstream,
        upstream_u_pa=np.full(LEAKS, 5e3),
        downstream_pa=np.full(LEAKS, 101325.0),
        temperature_k=np.full(LEAKS, 293.15),
        temperature_u_k=np.full(LEAKS, 5.0),
    )

    def plain() -> object:
        k, molar, ratio = k_of[gas], molar_of[gas], 101325.0 / upstream
        choked = ratio <= (2.0 / (k + 1.0)) ** (k / (k - 1.0))
        factor = np.where(
            choked,
            np.sqrt(k) * (2.0 / (k + 1.0)) ** ((k + 1.0) / (2.0 * (k - 1.0))),
            np.sqrt(2.0 * k / (k - 1.0) * (ratio ** (2.0 / k) - ratio ** ((k + 1.0) / k))),
        )
        specific = 8.314462618 / molar
        mass = 0.8 * np.pi / 4.0 * diameter**2 * upstream / np.sqrt(specific * 293.15) * factor
        return mass * specific * 293.15 / 1e5

    return plain, lambda: batch.batch_flow(leaks)
