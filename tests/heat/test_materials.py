"""Heat stored by materials and properties of linings, against the libraries that carry the handbooks."""

from __future__ import annotations

from functools import cache
from importlib import import_module
from pathlib import Path

import numpy as np
import pytest

from kilnpack.heat.materials import (
    GRID_DEGC,
    air_flow_w_k,
    enthalpy_kj_kg,
    heat_on_grid,
    lining_materials,
    lining_on_grid,
    stored_materials,
)
from kilnpack.shared_tables import table

PHASES = {
    "quartz": ("SiO2(Lqz)", "SiO2(hqz)"),
    "mullite": ("AL6Si2O13(s)",),
    "silicon carbide": ("SiC(b)",),
    "alumina": ("AL2O3(a)",),
}
AGREE = 0.005


@cache
def condensed_kj_kg(phase: str, temperature_degc: float) -> float:
    """Return cantera's enthalpy of a condensed phase with its heat of formation, kJ/kg."""
    import cantera

    path = Path(cantera.__file__).parent / "data" / "nasa_condensed.yaml"
    species = next(found for found in cantera.Species.list_from_file(str(path)) if found.name == phase)
    mass_kg_kmol = sum(cantera.Element(name).weight * count for name, count in species.composition.items())
    return float(species.thermo.h(temperature_degc + 273.15)) / mass_kg_kmol / 1000.0


@pytest.mark.source("nasa-tm-4513", "condensed species, NASA polynomials as carried by cantera")
@pytest.mark.parametrize("material", sorted(PHASES))
@pytest.mark.parametrize("degc", [300.0, 500.0, 980.0, 1200.0, 1400.0])
def test_enthalpy_against_nasa(material: str, degc: float) -> None:
    """Heat from 20 degC agrees with the polynomials read by cantera."""
    phases = PHASES[material]
    phase = phases[-1] if degc > 573.85 else phases[0]
    wanted = condensed_kj_kg(phase, degc) - condensed_kj_kg(phases[0], 20.0)
    assert enthalpy_kj_kg(material, degc) == pytest.approx(wanted, rel=1e-4)


@pytest.mark.source("janaf-1998", "heat capacities of solids")
@pytest.mark.source("nist-webbook", "Shomate heat capacities")
@pytest.mark.source("holland-powell-2011", "data set 62")
def test_enthalpy_against_every_published_row() -> None:
    """All published rows agree within 0.5 %; where a row leaves the quartz inversion out, so does the comparison."""
    inversion = next(float(r["value"]) for r in table("chemistry") if r["process"] == "quartz inversion")
    for row in table("enthalpy_reference"):
        degc = float(row["t_degc"])
        ours = enthalpy_kj_kg(row["material"], degc)
        if row["transition_heat_included"] == "no" and degc > 573.85:
            ours -= inversion
        assert ours == pytest.approx(float(row["enthalpy_from_20_degc_kj_kg"]), rel=AGREE), row


@pytest.mark.source("common-practice", "oxides of the kiln store alike")
def test_oxides_agree_at_glost_heat() -> None:
    """All materials of the table but feldspar lie within 2.5 % of their middle at 1400 degC."""
    heats = [enthalpy_kj_kg(name, 1400.0) for name in stored_materials() if name != "potash feldspar"]
    middle = (max(heats) + min(heats)) / 2.0
    assert max(heats) <= 1.025 * middle


@pytest.mark.source("vdi-heat-atlas-2010", "refractories, as carried by ht")
@pytest.mark.parametrize(
    ("material", "name"),
    [("insulating brick 1540", "L1540"), ("insulating brick 1260", "L1260"), ("fireclay brick", "Fireclay")],
)
def test_lining_against_heat_atlas(material: str, name: str) -> None:
    """Conductivity and heat capacity between 400 and 1200 degC are those of the atlas."""
    atlas = import_module("ht.insulation")
    conductivity, capacity = lining_on_grid(material)
    for degc in (400.0, 500.0, 900.0, 1200.0):
        at_k = degc + 273.15
        assert np.interp(degc, GRID_DEGC, conductivity) == pytest.approx(atlas.refractory_VDI_k(name, at_k), rel=1e-9)
        wanted = atlas.refractories[name][0] * atlas.refractory_VDI_Cp(name, at_k)
        assert np.interp(degc, GRID_DEGC, capacity) == pytest.approx(wanted, rel=1e-9)


def test_lining_is_carried_on_beyond_its_table() -> None:
    """Below and above the table the end slopes go on: 0.32 at 400 and 0.35 at 600 make 0.29 at 200 W/(m K)."""
    conductivity, _ = lining_on_grid("insulating brick 1540")
    assert np.interp(200.0, GRID_DEGC, conductivity) == pytest.approx(0.29)
    assert np.interp(1400.0, GRID_DEGC, conductivity) == pytest.approx(0.45)
    assert all(lining_on_grid(name)[0].min() > 0.0 for name in lining_materials())


@pytest.mark.source("astm-c892", "grade 3: at most 0.66 Btu in/(h ft2 degF) at 400 degF")
@pytest.mark.source("memory", "the blanket's own values")
def test_blanket_keeps_under_the_standards_limit() -> None:
    """0.66 Btu in/(h ft2 degF) is 0.0952 W/(m K); at 204 degC the blanket conducts less, but not half of it."""
    conductivity, _ = lining_on_grid("ceramic fibre blanket 160")
    at_204 = float(np.interp(204.4, GRID_DEGC, conductivity))
    assert 0.5 * 0.0952 < at_204 < 0.0952


@pytest.mark.source("steam-tables", "air as computed by CoolProp")
def test_air_flow_carries_what_air_does() -> None:
    """A normal cubic metre an hour carries the mean heat capacity of air between 20 and 1000 degC, within 2 %."""
    from CoolProp.CoolProp import PropsSI

    rise = PropsSI("H", "T", 1273.15, "P", 101325, "Air") - PropsSI("H", "T", 293.15, "P", 101325, "Air")
    density = PropsSI("D", "T", 273.15, "P", 101325, "Air")
    assert air_flow_w_k(3600.0) == pytest.approx(density * rise / 980.0, rel=0.02)


def test_tables_on_grid_are_kept_from_harm() -> None:
    """What is remembered cannot be written over."""
    for values in (heat_on_grid("mullite"), lining_on_grid("mullite brick")[0]):
        with pytest.raises(ValueError, match="read-only"):
            values[0] = 1.0


def test_heat_on_grid_is_the_enthalpy() -> None:
    """The grid holds the heat from 20 degC in joules."""
    at = int(np.searchsorted(GRID_DEGC, 1400.0))
    assert heat_on_grid("mullite")[at] == pytest.approx(1000.0 * enthalpy_kj_kg("mullite", 1400.0))


def test_unknown_materials_are_named() -> None:
    """A material that no table has is named with those there are."""
    with pytest.raises(LookupError, match="'cheese'; there are: quartz"):
        enthalpy_kj_kg("cheese", 100.0)
    with pytest.raises(LookupError, match="'cheese'; there are: silica brick"):
        lining_on_grid("cheese")
