"""The heat equation against closed forms; small cases run once more with the compiler off."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from math import erfc, exp, pi, sqrt

import numpy as np
import pytest
from numpy.typing import NDArray

from kilnpack.errors import SolverFault
from kilnpack.heat.curve import Steps
from kilnpack.heat.lining import Lining, Run, build_from, run, stored_j
from kilnpack.heat.lining_kernel import (
    FLOATS,
    HEATS,
    VENTS,
    band_of,
    enthalpy,
    flows,
    lookup,
    march,
    solve_stage,
    try_step,
    warm_up,
)
from kilnpack.heat.materials import GRID_DEGC, GRID_FIRST_DEGC, GRID_STEP_K
from kilnpack.heat.walls import Walls

Floats = NDArray[np.float64]
PLANE = Walls(area_m2=1.0, growth_m=0.0, height_m=1.0, corner_share=0.0)
CONDUCTIVITY = 0.3
CAPACITY = 8.0e5
SPREAD = CONDUCTIVITY / CAPACITY
ROOM = 20.0
EMPTY = np.zeros(len(GRID_DEGC))
COLD_FACE_HELD = np.full(len(GRID_DEGC), 1e9)


def even(value: float) -> Floats:
    """Return a property that is the same at every temperature."""
    return np.full(len(GRID_DEGC), value)


def slab(thickness_m: float, cells: int, conductivity: Floats | None = None, walls: Walls = PLANE) -> Lining:
    """Return a wall of one material, its cold face held at the room's temperature."""
    properties = [(even(CONDUCTIVITY) if conductivity is None else conductivity, even(CAPACITY))]
    return build_from(properties, [thickness_m], walls, COLD_FACE_HELD, cell_m=thickness_m / cells)


def curve(hours: float, step_s: float, from_degc: float, to_degc: float, mode: int = HEATS) -> Steps:
    """Return an even curve from one temperature to another."""
    count = round(hours * 3600.0 / step_s)
    return Steps(
        times_s=np.linspace(0.0, hours * 3600.0, count + 1),
        degc=np.linspace(from_degc, to_degc, count + 1),
        mode=np.full(count, mode, dtype=np.int64),
        air_ratio=np.full(count, np.nan),
        heating=count,
    )


def heated(lining: Lining, steps: Steps) -> Run:
    """Run an empty chamber through a curve, the lining cold."""
    return run(lining, steps, load=EMPTY, start=replace(lining.cold, chamber_degc=float(steps.degc[0])))


def middles(thickness_m: float, cells: int) -> Floats:
    """Return the depths of the cells' middles, m."""
    return (np.arange(cells) + 0.5) * thickness_m / cells


def step_error(cells: int, step_s: float) -> tuple[float, float]:
    """Return the worst temperature error (K) and the relative heat error after a 1000 K step and 6 h."""
    hours, thickness_m, rise = 6.0, 0.6, 1000.0
    found = heated(slab(thickness_m, cells), curve(hours, step_s, ROOM + rise, ROOM + rise))
    seconds = hours * 3600.0
    depth = middles(thickness_m, cells)
    wanted = ROOM + rise * np.array([erfc(x / (2.0 * sqrt(SPREAD * seconds))) for x in depth])
    heat = 2.0 * CONDUCTIVITY * rise * sqrt(seconds / (pi * SPREAD))
    through = found.energies_j[:, 1].sum()
    return float(np.abs(np.array(found.end.cells_degc) - wanted).max()), abs(through / heat - 1.0)


@pytest.mark.source("carslaw-jaeger", "section 2.4, surface at a constant temperature")
def test_step_on_thick_wall() -> None:
    """A sudden hot face on a thick wall follows the error function: 0.5 K and 0.1 % of 1000 K."""
    degc, share = step_error(200, 30.0)
    assert degc <= 0.5
    assert share <= 0.001


def ramp_error(cells: int, step_s: float) -> float:
    """Return the worst temperature error (K) after 6 h at 100 K/h."""
    hours, thickness_m, rate = 6.0, 0.6, 100.0
    found = heated(slab(thickness_m, cells), curve(hours, step_s, ROOM, ROOM + rate * hours))
    wanted = [ROOM + rate * hours * _ramped(x / sqrt(SPREAD * hours * 3600.0)) for x in middles(thickness_m, cells)]
    return float(np.abs(np.array(found.end.cells_degc) - wanted).max())


def _ramped(depth: float) -> float:
    """Return temperature over that of the surface, at a depth in units of sqrt(spread * time)."""
    return (1.0 + depth**2 / 2.0) * erfc(depth / 2.0) - depth / sqrt(pi) * exp(-(depth**2) / 4.0)


@pytest.mark.source("carslaw-jaeger", "section 2.5, surface temperature proportional to the time")
def test_ramp_on_thick_wall() -> None:
    """A hot face on a steady ramp: within 0.1 K of 600 K."""
    assert ramp_error(200, 30.0) <= 0.1


