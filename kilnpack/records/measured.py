"""What was measured of a firing: the meter, the witness cones, the cooling, each in the words of the works folder.

The masses that a reading goes with are those of the load as it was set. `measured_of` gives everything back as a works
folder would hold it, so that the same calibration reads both.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from sqlalchemy import select

from kilnpack.errors import InputFaulty
from kilnpack.model.measured import ConeReading, ConeState, CoolingReading, Measured, MeterReading
from kilnpack.model.orders import in_zone
from kilnpack.records.firings import firing_row, load_fired
from kilnpack.records.states import RecordedState
from kilnpack.records.tables_firings import ConeRow, CoolingPointRow, CoolingRow, MeterRow
from kilnpack.records.values import of_command

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from sqlalchemy.orm import Session

    from kilnpack.model.works import Works
    from kilnpack.records.tables_firings import FiringRow

_UNLIT = (RecordedState.PLANNED, RecordedState.LOADING, RecordedState.GIVEN_UP)


def lit_firing(session: Session, code: str) -> FiringRow:
    """Return the row of a firing that something can be measured of.

    Raises
    ------
    InputFaulty
        There is none, or it was not lit yet.
    """
    row = firing_row(session, code)
    if row.state in _UNLIT or row.lit_at is None:
        raise InputFaulty([of_command("firing", f"{code}, {row.state}", "a firing that was lit")])
    return row


def lit_on(works: Works, row: FiringRow) -> date:
    """Return the day a firing was lit, as the works' calendar has it."""
    return in_zone(row.lit_at or row.changed_at, works.calendar.time_zone).date()


def masses_kg(works: Works, row: FiringRow) -> tuple[float, float]:
    """Return ware and furniture of a firing as it was set, without the deck of a car, kg."""
    from kilnpack.heat.contents import load_masses

    masses = load_masses(works, replace(load_fired(row), car=None))
    return sum(masses.ware_kg.values()), sum(masses.furniture_kg.values())


def keep_meter(session: Session, firing: str, reading: MeterReading) -> MeterRow:
    """Keep what the meter counted over a firing; a second reading of the same firing takes the place of the first."""
    row = lit_firing(session, firing)
    kept = session.scalars(select(MeterRow).where(MeterRow.firing == row.code)).first()
    if kept is None:
        kept = MeterRow(firing=row.code)
        session.add(kept)
    kept.kiln, kept.programme, kept.fired_on = reading.kiln, reading.programme, reading.fired_on
    kept.ware_kg, kept.furniture_kg = reading.ware_kg, reading.furniture_kg
    kept.metered_kwh, kept.metered_m3 = reading.metered_kwh, reading.metered_m3
    kept.gross_kwh_per_m3, kept.before, kept.stood_h = reading.gross_kwh_per_m3, reading.before, reading.stood_h
    kept.at, kept.by = session.info["at"], session.info["by"]
    session.flush()
    return kept


def keep_cones(session: Session, firing: str, readings: Sequence[ConeReading]) -> None:
    """Keep the witness cones of a firing; what was kept of them before gives way."""
    row = lit_firing(session, firing)
    for old in session.scalars(select(ConeRow).where(ConeRow.firing == row.code)):
        session.delete(old)
    for one in readings:
        session.add(
            ConeRow(
                firing=row.code, kiln=one.kiln, programme=one.programme, fired_on=one.fired_on, x_mm=one.x_mm,
                y_mm=one.y_mm, z_mm=one.z_mm, cone=one.cone, state=one.state.value if one.state else None,
                series=one.series, read_degc=one.read_degc, at=session.info["at"], by=session.info["by"],
            )
        )  # fmt: skip
    session.flush()


def keep_cooling(session: Session, firing: str, readings: Sequence[CoolingReading]) -> None:
    """Keep the cooling of a firing; what was kept of it before gives way.

    Parameters
    ----------
    readings
        At least one, in any order; all of this firing.
    """
    row = lit_firing(session, firing)
    kept = session.scalars(select(CoolingRow).where(CoolingRow.firing == row.code)).first()
    if kept is None:
        kept = CoolingRow(firing=row.code)
        session.add(kept)
    first = readings[0]
    kept.kiln, kept.programme, kept.fired_on = first.kiln, first.programme, first.fired_on
    kept.ware_kg, kept.furniture_kg = first.ware_kg, first.furniture_kg
    kept.at, kept.by = session.info["at"], session.info["by"]
    kept.points = [CoolingPointRow(after_h=one.after_h, chamber_degc=one.chamber_degc) for one in readings]
    session.flush()


def measured_of(session: Session, firing: str | None = None) -> Measured:
    """Return everything measured that the records keep, oldest first; of one firing where it is named."""
    meter = select(MeterRow).order_by(MeterRow.id)
    cones = select(ConeRow).order_by(ConeRow.id)
    coolings = select(CoolingRow).order_by(CoolingRow.id)
    if firing is not None:
        meter, cones = meter.where(MeterRow.firing == firing), cones.where(ConeRow.firing == firing)
        coolings = coolings.where(CoolingRow.firing == firing)
    return Measured(
        meter=tuple(_meter(row) for row in session.scalars(meter)),
        cones=tuple(_cone(row) for row in session.scalars(cones)),
        coolings=tuple(reading for row in session.scalars(coolings) for reading in _cooling(row)),
    )


def metered_of(session: Session) -> dict[str, MeterReading]:
    """Return what the meter said, by firing."""
    return {row.firing: _meter(row) for row in session.scalars(select(MeterRow))}


def with_measured(folder: Measured, kept: Measured) -> Measured:
    """Return what a works folder says was measured, then what the records keep beside it."""
    return replace(
        folder,
        meter=folder.meter + tuple(one for one in kept.meter if one not in folder.meter),
        cones=folder.cones + tuple(one for one in kept.cones if one not in folder.cones),
        coolings=folder.coolings + tuple(one for one in kept.coolings if one not in folder.coolings),
    )


def _meter(row: MeterRow) -> MeterReading:
    return MeterReading(
        fired_on=row.fired_on, kiln=row.kiln, programme=row.programme, ware_kg=row.ware_kg,
        furniture_kg=row.furniture_kg, metered_kwh=row.metered_kwh, metered_m3=row.metered_m3,
        gross_kwh_per_m3=row.gross_kwh_per_m3, before=row.before, stood_h=row.stood_h,
    )  # fmt: skip


def _cone(row: ConeRow) -> ConeReading:
    return ConeReading(
        fired_on=row.fired_on, kiln=row.kiln, programme=row.programme, x_mm=row.x_mm, y_mm=row.y_mm, z_mm=row.z_mm,
        cone=row.cone, state=ConeState(row.state) if row.state else None, series=row.series, read_degc=row.read_degc,
    )  # fmt: skip


def _cooling(row: CoolingRow) -> tuple[CoolingReading, ...]:
    return tuple(
        CoolingReading(
            fired_on=row.fired_on, kiln=row.kiln, programme=row.programme, ware_kg=row.ware_kg,
            furniture_kg=row.furniture_kg, after_h=point.after_h, chamber_degc=point.chamber_degc,
        )
        for point in row.points
    )  # fmt: skip
