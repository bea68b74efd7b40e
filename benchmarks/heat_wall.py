"""Benchmark cases of the heat equation: closed forms of a plane wall and of a box, and its order."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import erfc, exp, log2, pi, sin, sqrt
from typing import TYPE_CHECKING

import numpy as np

from kilnpack.heat.curve import Steps
from kilnpack.heat.lining import Lining, Run, build_from, run
from kilnpack.heat.lining_kernel import HEATS
from kilnpack.heat.materials import GRID_DEGC, Floats
from kilnpack.heat.walls import Walls

if TYPE_CHECKING:
    from collections.abc import Iterable

CONDUCTIVITY_W_M_K = 0.3
CAPACITY_J_M3_K = 8.0e5
SPREAD_M2_S = CONDUCTIVITY_W_M_K / CAPACITY_J_M3_K
ROOM_DEGC = 20.0
PLANE = Walls(area_m2=1.0, growth_m=0.0, height_m=1.0, corner_share=0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One figure held against a reference. `allowed` is in the unit of the figure, or a share of the reference."""

    name: str
    value: float
    reference: float
    unit: str
    allowed: float
    relative: bool
    source: str

    @property
    def deviation(self) -> float:
        """Distance from the reference, as a share where `relative`."""
        away = abs(self.value - self.reference)
        return away / abs(self.reference) if self.relative else away

    @property
    def ok(self) -> bool:
        """Whether the figure is within what is allowed."""
        return self.deviation <= self.allowed


def slab(thickness_m: float, cells: int, *, conductivity: Floats | None = None, walls: Walls = PLANE) -> Lining:
    """Return a wall of one material whose cold face is held at the room's temperature."""
    even = np.full(len(GRID_DEGC), CONDUCTIVITY_W_M_K)
    heat = np.full(len(GRID_DEGC), CAPACITY_J_M3_K)
    held = np.full(len(GRID_DEGC), 1e9)
    properties = [(even if conductivity is None else conductivity, heat)]
    return build_from(properties, [thickness_m], walls, held, cell_m=thickness_m / cells)


def heated(lining: Lining, *, hours: float, step_s: float, from_degc: float, to_degc: float) -> Run:
    """Run the empty wall, cold throughout, with its hot face on an even curve."""
    count = round(hours * 3600.0 / step_s)
    curve = Steps(
        times_s=np.linspace(0.0, hours * 3600.0, count + 1),
        degc=np.linspace(from_degc, to_degc, count + 1),
        mode=np.full(count, HEATS, dtype=np.int64),
        air_ratio=np.full(count, np.nan),
        heating=count,
    )
    start = replace(lining.cold, chamber_degc=from_degc)
    return run(lining, curve, load=np.zeros(len(GRID_DEGC)), start=start)


def depths_m(thickness_m: float, cells: int) -> list[float]:
    """Return the depths of the cells' middles."""
    return [(number + 0.5) * thickness_m / cells for number in range(cells)]


def worst_k(found: Run, wanted: Iterable[float]) -> float:
    """Return the greatest difference of a cell from its closed form."""
    return max(abs(have - want) for have, want in zip(found.end.cells_degc, wanted, strict=True))


def step_rows() -> list[Row]:
    """Return the sudden hot face on a thick wall: temperatures and heat taken after 6 h."""
    hours, thick_m, rise, cells = 6.0, 0.6, 1000.0, 200
    found = heated(slab(thick_m, cells), hours=hours, step_s=30.0, from_degc=1020.0, to_degc=1020.0)
    seconds = hours * 3600.0
    wanted = (ROOM_DEGC + rise * erfc(x / (2.0 * sqrt(SPREAD_M2_S * seconds))) for x in depths_m(thick_m, cells))
    heat_j = 2.0 * CONDUCTIVITY_W_M_K * rise * sqrt(seconds / (pi * SPREAD_M2_S))
    source = "carslaw-jaeger, 2.4"
    return [
        Row(
            name="step on a thick wall, worst cell",
            value=worst_k(found, wanted),
            reference=0.0,
            unit="K",
            allowed=0.5,
            relative=False,
            source=source,
        ),
        Row(
            name="step on a thick wall, heat taken",
            value=float(found.energies_j[:, 1].sum()) / 1e6,
            reference=heat_j / 1e6,
            unit="MJ/m2",
            allowed=0.001,
            relative=True,
            source=source,
        ),
    ]


