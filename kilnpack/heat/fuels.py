"""Gas fuels: calorific values, carbon dioxide, and how much of the heat stays in the kiln.

Burnt gas leaves at the temperature of the kiln. With enough air it is carbon dioxide, water, oxygen and nitrogen; with
too little, carbon monoxide and hydrogen share what oxygen there is by the water-gas equilibrium at that temperature.
Splitting of the hot gas itself is left out; it takes under 0.1 % below 1400 degC.

References
----------
`gri-mech-3`: enthalpies and entropies of the species, `shared/gas_properties.csv`.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from math import exp, log, sqrt
from typing import TYPE_CHECKING

import numpy as np

from kilnpack.heat.materials import GRID_DEGC, Floats
from kilnpack.shared_tables import table
from kilnpack.units import MJ_PER_KWH, ZERO_DEGC_K, k_from_degc

if TYPE_CHECKING:
    from collections.abc import Mapping

GAS_J_MOL_K = 8.314462618
STANDARD_PA = 101325.0
REFERENCE_K = 298.15
NITROGEN_PER_OXYGEN = 3.773
"""mol of nitrogen (with argon) per mol of oxygen in dry air, 20.95 % oxygen."""
CONDENSATION_KJ_MOL = 44.004
"""Heat of condensation of water at 25 degC; the difference of gross and net."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fuel:
    """A gas fuel as one molecule, carbon and hydrogen only. Natural gas counts as methane."""

    name: str
    species: str
    carbon: int
    hydrogen: int


METHANE = Fuel(name="methane", species="CH4", carbon=1, hydrogen=4)
PROPANE = Fuel(name="propane", species="C3H8", carbon=3, hydrogen=8)
CO2_KG_MOL = 0.0440095


@cache
def _coefficients(species: str) -> tuple[float, tuple[tuple[float, ...], ...]]:
    rows = [row for row in table("gas_properties") if row["species"] == species]
    ranges = tuple(tuple(float(row[f"a{i}"]) for i in range(1, 8)) for row in rows)
    return float(rows[0]["t_high_k"]), ranges


def _range(species: str, at_k: float) -> tuple[float, ...]:
    middle_k, (low, high) = _coefficients(species)
    return low if at_k < middle_k else high


def enthalpy_j_mol(species: str, at_k: float) -> float:
    """Return the enthalpy of a gas with its heat of formation, J/mol, at an absolute temperature."""
    a = _range(species, at_k)
    return GAS_J_MOL_K * (sum(a[i] * at_k ** (i + 1) / (i + 1) for i in range(5)) + a[5])


def _entropy_j_mol_k(species: str, at_k: float) -> float:
    a = _range(species, at_k)
    return GAS_J_MOL_K * (a[0] * log(at_k) + sum(a[i] * at_k**i / i for i in range(1, 5)) + a[6])


@cache
def molar_mass_kg(species: str) -> float:
    """Return the molar mass of a gas, kg/mol."""
    return next(float(row["molar_mass_g_mol"]) for row in table("gas_properties") if row["species"] == species) / 1000.0


def net_kj_mol(fuel: Fuel) -> float:
    """Return the net calorific value (water stays steam) at 25 degC, kJ/mol."""
    burnt = fuel.carbon * enthalpy_j_mol("CO2", REFERENCE_K) + fuel.hydrogen / 2 * enthalpy_j_mol("H2O", REFERENCE_K)
    oxygen = (fuel.carbon + fuel.hydrogen / 4) * enthalpy_j_mol("O2", REFERENCE_K)
    return (enthalpy_j_mol(fuel.species, REFERENCE_K) + oxygen - burnt) / 1000.0


def net_mj_kg(fuel: Fuel) -> float:
    """Return the net calorific value, MJ/kg."""
    return net_kj_mol(fuel) / molar_mass_kg(fuel.species) / 1000.0


def gross_over_net(fuel: Fuel) -> float:
    """Return the gross calorific value as a multiple of the net one."""
    return 1.0 + fuel.hydrogen / 2 * CONDENSATION_KJ_MOL / net_kj_mol(fuel)


def net_kwh_nm3(fuel: Fuel) -> float:
    """Return the net calorific value, kWh per m3 of ideal gas at 0 degC and 101325 Pa."""
    moles = STANDARD_PA / (GAS_J_MOL_K * ZERO_DEGC_K)
    return net_kj_mol(fuel) / 1000.0 * moles / MJ_PER_KWH


def co2_kg_kwh_net(fuel: Fuel) -> float:
    """Return the carbon dioxide of complete burning, kg per kWh net."""
    return fuel.carbon * CO2_KG_MOL / (net_kj_mol(fuel) / 1000.0) * MJ_PER_KWH


