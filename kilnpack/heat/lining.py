"""The lining of a kiln as cells for the compiled kernel, its state, and one run through time."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from math import fsum
from typing import TYPE_CHECKING

import numpy as np

from kilnpack.errors import Finding, InputFaulty, SolverFault
from kilnpack.heat.lining_kernel import AREA, CAPACITY, CONDUCTIVITY, HALF, HEAT, VOLUME, enthalpy, march
from kilnpack.heat.materials import (
    COLD_DEGC,
    GRID_DEGC,
    GRID_FIRST_DEGC,
    GRID_STEP_K,
    Floats,
    lining_materials,
    lining_on_grid,
)
from kilnpack.heat.walls import ROOM_DEGC, Walls, film_w_m2_k, walls_of
from kilnpack.units import m_from_mm

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from kilnpack.heat.curve import Steps
    from kilnpack.model.kilns import Kiln, LiningLayer

CELL_M = 0.005


@dataclass(frozen=True, slots=True, kw_only=True)
class LiningState:
    """Temperatures of the chamber and of every cell of the lining, hot face first, degC."""

    chamber_degc: float
    cells_degc: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lining:
    """Arrays the kernel wants: `layer` (n,), `cells` (3, n + 1), `tables` (3, layers, points), `film` (points,)."""

    layer: NDArray[np.int64]
    cells: Floats
    tables: Floats
    film: Floats
    area_m2: float

    @property
    def cold(self) -> LiningState:
        """The lining at room temperature throughout."""
        return LiningState(chamber_degc=COLD_DEGC, cells_degc=(ROOM_DEGC,) * len(self.layer))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Run:
    """What one run through time found.

    `times_s`, `chamber_degc`, `shell_degc` have shape (m + 1,); `energies_j` has columns power, hot face, outside,
    air and shape (m, 4); `stored_j` is the heat the lining gained; `end` its state.
    """

    times_s: Floats
    chamber_degc: Floats
    shell_degc: Floats
    energies_j: Floats
    stored_j: float
    end: LiningState


def lining_findings(kiln: Kiln) -> list[Finding]:
    """Return every fault of a kiln's lining that keeps its heat from being computed."""
    if not kiln.lining:
        return [_finding(kiln, "", "the layers of the wall, hot face first")]
    known = ", ".join(lining_materials())
    found = [
        _finding(kiln, layer.material, f"one of: {known}")
        for layer in kiln.lining
        if layer.material not in lining_materials()
    ]
    found += [
        _finding(kiln, f"{layer.material} {layer.thickness_mm:g} mm", "a thickness over 0 mm")
        for layer in kiln.lining
        if layer.thickness_mm <= 0.0
    ]
    return found


def _finding(kiln: Kiln, found: str, wanted: str) -> Finding:
    return Finding(file=f"kiln {kiln.code}", row=None, field="lining", found=found, wanted=wanted)


@cache
def lining_of(kiln: Kiln) -> Lining:
    """Return the lining of a kiln cut into cells of about 5 mm.

    Raises
    ------
    InputFaulty
        The kiln states no lining, or one of an unknown material.
    """
    findings = lining_findings(kiln)
    if findings:
        raise InputFaulty(findings)
    thick_m = sum(m_from_mm(layer.thickness_mm) for layer in kiln.lining)
    walls = walls_of(kiln.chamber, kiln.usable_height_mm, thick_m)
    film = np.array([film_w_m2_k(t, height_m=walls.height_m) for t in GRID_DEGC])
    return build(kiln.lining, walls, film)


def build(layers: tuple[LiningLayer, ...], walls: Walls, film: Floats, *, cell_m: float = CELL_M) -> Lining:
    """Cut layers into cells of about `cell_m` and look their properties up.

    Parameters
    ----------
    layers
        Hot face first.
    walls
        Areas over depth.
    film
        Outside film on the temperature grid, W/(m2 K).
    cell_m
        Thickness wanted of a cell, m.
    """
    properties = [lining_on_grid(layer.material) for layer in layers]
    thicknesses = [m_from_mm(layer.thickness_mm) for layer in layers]
    return build_from(properties, thicknesses, walls, film, cell_m=cell_m)


