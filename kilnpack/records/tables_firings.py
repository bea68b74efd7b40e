"""Tables of what is fired: plans, firings, loads, ticks of the loader, inspections, readings."""

from __future__ import annotations

from datetime import date, datetime
from typing import ClassVar

from sqlalchemy import Double, ForeignKey, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from kilnpack.records.base import CODE, WORD, Base, Plain, Versioned


class PlanRow(Versioned, Base):
    """A plan as a value, with what is asked for most beside it."""

    __tablename__ = "plans"
    what: ClassVar[str] = "plan"

    code: Mapped[str] = mapped_column(CODE, unique=True)
    made: Mapped[datetime]
    kept_at: Mapped[datetime]
    policy: Mapped[str]
    seed: Mapped[int]
    firing_count: Mapped[int]
    open_lines: Mapped[int]
    weighted_late_days: Mapped[float] = mapped_column(Double)
    schema_version: Mapped[int]
    value: Mapped[Plain]


class FiringRow(Versioned, Base):
    """A firing, from the plan or by hand.

    `code` differs over all plans: `plan.in_plan`. The `plan_*` moments are as planned, the others as it went. `lots`
    are the lots that were ready for it, as values, by code; `becomes` says under which code the plan lets the good
    pieces of a lot go on.
    """

    __tablename__ = "firings"
    what: ClassVar[str] = "firing"

    code: Mapped[str] = mapped_column(CODE, unique=True)
    plan: Mapped[str | None] = mapped_column(CODE, ForeignKey("plans.code"), index=True)
    in_plan: Mapped[str | None] = mapped_column(CODE)
    kiln: Mapped[str] = mapped_column(CODE, index=True)
    car: Mapped[str | None] = mapped_column(CODE)
    programme: Mapped[str] = mapped_column(CODE, index=True)
    stage: Mapped[str] = mapped_column(WORD, index=True)
    state: Mapped[str] = mapped_column(WORD, index=True)
    locked: Mapped[bool] = mapped_column(default=False)
    lots: Mapped[Plain]
    becomes: Mapped[Plain]
    plan_load_start: Mapped[datetime | None]
    plan_fire_start: Mapped[datetime | None]
    plan_fire_end: Mapped[datetime | None]
    plan_unload_end: Mapped[datetime | None]
    loading_at: Mapped[datetime | None]
    lit_at: Mapped[datetime | None]
    fired_at: Mapped[datetime | None]
    unloaded_at: Mapped[datetime | None]
    inspected_at: Mapped[datetime | None]
    corrected_at: Mapped[datetime | None]

    loads: Mapped[list[LoadRow]] = relationship(order_by="LoadRow.id", back_populates="of")


class LoadRow(Versioned, Base):
    """A load of a firing as a value: `kind` is ``planned`` or ``as loaded``."""

    __tablename__ = "loads"
    __table_args__ = (UniqueConstraint("firing", "kind"),)
    what: ClassVar[str] = "load"

    firing: Mapped[str] = mapped_column(CODE, ForeignKey("firings.code"))
    kind: Mapped[str] = mapped_column(WORD)
    pieces: Mapped[int]
    tiers: Mapped[int]
    schema_version: Mapped[int]
    value: Mapped[Plain]

    of: Mapped[FiringRow] = relationship(back_populates="loads")

    @property
    def key(self) -> str:
        """What names this row to people."""
        return f"{self.kind} of {self.firing}"


class TickRow(Base):
    """What a loader noted at a place: set, taken out again, a swap, a breakage.

    `mark` is given by the device, once; a tick that is sent twice is kept once. `place` None means the whole tier.
    `form_instead` is how another kind of piece stands that took the place. `packed_over` means that the tier was packed
    anew after the note, so that its places are others now. `at` is when it was noted by the clock of the device,
    `heard_at` when the records heard of it by theirs; the order of notes is that of their rows.
    """

    __tablename__ = "ticks"

    mark: Mapped[str] = mapped_column(CODE, unique=True)
    firing: Mapped[str] = mapped_column(CODE, ForeignKey("firings.code"), index=True)
    what: Mapped[str] = mapped_column(WORD)
    stack: Mapped[str] = mapped_column(CODE)
    tier: Mapped[int]
    place: Mapped[int | None]
    lot: Mapped[str | None] = mapped_column(CODE)
    other_lot: Mapped[str | None] = mapped_column(CODE)
    pieces: Mapped[int | None]
    form_instead: Mapped[str | None] = mapped_column(CODE)
    packed_over: Mapped[bool] = mapped_column(default=False)
    note: Mapped[str] = mapped_column(default="")
    by: Mapped[str] = mapped_column(CODE)
    at: Mapped[datetime]
    heard_at: Mapped[datetime]


