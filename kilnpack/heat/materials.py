"""Heat stored by ware and furniture, and the properties of lining materials, from the published tables.

Everything is kept on one even temperature grid, so that the compiled kernel looks values up in one step.
"""

from __future__ import annotations

from functools import cache
from math import fsum

import numpy as np
from numpy.typing import NDArray

from kilnpack.shared_tables import table
from kilnpack.units import ZERO_DEGC_K, k_from_degc

Floats = NDArray[np.float64]

GRID_FIRST_DEGC = -100.0
GRID_STEP_K = 20.0
GRID_DEGC: Floats = np.arange(GRID_FIRST_DEGC, 1900.0 + GRID_STEP_K / 2, GRID_STEP_K)
COLD_DEGC = 20.0
LEAST_SHARE = 0.5
"""What is carried on below a table never falls under this share of its first value."""

POWERS = {"c_m2": -2.0, "c_m05": -0.5, "c_0": 0.0, "c_1": 1.0, "c_2": 2.0, "c_3": 3.0, "c_4": 4.0}


@cache
def stored_materials() -> tuple[str, ...]:
    """Return the names of the materials that `enthalpy_kj_kg` knows."""
    return tuple(dict.fromkeys(row["material"] for row in table("heat_capacity")))


@cache
def lining_materials() -> tuple[str, ...]:
    """Return the names of the lining materials."""
    return tuple(dict.fromkeys(row["material"] for row in table("lining")))


def enthalpy_kj_kg(material: str, temperature_degc: float, *, from_degc: float = COLD_DEGC) -> float:
    """Return the heat that a kilogram stores between two temperatures, kJ/kg.

    Parameters
    ----------
    material
        One of `stored_materials`.
    temperature_degc, from_degc
        Hot and cold end. Above the last published range its formula is carried on.

    Raises
    ------
    LookupError
        The material is not in the table.

    References
    ----------
    `nasa-tm-4513`, `holland-powell-2011`: coefficients of `shared/heat_capacity.csv`.
    """
    return _heat_above_zero_k(material, temperature_degc) - _heat_above_zero_k(material, from_degc)


def _ranges(material: str) -> list[dict[str, str]]:
    rows = [row for row in table("heat_capacity") if row["material"] == material]
    if not rows:
        known = ", ".join(stored_materials())
        raise LookupError(f"no heat capacity for {material!r}; there are: {known}")
    return rows


def _primitive(row: dict[str, str], at_k: float) -> float:
    """Return the integral of the heat capacity of one range, J/kg, up to a constant."""
    terms = (float(row[name]) * at_k ** (power + 1.0) / (power + 1.0) for name, power in POWERS.items())
    return fsum(terms)


def _heat_above_zero_k(material: str, temperature_degc: float) -> float:
    """Return kJ/kg up to a constant of the material: whole ranges below, then the part of the range reached."""
    at_k = k_from_degc(temperature_degc)
    rows = _ranges(material)
    total = 0.0
    for number, row in enumerate(rows):
        low_k, high_k = float(row["t_low_k"]), float(row["t_high_k"])
        if number and at_k < low_k:
            break
        last = number == len(rows) - 1
        top_k = at_k if last else min(at_k, high_k)
        total += (_primitive(row, top_k) - _primitive(row, low_k)) / 1000.0 + float(row["step_kj_kg"])
    return total


@cache
def heat_on_grid(material: str) -> Floats:
    """Return the heat stored from 20 degC at the grid points, J/kg; shape of `GRID_DEGC`. Read only."""
    values = np.array([enthalpy_kj_kg(material, t) * 1000.0 for t in GRID_DEGC])
    values.flags.writeable = False
    return values


@cache
def lining_on_grid(material: str) -> tuple[Floats, Floats]:
    """Return conductivity, W/(m K), and heat capacity by volume, J/(m3 K), at the grid points. Read only.

    Between published points both are linear. Outside, the conductivity carries its end slope on (down to half its
    first value), because insulation conducts less when cold; so does the heat capacity.

    Raises
    ------
    LookupError
        The material is not in the table.

    References
    ----------
    `vdi-heat-atlas-2010`: values at 400-1200 degC of `shared/lining.csv`.
    """
    rows = [row for row in table("lining") if row["material"] == material]
    if not rows:
        known = ", ".join(lining_materials())
        raise LookupError(f"no lining material {material!r}; there are: {known}")
    at = np.array([float(row["t_degc"]) for row in rows])
    conductivity = _carried_on(at, np.array([float(row["conductivity_w_m_k"]) for row in rows]))
    capacity = _carried_on(at, np.array([float(row["heat_capacity_j_kg_k"]) for row in rows]))
    density = float(rows[0]["density_kg_m3"])
    found = (conductivity, density * capacity)
    for values in found:
        values.flags.writeable = False
    return found


def _carried_on(at: Floats, values: Floats) -> Floats:
    inside = np.interp(GRID_DEGC, at, values)
    low = values[0] + (GRID_DEGC - at[0]) * (values[1] - values[0]) / (at[1] - at[0])
    high = values[-1] + (GRID_DEGC - at[-1]) * (values[-1] - values[-2]) / (at[-1] - at[-2])
    carried = np.where(at[0] > GRID_DEGC, low, np.where(at[-1] < GRID_DEGC, high, inside))
    kept: Floats = np.maximum(carried, LEAST_SHARE * values[0])
    return kept


def air_flow_w_k(air_nm3_h: float) -> float:
    """Return the heat capacity flow of an air stream, W/K.

    Parameters
    ----------
    air_nm3_h
        Volume at 0 degC and 101325 Pa an hour.

    References
    ----------
    `gri-mech-3`: mean molar heat capacity of air (79 % N2, 21 % O2) between 20 and 1000 degC.
    """
    moles_s = air_nm3_h / 3600.0 * 101325.0 / (8.314462618 * ZERO_DEGC_K)
    return moles_s * 32.0
