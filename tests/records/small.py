"""A hand-made plan over the small works: a biscuit firing, then a glost firing of what it becomes."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from kilnpack.model.orders import Lot, LotKind
from kilnpack.model.pieces import Stage
from kilnpack.model.plans import Firing, LotPart, Plan, PlanGoals
from kilnpack.records.inspection import Inspected
from kilnpack.records.states import Grade
from tests.rules.small_audit import small_load, small_works

if TYPE_CHECKING:
    from kilnpack.model.loads import Load

MADE = datetime(2030, 1, 7, 6, tzinfo=UTC)
WARES = ("CUP", "MUG", "SAUCER", "BOWL", "PLATE")


def renamed(load: Load, lots: dict[str, str]) -> Load:
    """Return a load filled from other lots."""
    return replace(
        load,
        stacks=tuple(
            replace(
                stack,
                tiers=tuple(
                    replace(
                        tier, fills=tuple(replace(fill, lot=lots.get(fill.lot, fill.lot)) for fill in tier.fills)
                    )
                    for tier in stack.tiers
                ),
            )
            for stack in load.stacks
        ),
    )  # fmt: skip


def pieces_of(load: Load) -> dict[str, int]:
    """Return the pieces of each lot in a load."""
    found: dict[str, int] = {}
    for stack in load.stacks:
        for tier in stack.tiers:
            for fill in tier.fills:
                found[fill.lot] = found.get(fill.lot, 0) + fill.pieces
    return found


def firing(code: str, load: Load, lots: tuple[Lot, ...], becomes: dict[str, str], day: int) -> Firing:
    """Return a firing that begins so many days after the plan was made and takes a day."""
    start = MADE + timedelta(days=day)
    by_code = {lot.code: lot for lot in lots}
    parts = tuple(
        LotPart(
            lot=lot, product=by_code[lot].product, step=by_code[lot].step, pieces=pieces, good_pieces=pieces,
            second_pieces=0, scrap_pieces=0, order_line=None, kind=LotKind.NORMAL, was_ready_at=MADE,
            becomes=becomes[lot], ready_at=start + timedelta(days=1),
        )
        for lot, pieces in pieces_of(load).items()
    )  # fmt: skip
    hours = [start + timedelta(hours=2 * n) for n in range(11)]
    return Firing(
        code=code, kiln=load.kiln, car=None, programme=load.programme, load=load, lots=lots, parts=parts, ware_kg=4.0,
        furniture_kg=20.0, load_start=hours[0], load_end=hours[1], fire_start=hours[2], fire_end=hours[3],
        cool_end=hours[4], draw=hours[5], cool_outside_end=hours[6], unload_start=hours[7], unload_end=hours[8],
        cleaning_start=hours[9], furniture_back=hours[10],
    )  # fmt: skip


def small_plan() -> Plan:
    """Return a plan whose glost firing takes what its biscuit firing gives, and mugs of the shelf."""
    works = small_works()
    lots = {lot.code: lot for lot in works.lots}
    biscuit = small_load(Stage.BISCUIT)
    raw = tuple(lots[f"{ware}0"] for ware in WARES)
    later = {f"{ware}1": f"{ware}0@2" for ware in WARES if ware != "MUG"}
    glost = renamed(small_load(Stage.GLOST), later)
    white = tuple(
        replace(lots[code], code=later.get(code, code), ready_at=MADE + timedelta(days=2))
        for code in (f"{ware}1" for ware in WARES)
    )
    return Plan(
        works=works.name, made=MADE, policy="by hand", seed=0,
        firings=(
            firing("F1", biscuit, raw, {f"{ware}0": f"{ware}0@2" for ware in WARES}, 0),
            firing("F2", glost, white, {lot.code: f"{lot.code.partition('@')[0]}@done" for lot in white}, 3),
        ),
        hand_work=(), outcomes=(), goals=PlanGoals(open_lines=1, weighted_late_days=0.5, firings=2, mean_finish_h=0.0),
    )  # fmt: skip


def all_first(pieces: dict[str, int]) -> list[Inspected]:
    """Return an inspection in which everything came out well."""
    return [Inspected(lot=lot, grade=Grade.FIRST, pieces=count) for lot, count in pieces.items()]