class InspectionRow(Base):
    """Pieces of a lot that came out of a firing with one grade, from one place where it was noted.

    A row that was corrected stays, with who replaced it and when; only rows that were not count.
    """

    __tablename__ = "inspections"

    firing: Mapped[str] = mapped_column(CODE, ForeignKey("firings.code"), index=True)
    lot: Mapped[str] = mapped_column(CODE, ForeignKey("lots.code"), index=True)
    product: Mapped[str] = mapped_column(CODE, index=True)
    shape: Mapped[str] = mapped_column(CODE, index=True)
    stage: Mapped[str] = mapped_column(WORD)
    lot_kind: Mapped[str] = mapped_column(WORD)
    grade: Mapped[str] = mapped_column(WORD)
    pieces: Mapped[int]
    cause: Mapped[str] = mapped_column(default="")
    stack: Mapped[str | None] = mapped_column(CODE)
    tier: Mapped[int | None]
    place: Mapped[int | None]
    at: Mapped[datetime]
    by: Mapped[str] = mapped_column(CODE)
    replaced_at: Mapped[datetime | None]
    replaced_by: Mapped[str | None] = mapped_column(CODE)


class MeterRow(Base):
    """What the meter counted over a firing, as `model.measured.MeterReading` has it."""

    __tablename__ = "meter_readings"

    firing: Mapped[str] = mapped_column(CODE, ForeignKey("firings.code"), unique=True)
    kiln: Mapped[str] = mapped_column(CODE, index=True)
    programme: Mapped[str] = mapped_column(CODE)
    fired_on: Mapped[date]
    ware_kg: Mapped[float] = mapped_column(Double)
    furniture_kg: Mapped[float] = mapped_column(Double)
    metered_kwh: Mapped[float | None] = mapped_column(Double)
    metered_m3: Mapped[float | None] = mapped_column(Double)
    gross_kwh_per_m3: Mapped[float | None] = mapped_column(Double)
    before: Mapped[str | None] = mapped_column(CODE)
    stood_h: Mapped[float | None] = mapped_column(Double)
    at: Mapped[datetime]
    by: Mapped[str] = mapped_column(CODE)


class ConeRow(Base):
    """One witness cone, or a temperature read in its place, as `model.measured.ConeReading` has it."""

    __tablename__ = "cone_readings"

    firing: Mapped[str] = mapped_column(CODE, ForeignKey("firings.code"), index=True)
    kiln: Mapped[str] = mapped_column(CODE, index=True)
    programme: Mapped[str] = mapped_column(CODE)
    fired_on: Mapped[date]
    x_mm: Mapped[float] = mapped_column(Double)
    y_mm: Mapped[float] = mapped_column(Double)
    z_mm: Mapped[float] = mapped_column(Double)
    cone: Mapped[str | None] = mapped_column(CODE)
    state: Mapped[str | None] = mapped_column(WORD)
    series: Mapped[str]
    read_degc: Mapped[float | None] = mapped_column(Double)
    at: Mapped[datetime]
    by: Mapped[str] = mapped_column(CODE)


class CoolingRow(Base):
    """A recorded cooling; its points follow in time from the end of the fire."""

    __tablename__ = "coolings"

    firing: Mapped[str] = mapped_column(CODE, ForeignKey("firings.code"), unique=True)
    kiln: Mapped[str] = mapped_column(CODE, index=True)
    programme: Mapped[str] = mapped_column(CODE)
    fired_on: Mapped[date]
    ware_kg: Mapped[float] = mapped_column(Double)
    furniture_kg: Mapped[float] = mapped_column(Double)
    at: Mapped[datetime]
    by: Mapped[str] = mapped_column(CODE)

    points: Mapped[list[CoolingPointRow]] = relationship(
        order_by="CoolingPointRow.after_h", cascade="all, delete-orphan"
    )


class CoolingPointRow(Base):
    """One reading of a cooling."""

    __tablename__ = "cooling_points"

    cooling_id: Mapped[int] = mapped_column(ForeignKey("coolings.id"), index=True)
    after_h: Mapped[float] = mapped_column(Double)
    chamber_degc: Mapped[float] = mapped_column(Double)