def ramp_worst_k(cells: int, step_s: float) -> float:
    """Return the worst cell after 6 h of a hot face rising by 100 K/h."""
    hours, thick_m, rise = 6.0, 0.6, 600.0
    found = heated(slab(thick_m, cells), hours=hours, step_s=step_s, from_degc=ROOM_DEGC, to_degc=ROOM_DEGC + rise)
    reach_m = sqrt(SPREAD_M2_S * hours * 3600.0)

    def share(depth: float) -> float:
        return (1.0 + depth**2 / 2.0) * erfc(depth / 2.0) - depth / sqrt(pi) * exp(-(depth**2) / 4.0)

    return worst_k(found, (ROOM_DEGC + rise * share(x / reach_m) for x in depths_m(thick_m, cells)))


def ramp_rows() -> list[Row]:
    """Return the rising hot face, and the order at which its error falls."""
    coarse, fine = ramp_worst_k(50, 120.0), ramp_worst_k(100, 60.0)
    source = "carslaw-jaeger, 2.5"
    return [
        Row(
            name="ramp on a thick wall, worst cell",
            value=ramp_worst_k(200, 30.0),
            reference=0.0,
            unit="K",
            allowed=0.5,
            relative=False,
            source=source,
        ),
        Row(
            name="order of convergence",
            value=log2(coarse / fine),
            reference=2.0,
            unit="",
            allowed=0.2,
            relative=False,
            source=source,
        ),
    ]


def slab_rows() -> list[Row]:
    """Return the slab with its cold face held, against 200 terms of its Fourier series."""
    hours, thick_m, rise, cells = 3.0, 0.1, 1000.0, 80
    found = heated(slab(thick_m, cells), hours=hours, step_s=30.0, from_degc=1020.0, to_degc=1020.0)

    def share(depth: float) -> float:
        total = 1.0 - depth
        for n in range(1, 200):
            fade = exp(-((n * pi / thick_m) ** 2) * SPREAD_M2_S * hours * 3600.0)
            total -= 2.0 / (n * pi) * sin(n * pi * depth) * fade
        return total

    wanted = (ROOM_DEGC + rise * share(x / thick_m) for x in depths_m(thick_m, cells))
    return [
        Row(
            name="slab, cold face held, worst cell",
            value=worst_k(found, wanted),
            reference=0.0,
            unit="K",
            allowed=0.5,
            relative=False,
            source="carslaw-jaeger, 3.4",
        )
    ]


def steady_rows() -> list[Row]:
    """Return two steady walls: a conductivity that rises with the temperature, and a box with edges and corners."""
    conductivity = 0.1 + 2.0e-4 * GRID_DEGC
    hot = 1020.0
    plane = heated(slab(0.1, 100, conductivity=conductivity), hours=60.0, step_s=600.0, from_degc=hot, to_degc=hot)
    flow_w_m2 = (0.1 * (hot - ROOM_DEGC) + 1.0e-4 * (hot**2 - ROOM_DEGC**2)) / 0.1
    sides_m, thick_m = (1.15, 1.15, 1.60), 0.325
    area_m2 = 2.0 * (sides_m[0] * sides_m[1] + sides_m[0] * sides_m[2] + sides_m[1] * sides_m[2])
    edges_m = 4.0 * sum(sides_m)
    walls = Walls(area_m2=area_m2, growth_m=1.08 * edges_m, height_m=1.6)
    box = heated(slab(thick_m, 65, walls=walls), hours=400.0, step_s=3600.0, from_degc=hot, to_degc=hot)
    shape_m = area_m2 / thick_m + 0.54 * edges_m + 1.2 * thick_m
    return [
        Row(
            name="steady wall, conductivity rising",
            value=float(plane.energies_j[-1, 1]) / 600.0,
            reference=flow_w_m2,
            unit="W/m2",
            allowed=1e-4,
            relative=True,
            source="carslaw-jaeger, 1.6",
        ),
        Row(
            name="steady box by shape factor",
            value=float(box.energies_j[-1, 1]) / 3600.0,
            reference=CONDUCTIVITY_W_M_K * (hot - ROOM_DEGC) * shape_m,
            unit="W",
            allowed=0.02,
            relative=True,
            source="langmuir-1913",
        ),
    ]


def wall_rows() -> list[Row]:
    """Return all cases of the heat equation."""
    return [*step_rows(), *ramp_rows(), *slab_rows(), *steady_rows()]
