"""One firing as heat: what goes into ware, furniture, lining, walls and flue, and what it says of money and carbon.

Ware and furniture are taken at the temperature of the programme; the lining is followed through time. Gas leaves at
the temperature of the kiln. Not in it: dryers, fans, pilots, afterburner, compressed air.

References
----------
docs/method/heat.md: the model, its checks and its accuracy.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import fsum
from typing import TYPE_CHECKING

import numpy as np

from kilnpack.errors import Finding, InputFaulty
from kilnpack.heat.balance import HeatBalance
from kilnpack.heat.calibration import UNCALIBRATED, Calibration
from kilnpack.heat.curve import pieces, steps
from kilnpack.heat.fuels import METHANE, PROPANE, Fuel, available_on_grid
from kilnpack.heat.lining import LiningState, Run, lining_of, run
from kilnpack.heat.materials import COLD_DEGC, GRID_DEGC, Floats, air_flow_w_k, heat_on_grid
from kilnpack.heat.reactions import Chemistry, chemistry_j_kg
from kilnpack.model.kilns import EnergyKind
from kilnpack.units import SECONDS_PER_HOUR, kwh_from_j

if TYPE_CHECKING:
    from collections.abc import Mapping

    from kilnpack.heat.curve import Steps
    from kilnpack.model.kilns import Kiln
    from kilnpack.model.programmes import Programme

LEAST_AVAILABLE_SHARE = 0.03
FUEL_OF = {EnergyKind.NATURAL_GAS: METHANE, EnergyKind.PROPANE: PROPANE}
UNLOADED: Mapping[str, float] = {}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Contents:
    """Masses as tuples, so that a firing can be remembered."""

    ware_kg: tuple[tuple[str, float], ...]
    furniture_kg: tuple[tuple[str, float], ...]
    chemistry: Chemistry

    def ware_j(self) -> Floats:
        return _stored_on_grid(self.ware_kg)

    def furniture_j(self) -> Floats:
        return _stored_on_grid(self.furniture_kg)

    def chemistry_j(self) -> Floats:
        return fsum(kg for _, kg in self.ware_kg) * chemistry_j_kg(self.chemistry)

    def all_j(self) -> Floats:
        """Heat in everything on the temperature grid, J."""
        return self.ware_j() + self.furniture_j() + self.chemistry_j()


def _stored_on_grid(masses: tuple[tuple[str, float], ...]) -> Floats:
    total = np.zeros(len(GRID_DEGC))
    for material, kg in masses:
        total = total + kg * heat_on_grid(material)
    return total


def fire(
    kiln: Kiln,
    programme: Programme,
    ware_kg: Mapping[str, float],
    furniture_kg: Mapping[str, float],
    chemistry: Chemistry,
    *,
    start: LiningState | None = None,
    calibration: Calibration = UNCALIBRATED,
) -> HeatBalance:
    """Return the heat balance of one firing.

    Parameters
    ----------
    kiln
        With its lining and its energy.
    programme
        The curve. Ware starts at 20 degC, the chamber with it.
    ware_kg, furniture_kg
        Mass by material (see `materials.stored_materials`); the deck of a car counts as furniture.
    chemistry
        What the ware takes up beyond being warmed.
    start
        State of the lining left by the firing before; None is a cold kiln.
    calibration
        Factors fitted to the works' meter readings.

    Raises
    ------
    InputFaulty
        The kiln states no lining or an unknown material, or its flame cannot reach the peak.
    LookupError
        A material of the load is not in the table.
    """
    contents = _Contents(
        ware_kg=tuple(sorted(ware_kg.items())), furniture_kg=tuple(sorted(furniture_kg.items())), chemistry=chemistry
    )
    return _fire(kiln, programme, contents, start, calibration)


def contents_j(contents_kg: Mapping[str, float]) -> Floats:
    """Return the heat in masses by material on the temperature grid, J from 20 degC."""
    return _stored_on_grid(tuple(sorted(contents_kg.items())))


def empty_kwh(kiln: Kiln, programme: Programme, *, start: LiningState | None = None) -> float:
    """Return the energy of the empty kiln (E0), kWh; remembered per kiln, programme and start."""
    return fire(kiln, programme, UNLOADED, UNLOADED, Chemistry(), start=start).total_kwh


def kwh_per_kg(
    kiln: Kiln,
    programme: Programme,
    material: str,
    chemistry: Chemistry | None = None,
    *,
    calibration: Calibration = UNCALIBRATED,
) -> float:
    """Return what one more kilogram takes (the marginal energy), kWh/kg.

    Parameters
    ----------
    kiln, programme, calibration
        As for `fire`.
    material
        What the kilogram is of.
    chemistry
        Of ware; None for furniture.
    """
    takes = Chemistry() if chemistry is None else chemistry
    with_it = fire(kiln, programme, {material: 1.0}, UNLOADED, takes, calibration=calibration)
    return with_it.total_kwh - fire(kiln, programme, UNLOADED, UNLOADED, Chemistry(), calibration=calibration).total_kwh


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Fired:
    """One run with what it burnt: energies in J by step, scaled by the calibration; `used_j` at the meter."""

    kiln: Kiln
    curve: Steps
    contents: _Contents
    calibration: Calibration
    found: Run
    scaled_j: Floats
    used_j: Floats

    @property
    def peak_kw(self) -> float:
        """Greatest power at the meter, kW."""
        return float(np.max(self.used_j / np.diff(self.curve.times_s))) / 1000.0


@lru_cache(maxsize=1024)
def _fire(
    kiln: Kiln, programme: Programme, contents: _Contents, start: LiningState | None, calibration: Calibration
) -> HeatBalance:
    fired = _run(kiln, programme, contents, start, calibration)
    parts = _parts_kwh(fired)
    return HeatBalance(
        kiln=kiln.code,
        programme=programme.code,
        energy=kiln.energy.kind,
        **parts,
        total_kwh=fsum(parts.values()),
        range_share=calibration.range_share(kiln.energy.kind, programme.peak_degc),
        readings=calibration.readings,
        peak_kw=fired.peak_kw,
        fire_h=float(fired.curve.times_s[-1]) / SECONDS_PER_HOUR,
        hourly_kwh=_hourly(fired.curve.times_s, fired.used_j),
        shell_degc=float(np.max(fired.found.shell_degc)),
        residual_share=_residual(fired),
        end=fired.found.end,
        remarks=_remarks(fired),
    )


def _run(
    kiln: Kiln, programme: Programme, contents: _Contents, start: LiningState | None, calibration: Calibration
) -> _Fired:
    """Run the curve and turn power into what the meter turns."""
    lining = lining_of(kiln)
    curve = steps(pieces(programme))
    leak_nm3_h = 0.0 if kiln.energy.kind in FUEL_OF else calibration.leak_air(kiln.energy)
    before = lining.cold if start is None else LiningState(chamber_degc=COLD_DEGC, cells_degc=start.cells_degc)
    # One factor on the whole lining is the same as contents and leak smaller by it, and all heat larger.
    factor = calibration.lining_factor
    found = run(lining, curve, load=contents.all_j() / factor, start=before, leak_w_k=air_flow_w_k(leak_nm3_h) / factor)
    scaled_j = found.energies_j * factor
    used_j = scaled_j[:, 0]
    if kiln.energy.kind in FUEL_OF:
        used_j = used_j / _available(kiln, programme, curve, found) * calibration.flue_factor
    return _Fired(
        kiln=kiln,
        curve=curve,
        contents=contents,
        calibration=calibration,
        found=found,
        scaled_j=scaled_j,
        used_j=used_j,
    )


def _available(kiln: Kiln, programme: Programme, curve: Steps, found: Run) -> Floats:
    """Return the share of the net calorific value that stays in the kiln, for each step."""
    fuel: Fuel = FUEL_OF[kiln.energy.kind]
    middle_degc = (found.chamber_degc[1:] + found.chamber_degc[:-1]) / 2.0
    ratios = np.where(np.isnan(curve.air_ratio), kiln.energy.lambda_factor, curve.air_ratio)
    share = np.empty(len(middle_degc))
    for ratio in np.unique(ratios):
        at = ratios == ratio
        share[at] = np.interp(
            middle_degc[at], GRID_DEGC, available_on_grid(fuel, float(ratio), kiln.energy.air_in_degc)
        )
    burns = found.energies_j[:, 0] > 0.0
    poor = burns & (share < LEAST_AVAILABLE_SHARE)
    if poor.any():
        worst = int(np.argmax(np.where(poor, middle_degc, -np.inf)))
        raise InputFaulty(
            [
                Finding(
                    file=f"programme {programme.code}",
                    row=None,
                    field="lambda",
                    found=f"{ratios[worst]:g} at {middle_degc[worst]:.0f} degC",
                    wanted="less air there: nearly all heat of the flame would leave through the flue",
                )
            ]
        )
    return np.maximum(share, LEAST_AVAILABLE_SHARE)


def _parts_kwh(fired: _Fired) -> dict[str, float]:
    """Return the parts of the energy up to the end of the peak, and what cooling by programme takes."""
    heats = fired.curve.heating
    power_j, through_j, outside_j, air_j = fired.scaled_j[:heats].sum(axis=0)
    start_degc = float(fired.found.chamber_degc[0])
    peak_degc = float(fired.found.chamber_degc[heats])
    parts_j = {
        "ware": _gain_j(fired.contents.ware_j(), start_degc, peak_degc),
        "chemistry": _gain_j(fired.contents.chemistry_j(), start_degc, peak_degc),
        "furniture": _gain_j(fired.contents.furniture_j(), start_degc, peak_degc),
        "lining": float(through_j - outside_j),
        "walls": float(outside_j),
        "air": float(air_j),
        "flue": float(fired.used_j[:heats].sum() - power_j),
        "cooling": float(fired.used_j[heats:].sum()),
    }
    return {f"{name}_kwh": kwh_from_j(value) for name, value in parts_j.items()}


def _gain_j(heat_j: Floats, from_degc: float, to_degc: float) -> float:
    low, high = np.interp((from_degc, to_degc), GRID_DEGC, heat_j)
    return float(high - low)


def _residual(fired: _Fired) -> float:
    """Return what the whole run does not account for, as a share of the heat turned over."""
    power_j, _, outside_j, air_j = fired.scaled_j.sum(axis=0)
    chamber = fired.found.chamber_degc
    stored_j = fired.found.stored_j * fired.calibration.lining_factor
    load_j = _gain_j(fired.contents.all_j(), float(chamber[0]), float(chamber[-1]))
    turned_j = power_j + abs(stored_j) + 1.0
    return float(abs(power_j - load_j - stored_j - outside_j - air_j) / turned_j)


def _hourly(times_s: Floats, used_j: Floats) -> tuple[float, ...]:
    """Return the energy of each hour from the start, kWh; the last hour may be cut short."""
    sums = np.concatenate([[0.0], np.cumsum(used_j)])
    hours = np.arange(1, int(np.ceil(times_s[-1] / SECONDS_PER_HOUR - 1e-9)) + 1) * SECONDS_PER_HOUR
    at = np.interp(hours, times_s, sums)
    return tuple((np.diff(at, prepend=0.0) / (SECONDS_PER_HOUR * 1000.0)).tolist())


def _remarks(fired: _Fired) -> tuple[str, ...]:
    connected_kw = fired.kiln.energy.connected_kw
    if fired.peak_kw <= connected_kw:
        return ()
    return (f"The programme asks for {fired.peak_kw:.0f} kW, the kiln has {connected_kw:.0f} kW: it will lag behind.",)
