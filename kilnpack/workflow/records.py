"""From works folders, plans and tables into the records, and from the records to works folders."""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from kilnpack.errors import Finding, InputFaulty
from kilnpack.model.loads import Load
from kilnpack.model.measured import ConeReading, ConeState, CoolingReading, MeterReading
from kilnpack.planning.ready import ready_lots, ready_works
from kilnpack.records.address import records_url
from kilnpack.records.correcting import correct
from kilnpack.records.deliveries import deliver
from kilnpack.records.firings import firing_rows, keep_firing, keep_load, keep_plan, move_on
from kilnpack.records.furniture import condemn
from kilnpack.records.inspection import Inspected, inspect
from kilnpack.records.measured import keep_cones, keep_cooling, keep_meter, lit_firing, lit_on, masses_kg
from kilnpack.records.states import Grade, LoadKind, RecordedState
from kilnpack.records.store import Records, init_records, open_records
from kilnpack.records.works_values import get_works, put_works
from kilnpack.rules.checker import audit
from kilnpack.workflow.saved_plans import saved_plan
from kilnpack.workflow.taking_in import finish_before_reading, finish_taking_in
from kilnpack.works_folder import load_value, read_works, write_works
from kilnpack.works_folder.headings_records import CONES, COOLING, INSPECTION
from kilnpack.works_folder.record_tables import read_record_table

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import date, datetime

    from sqlalchemy.orm import Session

    from kilnpack.model.works import Works
    from kilnpack.works_folder.rows import Row


@dataclass(frozen=True, slots=True, kw_only=True)
class Desk:
    """Where the records of a works are, and who is at them.

    Parameters
    ----------
    folder
        The works folder.
    address
        Of a server or a file; None is the file inside the folder.
    by
        Stands beside every change.
    """

    folder: Path
    address: str | None = None
    by: str

    @contextmanager
    def open(self) -> Iterator[Records]:
        """Open the records, and let go of them at the end."""
        records = open_records(records_url(self.folder, self.address))
        try:
            yield records
        finally:
            records.close()


def make_records(desk: Desk) -> str:
    """Make the records of a works, or bring older ones to the present form; returns where they are.

    Raises
    ------
    InputFaulty
        There is no such folder.
    RecordsUnusable
        They cannot be made there.
    """
    if not desk.folder.is_dir():
        wanted = "a works folder"
        raise InputFaulty([Finding(file=str(desk.folder), row=None, field="", found="no such folder", wanted=wanted)])
    records = init_records(records_url(desk.folder, desk.address))
    try:
        finish_taking_in(desk.folder, records)
    finally:
        records.close()
    return records.address


def take_works(desk: Desk, *, folder_wins: bool = False) -> Works:
    """Take the works folder into its records.

    Raises
    ------
    InputFaulty
        The folder has findings, or says other than what was recorded since it was last taken in.
    """
    finish_before_reading(desk.folder, records_url(desk.folder, desk.address))
    works = read_works(desk.folder)
    with desk.open() as records, records.writing(desk.by) as session:
        put_works(session, works, folder_wins=folder_wins)
    return works


def give_works(desk: Desk, out: Path, *, now: datetime | None = None) -> Works:
    """Write the works as the records have it into a folder that is new or empty.

    Raises
    ------
    SheetNotWritten
        The folder holds something, or cannot be written.
    """
    with desk.open() as records, records.reading() as session:
        works = get_works(session, now=now)
    write_works(works, out)
    return works


def take_plan(desk: Desk, plan_file: Path, code: str | None = None) -> tuple[str, tuple[str, ...]]:
    """Keep a saved plan; returns its code and those of its firings."""
    plan = saved_plan(plan_file)
    with desk.open() as records, records.writing(desk.by) as session:
        works = get_works(session)
        _of_this_works(plan.works, works, plan_file)
        row = keep_plan(session, plan, code)
        return row.code, tuple(firing.code for firing in firing_rows(session) if firing.plan == row.code)


