"""Changes of unit, each named for what it does. All are exact definitions of the SI or follow from them.

References
----------
`si-brochure`: the kelvin and the degree Celsius (section 2.3.1), prefixes (table 7), hour and minute (table 8).
"""

from __future__ import annotations

ZERO_DEGC_K = 273.15
KJ_PER_KWH = 3600.0
MJ_PER_KWH = 3.6
SECONDS_PER_HOUR = 3600.0
MM_PER_M = 1000.0
G_PER_KG = 1000.0


def k_from_degc(temperature_degc: float) -> float:
    """Return the absolute temperature (K) of a temperature in degC."""
    return temperature_degc + ZERO_DEGC_K


def degc_from_k(temperature_k: float) -> float:
    """Return the temperature (degC) of an absolute temperature in K."""
    return temperature_k - ZERO_DEGC_K


def kwh_from_mj(energy_mj: float) -> float:
    """Return an energy in kWh from MJ."""
    return energy_mj / MJ_PER_KWH


def mj_from_kwh(energy_kwh: float) -> float:
    """Return an energy in MJ from kWh."""
    return energy_kwh * MJ_PER_KWH


def kwh_from_j(energy_j: float) -> float:
    """Return an energy in kWh from J."""
    return energy_j / (MJ_PER_KWH * 1e6)


def j_from_kwh(energy_kwh: float) -> float:
    """Return an energy in J from kWh."""
    return energy_kwh * MJ_PER_KWH * 1e6


def m_from_mm(length_mm: float) -> float:
    """Return a length in m from mm."""
    return length_mm / MM_PER_M


def mm_from_m(length_m: float) -> float:
    """Return a length in mm from m."""
    return length_m * MM_PER_M


def m2_from_mm2(area_mm2: float) -> float:
    """Return an area in m2 from mm2."""
    return area_mm2 / MM_PER_M**2


def m3_from_mm3(volume_mm3: float) -> float:
    """Return a volume in m3 from mm3."""
    return volume_mm3 / MM_PER_M**3


def h_from_s(time_s: float) -> float:
    """Return a time in h from s."""
    return time_s / SECONDS_PER_HOUR


def s_from_h(time_h: float) -> float:
    """Return a time in s from h."""
    return time_h * SECONDS_PER_HOUR


def kg_from_g(mass_g: float) -> float:
    """Return a mass in kg from g."""
    return mass_g / G_PER_KG
