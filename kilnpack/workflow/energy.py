"""Energy of a plan with the factors that the works folder keeps."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from kilnpack.errors import Finding, InputFaulty
from kilnpack.heat.calibration import COOLINGS_FOR_FORECAST, Calibration, Calibrations, holding
from kilnpack.heat.report import LitLoad, energy_report
from kilnpack.works_folder import load_value

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from kilnpack.heat.report import EnergyReport
    from kilnpack.model.plans import Plan
    from kilnpack.model.works import Works

CALIBRATION_FILE = "calibration.json"
"""Where a works folder keeps the factors that `kilnpack calibrate` fitted."""


def calibrations_in(folder: Path, works: Works) -> tuple[dict[str, Calibration], tuple[str, ...]]:
    """Return the factors of a works folder by kiln, and in words what is used of them; nothing where it keeps none.

    Raises
    ------
    InputFaulty
        The file cannot be read, or is of another works.
    """
    path = folder / CALIBRATION_FILE
    if not path.exists():
        return {}, ()
    kept = load_value(path, Calibrations)
    if kept.works != works.name:
        wanted = f"{works.name}; run kilnpack calibrate, or remove the file"
        raise InputFaulty([Finding(file=path.name, row=None, field="works", found=kept.works, wanted=wanted)])
    factors, words = holding(works, kept)
    return factors, (*(told for code, one in factors.items() for told in _told(code, one)), *words)


def _told(code: str, calibration: Calibration) -> list[str]:
    words = []
    if calibration.readings:
        words.append(f"{code}: energy is fitted to {calibration.readings} meter readings ({CALIBRATION_FILE})")
    if calibration.coolings:
        still = "" if calibration.coolings >= COOLINGS_FOR_FORECAST else ", advice until there are three"
        words.append(f"{code}: cooling air is fitted to {calibration.coolings} recorded coolings{still}")
    return words


def energy_of(works: Works, plan: Plan, calibrations: Mapping[str, Calibration] | None = None) -> EnergyReport:
    """Return the energy of a plan's firings, linings handed on warm from one to the next."""
    lots = {lot.code: lot for lot in works.lots} | {lot.code: lot for one in plan.firings for lot in one.lots}
    return energy_report(works, lit_loads(plan), lots=tuple(lots.values()), calibrations=calibrations)


def lit_loads(plan: Plan) -> list[LitLoad]:
    """Return the loads of a plan with the moment each is lit."""
    return [LitLoad(load=firing.load, lit_at=firing.fire_start) for firing in plan.firings]


def with_energy(plan: Plan, report: EnergyReport) -> Plan:
    """Return the plan with the energy of every firing filled in, and with that of all of them as its goal."""
    firings = tuple(
        replace(firing, energy_kwh=round(fired.balance.total_kwh, 1))
        for firing, fired in zip(plan.firings, report.firings, strict=True)
    )
    return replace(plan, firings=firings, goals=replace(plan.goals, energy_kwh=round(report.total_kwh, 1)))