def _of_this_works(name: str, works: Works, file: Path) -> None:
    if name != works.name:
        raise InputFaulty([Finding(file=file.name, row=None, field="works", found=name, wanted=works.name)])


def take_load(desk: Desk, code: str, load_file: Path, kind: LoadKind) -> None:
    """Keep a saved load: as planned it makes the firing where there is none, and must break no rule.

    Raises
    ------
    InputFaulty
        A planned load breaks a rule, or one as loaded is for a firing that is not there.
    """
    load = load_value(load_file, Load)
    with desk.open() as records, records.writing(desk.by) as session:
        works = get_works(session)
        _of_this_works(load.works, works, load_file)
        if kind is LoadKind.AS_LOADED:
            keep_load(session, code, load, kind)
            return
        checked = audit(works, load)
        if checked.findings:
            raise InputFaulty(checked.findings)
        kiln, programme = works.kiln(load.kiln), works.programme(load.programme)
        used = {fill.lot for stack in load.stacks for tier in stack.tiers for fill in tier.fills}
        ready = {lot.code: lot for lot in ready_lots(works, kiln, programme, works.now)}
        lots = ready | {lot.code: lot for lot in works.lots if lot.code in used}
        keep_firing(session, code, load, ready_works(works, tuple(lots.values())).lots)


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptFiring:
    """A firing of the records in short: `begins` is when it was lit, else when its plan would light it."""

    code: str
    kiln: str
    programme: str
    begins: datetime | None
    pieces: int
    state: str
    locked: bool


def firings_kept(desk: Desk, *, every: bool = False) -> tuple[KeptFiring, ...]:
    """Return the firings of the records that still go on, or every one, oldest first."""
    over = () if every else (RecordedState.INSPECTED, RecordedState.GIVEN_UP)
    with desk.open() as records, records.reading() as session:
        return tuple(
            KeptFiring(
                code=row.code, kiln=row.kiln, programme=row.programme, begins=row.lit_at or row.plan_fire_start,
                pieces=row.loads[-1].pieces, state=row.state, locked=row.locked,
            )
            for row in firing_rows(session, states=[state for state in RecordedState if state not in over])
        )  # fmt: skip


def step_firing(desk: Desk, code: str, state: RecordedState, *, at: datetime | None = None) -> None:
    """Note that a firing went on."""
    with desk.open() as records, records.writing(desk.by) as session:
        move_on(session, code, state, at=at)


def take_inspection(
    desk: Desk, code: str, table: Path, *, at: datetime | None = None, corrects: bool = False
) -> dict[Grade, int]:
    """Keep the inspection of a firing from a table; returns the pieces by grade.

    Parameters
    ----------
    corrects
        The firing was inspected already: the table takes the place of what was written then.
    """
    rows = read_record_table(table, INSPECTION)
    out = [_inspected(row) for row in rows]
    with desk.open() as records, records.writing(desk.by) as session:
        if corrects:
            correct(session, code, out)
        else:
            inspect(session, code, out, at=at)
    return {grade: sum(one.pieces for one in out if one.grade is grade) for grade in Grade}