def build_from(
    properties: list[tuple[Floats, Floats]], thicknesses_m: list[float], walls: Walls, film: Floats, *, cell_m: float
) -> Lining:
    """As `build`, from conductivity W/(m K) and heat capacity J/(m3 K) of each layer on the temperature grid."""
    counts = [max(1, round(thick / cell_m)) for thick in thicknesses_m]
    layer = np.repeat(np.arange(len(counts)), counts)
    width = np.repeat([thick / count for thick, count in zip(thicknesses_m, counts, strict=True)], counts)
    faces = np.concatenate([[0.0], np.cumsum(width)])
    cells = np.zeros((3, len(layer) + 1))
    cells[HALF, :-1] = width / 2.0
    cells[VOLUME, :-1] = np.diff(walls.volume_to(faces))
    cells[AREA] = walls.area_at(faces)
    tables = np.zeros((3, len(counts), len(GRID_DEGC)))
    for number, (conductivity, capacity) in enumerate(properties):
        tables[CONDUCTIVITY, number] = conductivity
        tables[CAPACITY, number] = capacity
        tables[HEAT, number] = integrated(capacity)
    return Lining(layer=layer, cells=cells, tables=tables, film=film, area_m2=walls.area_m2)


def integrated(capacity: Floats) -> Floats:
    """Return the heat above the start of the grid for a heat capacity that is linear between its points."""
    steps = (capacity[1:] + capacity[:-1]) / 2.0 * GRID_STEP_K
    return np.concatenate([[0.0], np.cumsum(steps)])


def stored_j(lining: Lining, state: LiningState) -> float:
    """Return the heat in the lining above the start of the temperature grid, J."""
    return fsum(
        lining.cells[VOLUME, i]
        * enthalpy(at, GRID_FIRST_DEGC, GRID_STEP_K, lining.tables[CAPACITY, kind], lining.tables[HEAT, kind])
        for i, (at, kind) in enumerate(zip(state.cells_degc, lining.layer, strict=True))
    )


def run(
    lining: Lining,
    curve: Steps,
    *,
    load: Floats,
    start: LiningState,
    leak_w_k: float = 0.0,
    bands: Floats | None = None,
    stop_degc: float = -np.inf,
) -> Run:
    """Run the lining and the chamber's contents through a curve.

    Parameters
    ----------
    lining
        From `lining_of` or `build`.
    curve
        Times, temperatures and modes.
    load
        Heat in the contents on the grid, J; shape (points,). Straight between the points.
    start
        Temperatures to start from.
    leak_w_k
        Leak air of the heated chamber, W/K.
    bands
        Cooling air; shape (3, b), see the kernel. None: the leak air at every temperature.
    stop_degc
        A floating chamber stops here.

    Raises
    ------
    SolverFault
        The heat equation did not converge.
    """
    count = len(curve.times_s)
    temps = np.array([start.chamber_degc, *start.cells_degc])
    chamber, shell, energies = np.zeros(count), np.zeros(count), np.zeros((count - 1, 4))
    if bands is None:
        bands = np.array([[GRID_FIRST_DEGC], [leak_w_k], [np.inf]])
    taken, good = march(
        curve.times_s, curve.degc, curve.mode, leak_w_k, bands, stop_degc,
        temps, lining.layer, lining.cells, lining.tables, lining.film, load, GRID_FIRST_DEGC, GRID_STEP_K, ROOM_DEGC,
        chamber, shell, energies,
    )  # fmt: skip
    if not good:
        raise SolverFault("heat through the lining did not converge")
    end = LiningState(chamber_degc=float(temps[0]), cells_degc=tuple(temps[1:].tolist()))
    return Run(
        times_s=curve.times_s[: taken + 1],
        chamber_degc=chamber[: taken + 1],
        shell_degc=shell[: taken + 1],
        energies_j=energies[:taken],
        stored_j=float(stored_j(lining, end) - stored_j(lining, start)),
        end=end,
    )
