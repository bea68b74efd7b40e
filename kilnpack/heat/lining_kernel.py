# ruff: noqa: PLR0917, FBT001 - kernels take plain arrays and flags, in order
"""Compiled kernel: heat through the lining of a kiln, coupled to its chamber.

Finite volumes through the layers, hot face first. Node 0 is the chamber: ware, furniture and whatever else stands at
one temperature with the hot face. It either follows the programme, and the power this needs is found, or floats
without power. Time steps are TR-BDF2: second order, no ringing after a jump. What is stored is the enthalpy itself,
not a heat capacity times a difference, so the balance closes to rounding.

Units inside: m, s, W, J; temperatures in degC. Tables lie on one even temperature grid (`first`, `step`, degC).

References
----------
Time stepping: the trapezoidal rule over the share 2 - sqrt(2) of a step, then the backward formula of second order.
`carslaw-jaeger`: the closed forms that the tests hold the kernel against.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from kilnpack.shapes.kernel.compiled import kernel

GAMMA = 2.0 - np.sqrt(2.0)
IMPLICIT = 1.0 - np.sqrt(0.5)
EXPLICIT = 0.5 * np.sqrt(0.5)
MOST_ITERATIONS = 60
CLOSE_K = 1e-9

# Rows of `cells`, `tables` and of the scratch array.
HALF, VOLUME, AREA = 0, 1, 2
CONDUCTIVITY, CAPACITY, HEAT = 0, 1, 2
START, NOW, FLOW_START, FLOW_MIDDLE, FLOW_END, LEAD, FIXED, BELOW, DIAGONAL, ABOVE, RIGHT = range(11)
SCRATCH_ROWS = 11

HEATS, VENTS, FLOATS = 0, 1, 2


@kernel
def lookup(at: float, first: float, step: float, values: Any) -> float:
    """Return a tabled value by linear interpolation, the end slopes carried on."""
    place = (at - first) / step
    cell = max(0, min(int(place), values.shape[0] - 2))
    found: float = values[cell] + (place - cell) * (values[cell + 1] - values[cell])
    return found


@kernel
def enthalpy(at: float, first: float, step: float, capacity: Any, heat: Any) -> float:
    """Return stored heat: `heat` at the grid points, in between the integral of the linear `capacity`."""
    place = (at - first) / step
    cell = max(0, min(int(place), capacity.shape[0] - 2))
    part = place - cell
    rise = 0.5 * part * (capacity[cell + 1] - capacity[cell])
    found: float = heat[cell] + step * part * (capacity[cell] + rise)
    return found


@kernel
def flows(
    temps: Any, layer: Any, cells: Any, tables: Any, film: Any, first: float, step: float, room: float, shell: float,
    flow: Any, lead: Any,
) -> float:  # fmt: skip
    """Fill `flow` (W) and `lead` (W/K) of every face, hot face to outside; return the shell temperature.

    Two half cells in a row carry one flow; the last half cell and the outside film likewise.
    """
    count = layer.shape[0]
    before = 0.0
    for i in range(count):
        here = cells[HALF, i] / lookup(temps[i + 1], first, step, tables[CONDUCTIVITY, layer[i]])
        lead[i] = cells[AREA, i] / (before + here)
        flow[i] = lead[i] * (temps[i] - temps[i + 1])
        before = here
    inner = 1.0 / before
    h = lookup(shell, first, step, film)
    for _ in range(MOST_ITERATIONS):
        new = (inner * temps[count] + h * room) / (inner + h)
        moved = abs(new - shell)
        shell = new
        h = lookup(shell, first, step, film)
        if moved < 1e-10:
            break
    lead[count] = cells[AREA, count] / (before + 1.0 / h)
    flow[count] = lead[count] * (temps[count] - room)
    return shell


@kernel
def solve_stage(
    follows: bool, weight: float, air_w_k: float, layer: Any, cells: Any, tables: Any, film: Any, load: Any,
    first: float, step: float, room: float, shell: float, work: Any,
) -> tuple[float, bool]:  # fmt: skip
    """Solve stored heat = FIXED + weight * net flow for the temperatures NOW; return shell temperature and success.

    Newton in the stored heat, conductivities renewed each time; one tridiagonal system an iteration.
    """
    n = layer.shape[0] + 1
    done = False
    for _ in range(MOST_ITERATIONS):
        shell = flows(work[NOW], layer, cells, tables, film, first, step, room, shell, work[FLOW_END], work[LEAD])
        for i in range(1, n):
            kind = layer[i - 1]
            warm = cells[VOLUME, i - 1] * lookup(work[NOW, i], first, step, tables[CAPACITY, kind])
            have = cells[VOLUME, i - 1] * enthalpy(
                work[NOW, i], first, step, tables[CAPACITY, kind], tables[HEAT, kind]
            )
            work[BELOW, i] = -weight * work[LEAD, i - 1]
            work[ABOVE, i] = -weight * work[LEAD, i]
            work[DIAGONAL, i] = warm + weight * (work[LEAD, i - 1] + work[LEAD, i])
            work[RIGHT, i] = work[FIXED, i] - have + warm * work[NOW, i]
        work[RIGHT, n - 1] += weight * work[LEAD, n - 1] * room
        if follows:
            work[DIAGONAL, 0], work[ABOVE, 0], work[RIGHT, 0] = 1.0, 0.0, work[NOW, 0]
        else:
            have = lookup(work[NOW, 0], first, step, load)
            place = max(0, min(int((work[NOW, 0] - first) / step), load.shape[0] - 2))
            warm = (load[place + 1] - load[place]) / step
            work[DIAGONAL, 0] = warm + weight * (work[LEAD, 0] + air_w_k)
            work[ABOVE, 0] = -weight * work[LEAD, 0]
            work[RIGHT, 0] = work[FIXED, 0] - have + warm * work[NOW, 0] + weight * air_w_k * room
        for i in range(1, n):
            factor = work[BELOW, i] / work[DIAGONAL, i - 1]
            work[DIAGONAL, i] -= factor * work[ABOVE, i - 1]
            work[RIGHT, i] -= factor * work[RIGHT, i - 1]
        moved = 0.0
        after = 0.0
        for j in range(n):
            i = n - 1 - j
            above = work[ABOVE, i] if j > 0 else 0.0
            after = (work[RIGHT, i] - above * after) / work[DIAGONAL, i]
            change = abs(after - work[NOW, i])
            if not change <= moved:  # also where it is not a number
                moved = change
            work[NOW, i] = after
        if moved < CLOSE_K:
            done = True
            break
    shell = flows(work[NOW], layer, cells, tables, film, first, step, room, shell, work[FLOW_END], work[LEAD])
    return shell, done


@kernel
def try_step(
    follows: bool, target: float, dt: float, air_w_k: float, layer: Any, cells: Any, tables: Any, film: Any, load: Any,
    first: float, step: float, room: float, shell: float, work: Any, found: Any,
) -> tuple[float, bool]:  # fmt: skip
    """Take one step from START to NOW; `found` gets J: power needed, through the hot face, to the outside, to the air.

    Returns the shell temperature and whether both stages converged.
    """
    n = layer.shape[0] + 1
    count = n - 1
    weight = IMPLICIT * dt
    work[NOW, :] = work[START, :]
    load_start = lookup(work[START, 0], first, step, load)
    air_start = air_w_k * (work[START, 0] - room)
    air_middle = 0.0
    for stage in range(2):
        known = weight if stage == 0 else EXPLICIT * dt
        for i in range(1, n):
            kind = layer[i - 1]
            have = cells[VOLUME, i - 1] * enthalpy(
                work[START, i], first, step, tables[CAPACITY, kind], tables[HEAT, kind]
            )
            net = work[FLOW_START, i - 1] - work[FLOW_START, i]
            if stage == 1:
                net += work[FLOW_MIDDLE, i - 1] - work[FLOW_MIDDLE, i]
            work[FIXED, i] = have + known * net
        lost = work[FLOW_START, 0] + air_start
        if stage == 1:
            lost += work[FLOW_MIDDLE, 0] + air_middle
        work[FIXED, 0] = load_start - known * lost
        if follows:
            share = GAMMA if stage == 0 else 1.0
            work[NOW, 0] = work[START, 0] + share * (target - work[START, 0])
        shell, done = solve_stage(
            follows, weight, air_w_k, layer, cells, tables, film, load, first, step, room, shell, work
        )
        if not done:
            return shell, False
        if stage == 0:
            work[FLOW_MIDDLE, :] = work[FLOW_END, :]
            air_middle = air_w_k * (work[NOW, 0] - room)
    air_end = air_w_k * (work[NOW, 0] - room)
    load_end = lookup(work[NOW, 0], first, step, load)
    found[1] = dt * (EXPLICIT * (work[FLOW_START, 0] + work[FLOW_MIDDLE, 0]) + IMPLICIT * work[FLOW_END, 0])
    found[2] = dt * (EXPLICIT * (work[FLOW_START, count] + work[FLOW_MIDDLE, count]) + IMPLICIT * work[FLOW_END, count])
    found[3] = dt * (EXPLICIT * (air_start + air_middle) + IMPLICIT * air_end)
    found[0] = load_end - load_start + found[1] + found[3]
    return shell, True


@kernel
def band_of(at: float, bands: Any) -> int:
    """Return the band of the lowest threshold that is still under the temperature; bands stand hottest first."""
    chosen: int = bands.shape[1] - 1
    for b in range(bands.shape[1]):
        if at >= bands[0, b]:
            chosen = b
            break
    return chosen


@kernel
def march(
    times_s: Any, programme: Any, mode: Any, leak_w_k: float, bands: Any, stop_degc: float,
    temps: Any, layer: Any, cells: Any, tables: Any, film: Any, load: Any, first: float, step: float, room: float,
    chamber: Any, shells: Any, energies: Any,
) -> tuple[int, bool]:  # fmt: skip
    """March through the time steps; what is found goes into the caller's arrays.

    A step is driven in one of three modes. HEATS: the chamber follows the programme; where that would need negative
    power it coasts instead, hotter than the programme. VENTS: it follows the programme, and heat in excess leaves
    with air. FLOATS: no power, air by temperature band; a fall faster than the band allows is held back by blowing
    less, and by power where that is not enough.

    Parameters
    ----------
    times_s
        Ends of the steps, s; shape (m + 1,), the first is the start.
    programme
        Chamber temperature wanted at those times, degC; shape (m + 1,).
    mode
        HEATS, VENTS or FLOATS for each step; shape (m,).
    leak_w_k
        Heat capacity flow of the leak air of a heated chamber, W/K.
    bands
        Lower threshold (degC, hottest first), air (W/K) and fastest fall (K/s) of each band; shape (3, b).
    stop_degc
        Stop once a floating chamber is this cool.
    temps
        Chamber and cell temperatures, degC; shape (n + 1,), changed in place.
    layer
        Layer index of the cells; shape (n,).
    cells
        Half thickness (m), volume (m3) of the cells and area (m2) of the faces; shape (3, n + 1).
    tables
        Conductivity W/(m K), heat capacity J/(m3 K), heat J/m3 by layer on the grid; shape (3, layers, points).
    film
        Outside film W/(m2 K) over the shell temperature on the grid; shape (points,).
    load
        Heat in the chamber's contents on the grid, J; shape (points,). Straight between the points.
    first, step, room
        Start and spacing of the grid, and the room, degC and K.
    chamber, shells
        Temperatures at the times, degC; shape (m + 1,), output.
    energies
        J in each step: power, through the hot face, to the outside, to the air; shape (m, 4), output.

    Returns
    -------
    tuple
        Steps taken, and whether all of them converged.
    """
    n = layer.shape[0] + 1
    work = np.zeros((SCRATCH_ROWS, n))
    work[START, :] = temps
    shell = flows(work[START], layer, cells, tables, film, first, step, room, room, work[FLOW_START], work[LEAD])
    chamber[0], shells[0] = work[START, 0], shell
    taken = 0
    for k in range(times_s.shape[0] - 1):
        dt = times_s[k + 1] - times_s[k]
        found = energies[k]
        air_w_k, fastest = leak_w_k, np.inf
        follows = mode[k] != FLOATS
        held = False
        target = programme[k + 1]
        if not follows:
            band = band_of(work[START, 0], bands)
            air_w_k, fastest = bands[1, band], bands[2, band]
        after = shell
        while True:
            after, done = try_step(
                follows, target, dt, air_w_k, layer, cells, tables, film, load, first, step, room, shell, work, found
            )
            if not done:
                return taken, False
            if held:
                saved = min(found[0], max(found[3], 0.0))
                found[0] -= saved
                found[3] -= saved
                break
            if follows:
                if found[0] >= 0.0:
                    break
                if mode[k] == VENTS:
                    found[3] -= found[0]
                    found[0] = 0.0
                    break
                follows = False
            else:
                found[0] = 0.0
                target = work[START, 0] - fastest * dt
                if work[NOW, 0] >= target - 1e-9:
                    break
                follows, held = True, True
        shell = after
        work[START, :] = work[NOW, :]
        work[FLOW_START, :] = work[FLOW_END, :]
        chamber[k + 1], shells[k + 1] = work[NOW, 0], shell
        taken = k + 1
        if mode[k] == FLOATS and work[NOW, 0] <= stop_degc:
            break
    temps[:] = work[START, :]
    return taken, True


def warm_up() -> None:
    """Compile the kernels, or load their machine code, with arguments of the types they are used with."""
    line = np.zeros(2)
    tables = np.ones((3, 1, 2))
    march(
        np.array([0.0, 60.0]), line, np.zeros(1, dtype=np.int64), 0.0, np.zeros((3, 1)), -np.inf,
        np.zeros(2), np.zeros(1, dtype=np.int64), np.ones((3, 2)), tables, np.ones(2), line, 0.0, 1.0, 0.0,
        np.zeros(2), np.zeros(2), np.zeros((1, 4)),
    )  # fmt: skip
    enthalpy(0.0, 0.0, 1.0, tables[CAPACITY, 0], tables[HEAT, 0])