def _inspected(row: Row) -> Inspected:
    tier, place = row.optional_number("tier"), row.optional_number("place")
    return Inspected(
        lot=row.text("lot"),
        grade=Grade(row.text("grade")),
        pieces=row.whole("pieces"),
        cause=row.optional_text("cause") or "",
        stack=row.optional_text("stack"),
        tier=None if tier is None else int(tier),
        place=None if place is None else int(place),
        file=row.file,
        row=row.number,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Metered:
    """What the meter said of a firing: energy as billed, or gas with its gross heat; the firing before where warm."""

    metered_kwh: float | None = None
    metered_m3: float | None = None
    gross_kwh_per_m3: float | None = None
    before: str | None = None
    stood_h: float | None = None


def take_measured(
    desk: Desk, code: str, *, meter: Metered | None = None, cones: Path | None = None, cooling: Path | None = None
) -> tuple[int, int, int]:
    """Keep what was measured of a firing; returns how many readings of meter, cones and cooling.

    Raises
    ------
    InputFaulty
        A table has findings, the firing is not lit, or the meter's figures do not go together.
    """
    cone_rows = read_record_table(cones, CONES) if cones else ()
    cooling_rows = read_record_table(cooling, COOLING) if cooling else ()
    with desk.open() as records, records.writing(desk.by) as session:
        keep_measured(session, code, meter, cone_rows, cooling_rows)
    return int(meter is not None), len(cone_rows), len(cooling_rows)


def keep_measured(
    session: Session, code: str, meter: Metered | None, cone_rows: Sequence[Row], cooling_rows: Sequence[Row]
) -> None:
    """Keep what was measured of a firing; what was kept of it before gives way, part by part.

    Raises
    ------
    InputFaulty
        The firing is not lit, or the figures do not go together.
    """
    works = get_works(session)
    row = lit_firing(session, code)
    ware_kg, furniture_kg = masses_kg(works, row)
    fired_on, kiln, programme = lit_on(works, row), row.kiln, row.programme
    if meter is not None:
        reading = MeterReading(
            fired_on=fired_on, kiln=kiln, programme=programme, ware_kg=ware_kg, furniture_kg=furniture_kg,
            metered_kwh=meter.metered_kwh, metered_m3=meter.metered_m3, gross_kwh_per_m3=meter.gross_kwh_per_m3,
            before=meter.before, stood_h=meter.stood_h,
        )  # fmt: skip
        keep_meter(session, code, reading)
    if cone_rows:
        keep_cones(session, code, [_cone(one, fired_on, kiln, programme) for one in cone_rows])
    if cooling_rows:
        points = [
            CoolingReading(
                fired_on=fired_on, kiln=kiln, programme=programme, ware_kg=ware_kg, furniture_kg=furniture_kg,
                after_h=one.number_at("after_h"), chamber_degc=one.number_at("chamber_degc"),
            )
            for one in cooling_rows
        ]  # fmt: skip
        keep_cooling(session, code, points)
    _as_folder_would(get_works(session))


def _cone(row: Row, fired_on: date, kiln: str, programme: str) -> ConeReading:
    state = row.optional_text("state")
    return ConeReading(
        fired_on=fired_on, kiln=kiln, programme=programme, x_mm=row.number_at("x_mm"), y_mm=row.number_at("y_mm"),
        z_mm=row.number_at("z_mm"), cone=row.optional_text("cone"), state=None if state is None else ConeState(state),
        series=row.text("series"), read_degc=row.optional_number("read_degc"),
    )  # fmt: skip


def _as_folder_would(works: Works) -> None:
    """Refuse what the reader of works folders would refuse, so that an export can always be read.

    Raises
    ------
    InputFaulty
        With the reader's findings; rows are left out, as nobody has seen these tables.
    """
    with TemporaryDirectory() as aside:
        folder = Path(aside) / "works"
        write_works(works, folder)
        try:
            read_works(folder)
        except InputFaulty as faulty:
            raise InputFaulty(replace(one, row=None) for one in faulty.findings) from faulty


def take_out_of_use(desk: Desk, kind: str, code: str, pieces: int, *, cause: str, shelf_lot: int | None = None) -> None:
    """Note furniture that is condemned or broken."""
    with desk.open() as records, records.writing(desk.by) as session:
        condemn(session, kind, code, pieces, cause=cause, shelf_lot=shelf_lot)


def take_delivery(desk: Desk, line: str, pieces: int, *, note: str = "") -> tuple[int, int]:
    """Note a delivery; returns how many of the order line are delivered now, and how many were ordered."""
    with desk.open() as records, records.writing(desk.by) as session:
        row = deliver(session, line, pieces, note=note)
        return row.delivered_pieces, row.quantity_pieces