@pytest.mark.source("carslaw-jaeger", "section 2.5")
def test_order_of_convergence_is_two() -> None:
    """Halving cells and steps together quarters the error, so both are of second order."""
    errors = [ramp_error(cells, step_s) for cells, step_s in ((25, 240.0), (50, 120.0), (100, 60.0))]
    orders = [np.log2(coarse / fine) for coarse, fine in pairwise(errors)]
    assert min(orders) >= 1.8


@pytest.mark.kernel
@pytest.mark.source("carslaw-jaeger", "section 3.4, slab with one face at a constant temperature")
def test_slab_with_cold_face_held() -> None:
    """A slab heated on one side and held on the other follows its Fourier series."""
    hours, thickness_m, rise, cells = 3.0, 0.1, 1000.0, 40
    found = heated(slab(thickness_m, cells), curve(hours, 60.0, ROOM + rise, ROOM + rise))
    depth = middles(thickness_m, cells) / thickness_m
    wanted = 1.0 - depth
    for n in range(1, 200):
        fade = exp(-((n * pi / thickness_m) ** 2) * SPREAD * hours * 3600.0)
        wanted -= 2.0 / (n * pi) * np.sin(n * pi * depth) * fade
    assert np.abs(np.array(found.end.cells_degc) - ROOM - rise * wanted).max() <= 0.5


@pytest.mark.source("carslaw-jaeger", "section 1.6, conductivity that depends on the temperature")
def test_steady_wall_with_rising_conductivity() -> None:
    """In the steady state the flow is the integral of the conductivity over the thickness (Kirchhoff)."""
    thickness_m, hot = 0.1, 1020.0
    conductivity = 0.1 + 2.0e-4 * GRID_DEGC
    found = heated(slab(thickness_m, 100, conductivity), curve(60.0, 600.0, hot, hot))
    wanted = (0.1 * (hot - ROOM) + 1.0e-4 * (hot**2 - ROOM**2)) / thickness_m
    flow = found.energies_j[-1, 1] / 600.0
    assert flow == pytest.approx(wanted, rel=1e-4)
    assert found.energies_j[-1, 2] / 600.0 == pytest.approx(wanted, rel=1e-4)


@pytest.mark.source("langmuir-1913", "shape factor of a box: A/x + 0.54 edges + 1.2 x")
def test_box_against_shape_factor() -> None:
    """The growing area of the wall gives the box's steady loss within 2 %."""
    sides, thickness_m = (1.15, 1.15, 1.60), 0.325
    area = 2.0 * (sides[0] * sides[1] + sides[0] * sides[2] + sides[1] * sides[2])
    edges = 4.0 * sum(sides)
    walls = Walls(area_m2=area, growth_m=1.08 * edges, height_m=1.6)
    found = heated(slab(thickness_m, 65, walls=walls), curve(400.0, 3600.0, 1020.0, 1020.0))
    shape_m = area / thickness_m + 0.54 * edges + 1.2 * thickness_m
    assert found.energies_j[-1, 1] / 3600.0 == pytest.approx(CONDUCTIVITY * 1000.0 * shape_m, rel=0.02)


def test_load_cools_in_air_as_an_exponential() -> None:
    """Contents in a chamber whose walls take nothing cool in a steady stream of air by an exponential.

    400 kg of 1000 J/(kg K) and 100 W/K: time constant 4000 s; after 4000 s 1000 K have become 1000/e = 367.879 K.
    """
    load = 4.0e5 * (GRID_DEGC - ROOM)
    lining = build_from([(even(1e-12), even(1.0))], [0.1], PLANE, even(10.0), cell_m=0.01)
    start = replace(lining.cold, chamber_degc=ROOM + 1000.0)
    bands = np.array([[GRID_FIRST_DEGC], [100.0], [np.inf]])
    found = run(lining, curve(4000.0 / 3600.0, 40.0, 0.0, 0.0, FLOATS), load=load, start=start, bands=bands)
    assert found.chamber_degc[-1] - ROOM == pytest.approx(1000.0 / np.e, rel=1e-5)
    assert found.energies_j[:, 3].sum() == pytest.approx(4.0e8 * (1.0 - 1.0 / np.e), rel=1e-5)


@pytest.mark.kernel
def test_fall_is_held_back_and_stops() -> None:
    """A floating chamber falls no faster than its band allows, saves the air this takes, and stops where told."""
    load = 1.0e5 * (GRID_DEGC - ROOM)
    lining = build_from([(even(0.02), even(CAPACITY))], [0.05], PLANE, even(10.0), cell_m=0.01)
    start = replace(lining.cold, chamber_degc=500.0)
    bands = np.array([[300.0, GRID_FIRST_DEGC], [400.0, 400.0], [0.05, np.inf]])
    steps = curve(6.0, 60.0, 0.0, 0.0, FLOATS)
    found = run(lining, steps, load=load, start=start, bands=bands, stop_degc=100.0)
    falls = -np.diff(found.chamber_degc) / 60.0
    held = found.chamber_degc[:-1] >= 300.0
    assert falls[held] == pytest.approx(0.05)
    assert falls[~held].max() > 0.05
    assert found.energies_j[:, 0].sum() == 0.0
    assert found.chamber_degc[-1] <= 100.0 < found.chamber_degc[-2]


