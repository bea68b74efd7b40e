"""Heat taken by what happens to the ware: drying, loss of bound water, reactions of body and glaze."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from kilnpack.heat.materials import COLD_DEGC, GRID_DEGC, Floats
from kilnpack.model.pieces import Stage
from kilnpack.shared_tables import table

if TYPE_CHECKING:
    from kilnpack.model.settings import WorksSettings


@dataclass(frozen=True, slots=True, kw_only=True)
class Chemistry:
    """What the ware takes up beyond being warmed, per kilogram as set.

    Parameters
    ----------
    kaolinite_share
        Kaolinite in the ware, by mass; it is all lost in the first firing.
    free_water_share
        Water still in the pores, by mass.
    melting_kj_kg
        Reactions and melting of the glost firing, kJ per kg of ware.
    """

    kaolinite_share: float = 0.0
    free_water_share: float = 0.0
    melting_kj_kg: float = 0.0


def chemistry_of(settings: WorksSettings, stage: Stage) -> Chemistry:
    """Return what the ware of a works takes up in a stage.

    References
    ----------
    `memory`: a usual hard porcelain body has about half kaolin, bone dry ware in a damp shop about 1 % of water.
    """
    if stage is Stage.BISCUIT:
        return Chemistry(kaolinite_share=settings.kaolinite_share, free_water_share=settings.free_water_share)
    return Chemistry(melting_kj_kg=settings.glost_melting_kj_kg if stage is Stage.GLOST else 0.0)


# Where the heat is taken, degC (common practice).
DRYING_DEGC = (COLD_DEGC, 120.0)
BOUND_WATER_DEGC = (440.0, 660.0)
MELTING_DEGC = (1000.0, 1300.0)


@cache
def reaction_heat_kj_kg(process: str) -> float:
    """Return a heat of reaction of the published table, kJ/kg."""
    return next(float(row["value"]) for row in table("chemistry") if row["process"] == process)


def chemistry_j_kg(chemistry: Chemistry) -> Floats:
    """Return the heat taken by a kilogram of ware on its way to each temperature of the grid, J/kg.

    References
    ----------
    `own-calculation`, `steam-tables`, `memory`: `shared/chemistry.csv`.
    """
    kaolinite = reaction_heat_kj_kg("kaolinite to mullite, quartz and steam")
    water = reaction_heat_kj_kg("free water from 20 degC to steam at 100 degC")
    parts = (
        (chemistry.free_water_share * water, DRYING_DEGC),
        (chemistry.kaolinite_share * kaolinite, BOUND_WATER_DEGC),
        (chemistry.melting_kj_kg, MELTING_DEGC),
    )
    total = np.zeros(len(GRID_DEGC))
    for heat_kj_kg, (low, high) in parts:
        total += 1000.0 * heat_kj_kg * np.clip((GRID_DEGC - low) / (high - low), 0.0, 1.0)
    return total
