"""Cooling as the heat model sees it beside the recorded hours that plans count on: advice, and where they part.

Both limits are looked at in the kiln's own way of cooling: what the works draws a car at, and what it unloads by hand
at. Plans keep to the recorded hours. The thermometer decides; nothing here says that a kiln may be opened.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from typing import TYPE_CHECKING

from kilnpack.errors import InputFaulty
from kilnpack.heat.calibration import COOLINGS_FOR_FORECAST, UNCALIBRATED, with_air
from kilnpack.heat.contents import WARE, deck_kg, stored_material
from kilnpack.heat.cooling import cooling_finding, cooling_hours, in_kiln_degc
from kilnpack.heat.firing import fire
from kilnpack.heat.reactions import chemistry_of
from kilnpack.planning.cycle import cooling_h
from kilnpack.workflow.energy import calibrations_in

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from kilnpack.errors import Finding
    from kilnpack.heat.calibration import Calibration
    from kilnpack.heat.lining import LiningState
    from kilnpack.heat.report import EnergyReport
    from kilnpack.model.kilns import Kiln
    from kilnpack.model.plans import Plan
    from kilnpack.model.programmes import Programme
    from kilnpack.model.works import Works


def cooling_of_folder(folder: Path, works: Works) -> tuple[str, ...]:
    """Return in words where the usual firing of a kiln cools much otherwise than the folder says.

    Raises
    ------
    InputFaulty
        The factors that the folder keeps cannot be read.
    """
    calibrations, _ = calibrations_in(folder, works)
    return tuple(str(finding) for finding in usual_coolings(works, calibrations))


def usual_coolings(works: Works, calibrations: Mapping[str, Calibration]) -> tuple[Finding, ...]:
    """Return a finding for each kiln and programme whose usual firing cools much otherwise than was recorded.

    The usual firing holds the kiln's usual mass of ware and furniture up to the mass that the hours were recorded with.
    Kilns without a lining, and programmes without recorded hours, tell nothing.
    """
    found: list[Finding] = []
    for kiln in works.kilns:
        for programme in works.programmes:
            if programme.code in kiln.programmes and kiln.lining and programme.recorded_cool_h > 0.0:
                ware, furniture = _usual_kg(works, kiln, programme)
                one = calibrations.get(kiln.code, UNCALIBRATED)
                takes = chemistry_of(works.settings, programme.stage)
                try:
                    fired = fire(kiln, programme, ware, furniture, takes, calibration=one)
                except InputFaulty:
                    continue  # energy says what its lining or flame lacks; cooling adds nothing to it
                found += _parted(kiln, programme, fired.end, _sum(ware, furniture), one)
    return tuple(found)


def _usual_kg(works: Works, kiln: Kiln, programme: Programme) -> tuple[dict[str, float], dict[str, float]]:
    """Return the usual ware and furniture of a firing by material, kg."""
    shelves = {row.code: row for row in works.furniture.shelves}
    material = next((shelves[row.shelf].material for row in kiln.places if row.shelf in shelves), "cordierite")
    rest = max(0.0, programme.recorded_kg - kiln.usual_ware_kg)
    return {WARE: kiln.usual_ware_kg}, _sum({stored_material(material): rest}, deck_kg(kiln))


def _sum(*parts: Mapping[str, float]) -> dict[str, float]:
    total: dict[str, float] = defaultdict(float)
    for part in parts:
        for name, kg in part.items():
            total[name] += kg
    return {name: kg for name, kg in total.items() if kg > 0.0}


def planned_coolings(
    works: Works, plan: Plan, report: EnergyReport, calibrations: Mapping[str, Calibration]
) -> tuple[str, ...]:
    """Return a remark for each kiln and programme of a plan whose heaviest load cools much otherwise than planned."""
    heaviest: dict[tuple[str, str], int] = {}
    for number, firing in enumerate(plan.firings):
        key = (firing.kiln, firing.programme)
        mass = firing.ware_kg + firing.furniture_kg
        before = heaviest.get(key)
        if before is None or mass > plan.firings[before].ware_kg + plan.firings[before].furniture_kg:
            heaviest[key] = number
    said: list[str] = []
    for (code, programme), number in sorted(heaviest.items()):
        kiln, fired = works.kiln(code), report.firings[number]
        one = calibrations.get(code, UNCALIBRATED)
        parted = _parted(kiln, works.programme(programme), fired.balance.end, fired.masses.all_kg, one)
        said += [f"{plan.firings[number].code} cooling: {row.found}; wanted {row.wanted}" for row in parted]
    return tuple(said)


def _parted(
    kiln: Kiln, programme: Programme, end: LiningState, contents_kg: Mapping[str, float], calibration: Calibration
) -> Iterator[Finding]:
    """Give a finding where forecast and recorded hours to the kiln's limit part by more than 30 %."""
    mass = sum(contents_kg.values()) - (sum(deck_kg(kiln).values()) if kiln.cars else 0.0)
    recorded_h, _ = cooling_h(kiln, programme, mass)
    here = with_air(kiln, calibration.air_factor) if calibration.coolings else kiln
    forecast = cooling_hours(here, end, contents_kg, in_kiln_degc(kiln))
    finding = cooling_finding(programme, forecast, recorded_h) if recorded_h > 0.0 else None
    if finding is None:
        return
    forecasts = [_said(forecast.to_degc, forecast.hours_h, forecast.within_h)]
    if forecast.to_degc != kiln.cooling.unload_degc:
        cold = cooling_hours(here, end, contents_kg, kiln.cooling.unload_degc)
        forecasts.append(_said(cold.to_degc, cold.hours_h, cold.within_h) + " if left in the kiln")
    fitted = calibration.coolings >= COOLINGS_FOR_FORECAST
    basis = f"fitted to {calibration.coolings} coolings" if fitted else "advice until fitted to three recorded coolings"
    yield replace(
        finding,
        file=f"kiln {kiln.code}",
        field=f"cooling of {programme.code} ({kiln.cooling.way.value})",
        found=f"{recorded_h:.1f} h recorded, {' and '.join(forecasts)} forecast ({basis})",
    )


def _said(to_degc: float, hours_h: float | None, within_h: float) -> str:
    hours = f"more than {within_h:.0f} h" if hours_h is None else f"{hours_h:.1f} h"
    return f"{hours} to {to_degc:g} degC"
