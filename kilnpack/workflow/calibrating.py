"""From the readings of a works folder to factors of its kilns, kept in the folder; an offset map is only proposed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from kilnpack.errors import Finding, InputFaulty
from kilnpack.heat.calibration import UNCALIBRATED, Calibrations, of_kiln
from kilnpack.heat.cooling_fit import CoolingFit, fit_cooling
from kilnpack.heat.lining import lining_findings
from kilnpack.heat.readings import KilnFit, fit_kiln
from kilnpack.heat.witness import OffsetProposal, offset_proposal
from kilnpack.heat.works_readings import meter_readings, recorded_coolings
from kilnpack.model.pieces import Stage
from kilnpack.workflow.energy import CALIBRATION_FILE
from kilnpack.works_folder import read_works, save_value
from kilnpack.works_folder.offsets import write_offsets

if TYPE_CHECKING:
    from pathlib import Path

    from kilnpack.model.kilns import Kiln
    from kilnpack.model.works import Works

MEASURED_KILN = "kilns.toml"


@dataclass(frozen=True, slots=True, kw_only=True)
class CalibratedKiln:
    """What the readings of one kiln say; None where there are none of a kind."""

    kiln: str
    energy: KilnFit | None
    cooling: CoolingFit | None
    offsets: tuple[OffsetProposal, ...]
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CalibratedWorks:
    """All kilns that were measured, and what was written."""

    kilns: tuple[CalibratedKiln, ...]
    saved: Path | None
    offsets: Path | None


def calibrate_works(folder: Path, *, write: bool = True, write_map: bool = False) -> CalibratedWorks:
    """Fit the kilns of a works folder to its readings.

    Parameters
    ----------
    folder
        The works folder.
    write
        Keep the factors in the folder, where `energy`, `plan` and `load` find them.
    write_map
        Also put the proposed offset maps into the folder's table of offsets.

    Raises
    ------
    InputFaulty
        The folder has findings, holds no reading, or a measured kiln states no lining.
    SheetNotWritten
        A file cannot be written.
    """
    works = read_works(folder)
    named = _measured_kilns(works)
    if not named:
        wanted = "meter_readings, cone_readings or cooling_readings with a row (docs/formats.md)"
        raise InputFaulty([Finding(file=folder.name, row=None, field="", found="no reading", wanted=wanted)])
    faults = [
        replace(fault, file=MEASURED_KILN, field=f"kilns[{kiln.code}].lining")
        for kiln in named
        if _wants_lining(works, kiln)
        for fault in lining_findings(kiln)
    ]
    if faults:
        raise InputFaulty(faults)
    kilns = calibrated_kilns(works)
    proposals = [proposal for row in kilns for proposal in row.offsets]
    offsets = (
        write_offsets(folder, works, {(one.kiln, one.stage): one.readings for one in proposals})
        if (write_map and proposals)
        else None
    )
    fitted = [row for row in kilns if row.energy is not None or row.cooling is not None]
    saved = folder / CALIBRATION_FILE if write and fitted else None
    if saved is not None:
        save_value(saved, _kept(works, fitted))
    return CalibratedWorks(kilns=kilns, saved=saved, offsets=offsets)


def calibrated_kilns(works: Works) -> tuple[CalibratedKiln, ...]:
    """Fit every kiln of a works that was measured; one that states no lining gets words in place of its factors."""
    return tuple(
        _without_lining(works, kiln)
        if _wants_lining(works, kiln) and [*lining_findings(kiln)]
        else _calibrated(works, kiln)
        for kiln in _measured_kilns(works)
    )


def _without_lining(works: Works, kiln: Kiln) -> CalibratedKiln:
    cones_only = replace(works, measured=replace(works.measured, meter=(), coolings=()))
    found = _calibrated(cones_only, kiln)
    return replace(found, words=(*found.words, "its lining is not stated, so meter and coolings teach nothing"))


def _measured_kilns(works: Works) -> list[Kiln]:
    measured = works.measured
    codes = {row.kiln for rows in (measured.meter, measured.cones, measured.coolings) for row in rows}
    return [kiln for kiln in works.kilns if kiln.code in codes]


def _wants_lining(works: Works, kiln: Kiln) -> bool:
    return any(row.kiln == kiln.code for rows in (works.measured.meter, works.measured.coolings) for row in rows)


def _calibrated(works: Works, kiln: Kiln) -> CalibratedKiln:
    readings, coolings = meter_readings(works, kiln), recorded_coolings(works, kiln)
    maps = [offset_proposal(works, kiln, stage) for stage in Stage]
    return CalibratedKiln(
        kiln=kiln.code,
        energy=fit_kiln(kiln, readings) if readings else None,
        cooling=fit_cooling(kiln, coolings) if coolings else None,
        offsets=tuple(proposal for proposal, _ in maps if proposal is not None),
        words=tuple(word for _, words in maps for word in words),
    )


def _kept(works: Works, fitted: list[CalibratedKiln]) -> Calibrations:
    rows = []
    for row in fitted:
        calibration = UNCALIBRATED if row.energy is None else row.energy.calibration
        if row.cooling is not None:
            calibration = replace(calibration, air_factor=row.cooling.air_factor, coolings=row.cooling.coolings)
        rows.append(of_kiln(works.kiln(row.kiln), calibration))
    return Calibrations(works=works.name, kilns=tuple(rows))