def burnt_gas(fuel: Fuel, air_ratio: float, flue_degc: float) -> dict[str, float]:
    """Return the mol of each species that one mol of fuel leaves behind.

    Parameters
    ----------
    fuel
        What burns.
    air_ratio
        Air given over air needed (lambda); from 0.75 up.
    flue_degc
        Temperature at which the gas leaves.

    Raises
    ------
    ValueError
        The air ratio is under 0.75, where soot would form and the balance no longer holds.
    """
    if air_ratio < 0.75:
        raise ValueError(f"air ratio {air_ratio:g} is under 0.75: soot would form")
    needed = fuel.carbon + fuel.hydrogen / 4
    oxygen = needed * air_ratio
    nitrogen = oxygen * NITROGEN_PER_OXYGEN
    water = fuel.hydrogen / 2
    if air_ratio >= 1.0:
        return {"CO2": fuel.carbon, "H2O": water, "O2": oxygen - needed, "N2": nitrogen}
    monoxide = _monoxide(fuel.carbon, water, 2.0 * (needed - oxygen), k_from_degc(flue_degc))
    hydrogen = 2.0 * (needed - oxygen) - monoxide
    return {
        "CO2": fuel.carbon - monoxide,
        "CO": monoxide,
        "H2O": water - hydrogen,
        "H2": hydrogen,
        "N2": nitrogen,
    }


def _monoxide(carbon: float, water: float, short: float, at_k: float) -> float:
    """Return mol CO where CO + H2 = `short` and CO2 H2 / (CO H2O) is the equilibrium constant (a quadratic)."""
    gibbs = {gas: enthalpy_j_mol(gas, at_k) - at_k * _entropy_j_mol_k(gas, at_k) for gas in ("CO", "CO2", "H2", "H2O")}
    change = gibbs["CO2"] + gibbs["H2"] - gibbs["CO"] - gibbs["H2O"]
    constant = exp(-change / (GAS_J_MOL_K * at_k))
    # (carbon - x)(short - x) = constant x (water - short + x)
    a = 1.0 - constant
    b = -(carbon + short) - constant * (water - short)
    c = carbon * short
    # This form of the root also holds where the constant is 1 and the square drops out.
    return 2.0 * c / (-b + sqrt(b * b - 4.0 * a * c))


def available_share(fuel: Fuel, air_ratio: float, flue_degc: float, air_degc: float = 20.0) -> float:
    """Return the heat left in the kiln as a share of the net calorific value.

    Parameters
    ----------
    fuel, air_ratio, flue_degc
        As for `burnt_gas`.
    air_degc
        Temperature of the air for burning; more than the room's where it is preheated.

    Returns
    -------
    float
        May be zero or negative: the flame then cannot heat a kiln that hot.
    """
    oxygen = (fuel.carbon + fuel.hydrogen / 4) * air_ratio
    air_k = k_from_degc(air_degc)
    given = enthalpy_j_mol(fuel.species, REFERENCE_K)
    given += oxygen * (enthalpy_j_mol("O2", air_k) + NITROGEN_PER_OXYGEN * enthalpy_j_mol("N2", air_k))
    gas = burnt_gas(fuel, air_ratio, flue_degc)
    return (given - _total_j(gas, k_from_degc(flue_degc))) / (net_kj_mol(fuel) * 1000.0)


def _total_j(gas: Mapping[str, float], at_k: float) -> float:
    return sum(moles * enthalpy_j_mol(species, at_k) for species, moles in gas.items())


def monoxide_percent(fuel: Fuel, air_ratio: float, flue_degc: float) -> float:
    """Return the carbon monoxide in the wet burnt gas, % by volume."""
    gas = burnt_gas(fuel, air_ratio, flue_degc)
    return 100.0 * gas.get("CO", 0.0) / sum(gas.values())


@cache
def available_on_grid(fuel: Fuel, air_ratio: float, air_degc: float) -> Floats:
    """Return `available_share` at the grid points from 20 degC up (below: as at 20 degC). Read only."""
    values = np.array([available_share(fuel, air_ratio, max(20.0, t), air_degc) for t in GRID_DEGC])
    values.flags.writeable = False
    return values


def meter_m3(gross_kwh: float, *, gross_kwh_nm3: float, meter_degc: float = 15.0, meter_mbar: float = 1035.0) -> float:
    """Return what a gas meter turns for an amount of heat, m3 as it flows.

    Parameters
    ----------
    gross_kwh
        Heat, gross.
    gross_kwh_nm3
        Gross calorific value at 0 degC and 1013.25 mbar, as the supplier states it.
    meter_degc, meter_mbar
        State of the gas in the meter, absolute pressure.
    """
    norm_m3 = gross_kwh / gross_kwh_nm3
    return norm_m3 * (STANDARD_PA / 100.0 / meter_mbar) * k_from_degc(meter_degc) / ZERO_DEGC_K
