"""Benchmark cases of materials, fuels, shell and cones against published tables and reference libraries."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from benchmarks.heat_wall import Row
from kilnpack.heat.cones import published_series
from kilnpack.heat.fuels import METHANE, PROPANE, available_share, gross_over_net, net_kj_mol
from kilnpack.heat.materials import enthalpy_kj_kg
from kilnpack.heat.walls import film_w_m2_k
from kilnpack.shared_tables import table

SOURCES = {
    "nasa-tm-4513": "NASA polynomials",
    "janaf-1998": "JANAF",
    "nist-webbook": "WebBook",
    "holland-powell-2011": "Holland and Powell",
}
PHASES = {
    "quartz": ("SiO2(Lqz)", "SiO2(hqz)"),
    "mullite": ("AL6Si2O13(s)", "AL6Si2O13(s)"),
    "silicon carbide": ("SiC(b)", "SiC(b)"),
    "alumina": ("AL2O3(a)", "AL2O3(a)"),
}
CAS = {"methane": "74-82-8", "propane": "74-98-6"}


def _worst(name: str, pairs: list[tuple[float, float]], unit: str, allowed: float, source: str) -> Row:
    """Return the pair of value and reference that is farthest apart, relative to the reference."""
    value, reference = max(pairs, key=lambda pair: abs(pair[0] / pair[1] - 1.0))
    return Row(
        name=f"{name}, worst of {len(pairs)}",
        value=value,
        reference=reference,
        unit=unit,
        allowed=allowed,
        relative=True,
        source=source,
    )


def enthalpy_rows() -> list[Row]:
    """Return stored heat against each publisher of the reference table, and against cantera as installed."""
    inversion = next(float(row["value"]) for row in table("chemistry") if row["process"] == "quartz inversion")
    rows = []
    for source, said in SOURCES.items():
        pairs = []
        for row in table("enthalpy_reference"):
            degc = float(row["t_degc"])
            left_out = inversion if row["transition_heat_included"] == "no" and degc > 573.85 else 0.0
            if row["source"] == source:
                ours = enthalpy_kj_kg(row["material"], degc) - left_out
                pairs.append((ours, float(row["enthalpy_from_20_degc_kj_kg"])))
        rows.append(_worst(f"stored heat, {said}", pairs, "kJ/kg", 0.005, source))
    return [*rows, _cantera_enthalpy()]


def _cantera_enthalpy() -> Row:
    import cantera

    path = str(Path(cantera.__file__).parent / "data" / "nasa_condensed.yaml")
    species = {found.name: found for found in cantera.Species.list_from_file(path)}

    def heat_kj_kg(name: str, degc: float) -> float:
        one = species[name]
        mass = sum(cantera.Element(element).weight * count for element, count in one.composition.items())
        return float(one.thermo.h(degc + 273.15)) / mass / 1000.0

    pairs = []
    for material, (cold, hot) in PHASES.items():
        for degc in (300.0, 700.0, 980.0, 1200.0, 1400.0):
            phase = hot if degc > 573.85 else cold
            pairs.append((enthalpy_kj_kg(material, degc), heat_kj_kg(phase, degc) - heat_kj_kg(cold, 20.0)))
    return _worst("stored heat, cantera", pairs, "kJ/kg", 0.005, "nasa-tm-4513")


def fuel_rows() -> list[Row]:
    """Return calorific values and available heat against chemicals, cantera and print."""
    from chemicals.reaction import Hfg

    pairs = []
    for fuel in (METHANE, PROPANE):
        burnt = fuel.carbon * Hfg("124-38-9") + fuel.hydrogen / 2 * Hfg("7732-18-5")
        pairs.append((net_kj_mol(fuel), (Hfg(CAS[fuel.name]) - burnt) / 1000.0))
    gross = 100.0 * available_share(METHANE, 1.0, 1204.4, 15.6) / gross_over_net(METHANE)
    return [
        _worst("net calorific value, chemicals", pairs, "kJ/mol", 0.003, "nist-webbook"),
        _cantera_available(),
        Row(
            name="available of gross, 2200 degF, stoichiometric",
            value=gross,
            reference=41.0,
            unit="%",
            allowed=0.5,
            relative=False,
            source="ceramic-industry-2008",
        ),
    ]


def _cantera_available() -> Row:
    """Return available heat against equilibrium of the species that form in the time a flue takes."""
    import cantera

    names = {"CH4", "O2", "N2", "CO", "CO2", "H2", "H2O"}
    species = [s for s in cantera.Species.list_from_file("gri30.yaml") if s.name in names]
    gas: Any = cantera.Solution(thermo="ideal-gas", species=species)
    ratios, flues_degc = (0.9, 0.95, 1.0, 1.05, 1.2, 1.5), (500.0, 980.0, 1200.0, 1400.0)
    cases = [(ratio, degc) for ratio in ratios for degc in flues_degc if ratio >= 1.0 or degc > 900.0]
    pairs = [(available_share(METHANE, ratio, degc), _share(gas, ratio, degc)) for ratio, degc in cases]
    return _worst("available heat, cantera", pairs, "of net", 0.01, "cantera-gri30")


def _share(gas: Any, air_ratio: float, flue_degc: float) -> float:
    moles = 2.0 * air_ratio / 0.2095
    gas.TPX = 298.15, 101325.0, {"CH4": 1.0}
    given = gas.enthalpy_mole
    gas.TPX = 293.15, 101325.0, {"O2": 0.2095, "N2": 0.7905}
    given += moles * gas.enthalpy_mole
    gas.TPX = flue_degc + 273.15, 101325.0, {"CH4": 1.0, "O2": moles * 0.2095, "N2": moles * 0.7905}
    mass = gas.mean_molecular_weight * (1.0 + moles)
    gas.equilibrate("TP")
    return float(given - gas.enthalpy_mass * mass) / 802.56e6


def shell_rows() -> list[Row]:
    """Return the loss of a shell against the published table."""
    pairs = []
    for row in table("wall_loss"):
        shell, room = float(row["surface_degc"]), float(row["ambient_degc"])
        loss = film_w_m2_k(shell, height_m=1.8, room_degc=room) * (shell - room)
        pairs.append((loss, float(row["loss_w_m2"])))
    return [_worst("loss of the shell", pairs, "W/m2", 0.01, "ht-churchill-chu")]


def cone_rows() -> list[Row]:
    """Return how far the cone fits miss their end points, in sample and leaving a rate out."""
    cones = published_series()
    readable = [cone for cone in cones if cone.readable]
    bars = (
        ("all cones, in sample", [miss for cone in cones for miss in cone.misfit_k], 4.0, "cone-chart, memory"),
        ("cones with a readable source, in sample", [m for c in readable for m in c.misfit_k], 4.0, "cone-chart"),
        (
            "cones with a readable source, a rate left out",
            [m for c in readable for m in c.left_out_k],
            15.0,
            "cone-chart",
        ),
        ("all cones, a rate left out", [m for c in cones for m in c.left_out_k], 15.0, "cone-chart, memory"),
    )
    return [
        Row(
            name=f"{name}, worst of {len(misses)}",
            value=max(misses, key=abs),
            reference=0.0,
            unit="K",
            allowed=allowed,
            relative=False,
            source=source,
        )
        for name, misses, allowed, source in bars
    ]


def table_rows() -> list[Row]:
    """Return all cases against tables and libraries."""
    return [*enthalpy_rows(), *fuel_rows(), *shell_rows(), *cone_rows()]