def test_fall_too_slow_for_the_walls_takes_power() -> None:
    """Where even without air the walls draw more than the fall gives, holding the fall takes power, and it balances."""
    load = 1.0e3 * (GRID_DEGC - ROOM)
    lining = build_from([(even(1.0), even(CAPACITY))], [0.05], PLANE, even(10.0), cell_m=0.01)
    start = replace(lining.cold, chamber_degc=500.0)
    bands = np.array([[GRID_FIRST_DEGC], [0.0], [1e-3]])
    found = run(lining, curve(1.0, 60.0, 0.0, 0.0, FLOATS), load=load, start=start, bands=bands)
    power, _, outside, air = found.energies_j.sum(axis=0)
    lost = 1.0e3 * (found.chamber_degc[0] - found.chamber_degc[-1])
    assert found.chamber_degc[-1] == pytest.approx(500.0 - 3.6)
    assert power > 0.0
    assert air == 0.0
    assert power + lost == pytest.approx(found.stored_j + outside, rel=1e-9)


@pytest.mark.kernel
def test_falling_programme_vents_and_balances() -> None:
    """A programme that falls faster than the kiln is followed by venting, not by power, and no heat is lost."""
    load = 2.0e5 * (GRID_DEGC - ROOM)
    lining = slab(0.1, 10)
    warm = heated(lining, curve(5.0, 300.0, 800.0, 800.0)).end
    steps = curve(2.0, 60.0, 800.0, 200.0, VENTS)
    found = run(lining, steps, load=load, start=warm)
    power, _, outside, air = found.energies_j.sum(axis=0)
    assert found.chamber_degc == pytest.approx(steps.degc)
    assert power == 0.0
    assert air == pytest.approx(2.0e5 * 600.0 - outside - found.stored_j, rel=1e-9)


@pytest.mark.kernel
def test_hot_lining_makes_a_cold_chamber_coast() -> None:
    """After a firing the lining heats the next load by itself: no power while the chamber is over the programme."""
    load = 1.0e4 * (GRID_DEGC - ROOM)
    lining = slab(0.1, 10)
    hot = heated(lining, curve(5.0, 300.0, 900.0, 900.0)).end
    found = run(lining, curve(2.0, 60.0, ROOM, 100.0), load=load, start=replace(hot, chamber_degc=ROOM))
    assert found.chamber_degc[10] > 100.0
    assert found.energies_j[:10, 0].sum() == 0.0
    stored = stored_j(lining, found.end) - stored_j(lining, hot)
    power, _, outside, _ = found.energies_j.sum(axis=0)
    gained = 1.0e4 * (found.chamber_degc[-1] - ROOM)
    assert power == pytest.approx(gained + stored + outside, abs=1e-9 * abs(stored))


@pytest.mark.kernel
def test_lost_convergence_stops_at_once() -> None:
    """Where properties leap so that the equation does not settle, the march stops at that step and gives no figure."""
    wild = np.where(np.arange(len(GRID_DEGC)) % 2 == 0, 1e-4, 1e2)
    lining = replace(slab(0.1, 4, conductivity=wild), film=1e6 * wild)
    with pytest.raises(SolverFault):
        heated(lining, curve(10.0, 600.0, 20.0, 500.0))


@pytest.mark.kernel
def test_tables_are_read_between_and_beyond_points() -> None:
    """Straight lines between points and beyond the ends; heat is the exact integral of the line."""
    capacity = np.array([1.0, 3.0, 3.0])
    heat = np.array([0.0, 20.0, 50.0])
    assert lookup(5.0, 0.0, 10.0, capacity) == 2.0
    assert lookup(30.0, 0.0, 10.0, np.array([0.0, 1.0, 3.0])) == 5.0
    assert lookup(-10.0, 0.0, 10.0, capacity) == -1.0
    assert enthalpy(5.0, 0.0, 10.0, capacity, heat) == 7.5
    assert enthalpy(15.0, 0.0, 10.0, capacity, heat) == 35.0


@pytest.mark.kernel
def test_band_is_the_first_that_is_passed() -> None:
    """The hottest threshold not over the temperature decides; below all of them the last band holds."""
    bands = np.array([[900.0, 500.0, 100.0], [0.0, 0.0, 0.0], [0.0, 0.0, 0.0]])
    assert [band_of(at, bands) for at in (950.0, 900.0, 899.0, 400.0, 50.0)] == [0, 0, 1, 2, 2]


def test_each_kernel_is_compiled_once() -> None:
    """Warming up compiles for the very types a firing uses, so nothing is compiled twice."""
    warm_up()
    heated(slab(0.1, 4), curve(1.0, 600.0, 20.0, 500.0))
    assert len(march.signatures) == 1
    assert max(len(kernel.signatures) for kernel in (try_step, solve_stage, flows, band_of, lookup, enthalpy)) == 1


def test_grid_is_the_one_the_kernel_reads() -> None:
    """The temperature grid is even, so that a place in it is found by a division."""
    assert GRID_DEGC[0] == GRID_FIRST_DEGC
    assert np.diff(GRID_DEGC) == pytest.approx(GRID_STEP_K)
