"""From a plan to everything people hold of it: the plan's own sheets, and a loading sheet for every firing."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from kilnpack.model.orders import hours_between
from kilnpack.search.executor import executor
from kilnpack.sheets.files import file_name
from kilnpack.sheets.loading import LoadingSheetPaths, write_loading_sheet
from kilnpack.sheets.plan_rows import Bar, BoundRow, Doing, FiringRow, HandRow, LineRow, PlanRows
from kilnpack.sheets.plan_sheets import PlanPaths, write_plan_sheets

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime
    from pathlib import Path

    from kilnpack.model.orders import OrderLine
    from kilnpack.model.plans import Firing, LineOutcome, Plan
    from kilnpack.model.works import Works
    from kilnpack.sheets.facts import Tightest

MOST_NAMED = 6
"""Products named in a row's ware; the rest is counted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanFolder:
    """Where a plan was written: its own files, and the loading sheets by firing."""

    plan: PlanPaths
    sheets: dict[str, LoadingSheetPaths]


def write_plan(
    works: Works, plan: Plan, out_dir: Path, *, tightest: Mapping[str, Tightest] | None = None, workers: int = 1
) -> PlanFolder:
    """Write the plan's sheets, and under `sheets/` a loading sheet for every firing.

    Parameters
    ----------
    tightest
        Least gap and headroom by firing code, as the checker found them.
    workers
        Processes that write loading sheets.

    Raises
    ------
    SheetNotWritten
        A file cannot be written.
    """
    told = tightest or {}
    with executor(min(workers, len(plan.firings))) as pool:
        writing = {
            firing.code: pool.submit(_write_sheet, works, firing, out_dir / "sheets", told.get(firing.code))
            for firing in plan.firings
        }
        written = write_plan_sheets(plan_rows(works, plan), out_dir)
        sheets = {code: one.result() for code, one in writing.items()}
    return PlanFolder(plan=written, sheets=sheets)


def _write_sheet(works: Works, firing: Firing, folder: Path, tightest: Tightest | None) -> LoadingSheetPaths:
    """Write one loading sheet, here or in a process of its own."""
    return write_loading_sheet(
        works_of_firing(works, firing), firing.load, folder, title=sheet_title(firing), tightest=tightest
    )


def works_of_firing(works: Works, firing: Firing) -> Works:
    """Return the works with the lots a firing is filled from, which the plan made on the way."""
    own = {lot.code for lot in firing.lots}
    return replace(works, lots=(*firing.lots, *(lot for lot in works.lots if lot.code not in own)))


def sheet_title(firing: Firing) -> str:
    """Return what the loading sheet of a firing is called."""
    return f"Load {firing.code} {firing.load_start:%Y-%m-%d}"


def plan_rows(works: Works, plan: Plan) -> PlanRows:
    """Return the rows of the plan's sheets."""
    lines = {line.code: line for line in works.lines}
    goals = plan.goals
    late = sum(1 for outcome in plan.outcomes if outcome.late_days > 0)
    summary = (
        f"{len(plan.firings)} firings for {len(plan.outcomes)} order lines: {late} late, {goals.open_lines} not done"
    )
    return PlanRows(
        title=f"Plan of {plan.made:%Y-%m-%d}",
        works=plan.works,
        currency=works.settings.currency,
        made=plan.made,
        firings=tuple(_firing(works, firing) for firing in plan.firings),
        bars=tuple(bar for firing in plan.firings for bar in _bars(works, firing)),
        lines=tuple(_line(outcome, lines) for outcome in plan.outcomes),
        hand_work=tuple(
            HandRow(
                what=row.kind.value,
                pieces=row.pieces,
                product=row.product,
                order_line=row.order_line or "",
                start=row.start,
                end=row.end,
            )
            for row in plan.hand_work
        ),
        remarks=(summary, *plan.remarks),
        bounds=tuple(
            BoundRow(programme=row.programme, planned=row.planned_firings, least=row.least_firings, binds=row.binds)
            for row in plan.bounds
        ),
    )


def _firing(works: Works, firing: Firing) -> FiringRow:
    programme = works.programme(firing.programme)
    return FiringRow(
        firing=firing.code,
        kiln=works.kiln(firing.kiln).name,
        car=firing.car or "",
        programme=firing.programme,
        stage=programme.stage.value,
        load_start=firing.load_start,
        load_end=firing.load_end,
        fire_start=firing.fire_start,
        fire_end=firing.fire_end,
        cool_end=firing.cool_end,
        unload_start=firing.unload_start,
        unload_end=firing.unload_end,
        pieces=firing.load.pieces,
        ware_kg=firing.ware_kg,
        ware=_ware(firing),
        draw=firing.draw if firing.car else None,
        cleaned=_cleaned(firing),
        energy_kwh=firing.energy_kwh,
        sheet=file_name(sheet_title(firing)).lower(),
    )


def _ware(firing: Firing) -> str:
    """Pieces by product, most first."""
    counts: dict[str, int] = {}
    for part in firing.parts:
        counts[part.product] = counts.get(part.product, 0) + part.pieces
    ordered = sorted(counts.items(), key=lambda each: (-each[1], each[0]))
    named = [f"{pieces} × {product}" for product, pieces in ordered[:MOST_NAMED]]
    rest = sum(pieces for _, pieces in ordered[MOST_NAMED:])
    return ", ".join([*named, *([f"{rest} others"] if rest else [])])


def _cleaned(firing: Firing) -> datetime | None:
    return firing.furniture_back if firing.furniture_back > firing.cleaning_start else None


def _bars(works: Works, firing: Firing) -> list[Bar]:
    """A kiln with cars is busy with fire and cooling only; the car carries the load through all of it."""
    kiln = works.kiln(firing.kiln).name
    burning = [
        (Doing.FIRE, firing.fire_start, firing.fire_end),
        (Doing.COOL, firing.fire_end, firing.draw if firing.car else firing.cool_end),
    ]
    handled = [
        (Doing.LOAD, firing.load_start, firing.load_end),
        *burning,
        *([(Doing.COOL_OUTSIDE, firing.draw, firing.cool_outside_end)] if firing.car else []),
        (Doing.UNLOAD, firing.unload_start, firing.unload_end),
    ]
    lanes = [(kiln, burning), (f"{kiln}: {firing.car}", handled)] if firing.car else [(kiln, handled)]
    return [
        Bar(lane=lane, doing=doing, start=start, end=end, firing=firing.code)
        for lane, stretches in lanes
        for doing, start, end in stretches
        if hours_between(start, end) > 0.0
    ]


def _line(outcome: LineOutcome, lines: Mapping[str, OrderLine]) -> LineRow:
    line = lines[outcome.line]
    late = outcome.late_days > 0 or outcome.finish is None
    reason = ": ".join(part for part in (outcome.reason.value, outcome.detail) if part)
    if outcome.open_pieces and outcome.finish is None:
        reason = f"{outcome.open_pieces} of {line.quantity_pieces} open; {reason}"
    return LineRow(
        line=outcome.line,
        order=outcome.order,
        customer=line.customer,
        item=line.item,
        quantity_pieces=line.quantity_pieces,
        due=outcome.due,
        finish=outcome.finish,
        late_days=float(outcome.late_days),
        firings=outcome.firings,
        reason=reason if late else "",
        soonest=outcome.soonest,
        remedy=outcome.remedy if late else "",
    )
