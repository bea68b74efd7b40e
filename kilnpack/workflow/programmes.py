"""Programme sheets: for a packed load, or for every programme of a works at the usual load of its kilns."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from kilnpack.errors import InputFaulty
from kilnpack.heat.calibration import UNCALIBRATED
from kilnpack.heat.contents import WARE, load_masses
from kilnpack.heat.firing import fire
from kilnpack.heat.ramps import slowest_of_load, slowest_of_programme
from kilnpack.heat.reactions import chemistry_of
from kilnpack.heat.windows import window_misses, window_words
from kilnpack.heat.works_readings import furniture_of
from kilnpack.sheets.programme import ProgrammeSheetPaths, write_programme_sheet
from kilnpack.sheets.programme_facts import ProgrammeLoad
from kilnpack.sheets.words import counted
from kilnpack.workflow.energy import calibrations_in
from kilnpack.works_folder import read_works
from kilnpack.works_folder.landing import landing, state_of

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from kilnpack.heat.balance import HeatBalance
    from kilnpack.heat.calibration import Calibration
    from kilnpack.model.kilns import Kiln
    from kilnpack.model.loads import Load
    from kilnpack.model.orders import Lot
    from kilnpack.model.plans import Plan
    from kilnpack.model.programmes import Programme
    from kilnpack.model.works import Works

LIT_H = 6.0
"""Hour of the day at which a fire is taken to be lit where no plan says it."""


def heat_words(works: Works, load: Load, lots: tuple[Lot, ...] | None = None) -> tuple[str, ...]:
    """Return where ware of a load misses its heat window or comes near its ends, in words."""
    return window_words(window_misses(works, load, lots))


def with_heat_words(works: Works, plan: Plan) -> Plan:
    """Return a plan whose loads say where their ware misses its heat window; what they say already stands once."""
    lots = {lot.code: lot for lot in works.lots} | {lot.code: lot for firing in plan.firings for lot in firing.lots}
    firings = tuple(
        replace(firing, load=replace(firing.load, remarks=_said(works, firing.load, tuple(lots.values()))))
        for firing in plan.firings
    )
    return replace(plan, firings=firings)


def _said(works: Works, load: Load, lots: tuple[Lot, ...]) -> tuple[str, ...]:
    return tuple(dict.fromkeys((*load.remarks, *heat_words(works, load, lots))))


def write_load_programme(
    works: Works,
    load: Load,
    out_dir: Path,
    *,
    calibrations: Mapping[str, Calibration] | None = None,
    lit_h: float = LIT_H,
) -> ProgrammeSheetPaths:
    """Write the programme sheet of a packed load; the works holds the lots it is filled from.

    Raises
    ------
    SheetNotWritten
        A file cannot be written.
    """
    kiln, programme = works.kiln(load.kiln), works.programme(load.programme)
    masses = load_masses(works, load)
    balance, notes = _balance(works, kiln, programme, masses.ware_kg, masses.furniture_kg, calibrations)
    told = ProgrammeLoad(
        said=f"this load of {counted(load.pieces, 'piece', 'pieces')}",
        ware_kg=sum(masses.ware_kg.values()),
        furniture_kg=sum(masses.furniture_kg.values()),
        body=slowest_of_load(works, load),
        balance=balance,
        notes=(*notes, *heat_words(works, load)),
    )
    return write_programme_sheet(works, kiln, programme, told, out_dir, lit_h=lit_h)


def write_programmes(folder: Path, out_dir: Path, *, lit_h: float = LIT_H) -> list[ProgrammeSheetPaths]:
    """Write a sheet for every kiln and programme of a works at the kiln's usual load.

    Raises
    ------
    InputFaulty
        The folder has findings.
    SheetNotWritten
        A file cannot be written.
    """
    works = read_works(folder)
    calibrations, _ = calibrations_in(folder, works)
    with landing(out_dir, state_of(out_dir)) as place:
        written = []
        for kiln in works.kilns:
            for code in kiln.programmes:
                programme = works.programme(code)
                told = usual_load(works, kiln, programme, calibrations)
                written.append(write_programme_sheet(works, kiln, programme, told, place.aside, lit_h=lit_h))
    return place.final(written)


def usual_load(
    works: Works, kiln: Kiln, programme: Programme, calibrations: Mapping[str, Calibration] | None = None
) -> ProgrammeLoad:
    """Return the usual load of a kiln: its usual ware, and furniture as the programme was recorded with."""
    ware_kg = {WARE: kiln.usual_ware_kg}
    furniture_kg = furniture_of(works, kiln, max(0.0, programme.recorded_kg - kiln.usual_ware_kg))
    balance, notes = _balance(works, kiln, programme, ware_kg, furniture_kg, calibrations)
    return ProgrammeLoad(
        said="the kiln's usual load",
        ware_kg=kiln.usual_ware_kg,
        furniture_kg=sum(furniture_kg.values()),
        body=slowest_of_programme(works, programme),
        balance=balance,
        notes=notes,
    )


def _balance(
    works: Works,
    kiln: Kiln,
    programme: Programme,
    ware_kg: Mapping[str, float],
    furniture_kg: Mapping[str, float],
    calibrations: Mapping[str, Calibration] | None,
) -> tuple[HeatBalance | None, tuple[str, ...]]:
    """Return the heat of a cold start, or None with the reason in words where the kiln does not let it be computed."""
    if not kiln.lining:
        return None, ()
    takes = chemistry_of(works.settings, programme.stage)
    calibration = (calibrations or {}).get(kiln.code, UNCALIBRATED)
    try:
        return fire(kiln, programme, ware_kg, furniture_kg, takes, calibration=calibration), ()
    except InputFaulty as fault:
        return None, tuple(f"{one.field}: {one.found}; wanted {one.wanted}" for one in fault.findings)
