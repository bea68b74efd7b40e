"""What the owner's page shows: figures of the plan that counts, of what was really fired, and what is learnt.

All of it takes some seconds, so it is reckoned in a process of its own and kept until the plan changes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from math import fsum
from typing import TYPE_CHECKING

from kilnpack.errors import Finding, InputFaulty
from kilnpack.heat.prices import bill_factor
from kilnpack.heat.report import LitLoad, energy_report
from kilnpack.heat.works_readings import net_kwh
from kilnpack.model.orders import in_zone
from kilnpack.records.firings import firing_rows, load_fired, lots_of, plan_of
from kilnpack.records.learning import losses
from kilnpack.records.measured import metered_of
from kilnpack.records.standing_plan import plan_heads
from kilnpack.records.states import RecordedState
from kilnpack.records.works_values import get_works
from kilnpack.search.listener import Progress
from kilnpack.sheets.charts import inline
from kilnpack.sheets.energy_rows import firing_costs
from kilnpack.sheets.owner import Picture, owner_prints
from kilnpack.sheets.owner_charts import fill_chart
from kilnpack.workflow.calibrating import calibrated_kilns
from kilnpack.workflow.energy import calibrations_in
from kilnpack.workflow.owner import costs_of
from kilnpack.workflow.owner_questions import AS_USUAL, losses_by_place

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from sqlalchemy.orm import Session

    from kilnpack.heat.calibration import Calibration
    from kilnpack.model.measured import MeterReading
    from kilnpack.model.orders import Lot
    from kilnpack.model.plans import Plan
    from kilnpack.model.works import Works
    from kilnpack.records.standing_plan import PlanHead
    from kilnpack.search.listener import Listener
    from kilnpack.sheets.owner import OwnerPrints
    from kilnpack.sheets.owner_values import FiringCost, OwnerRows, PlaceLoss
    from kilnpack.workflow.aside import Work
    from kilnpack.workflow.calibrating import CalibratedKiln
    from kilnpack.workflow.owner_questions import WhatIf

MOST_FIRED = 120
"""Firings of the records in the trend: the latest of them."""
LIT = (RecordedState.FIRING, RecordedState.COOLING, RecordedState.UNLOADED, RecordedState.INSPECTED)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fired:
    """A firing of the records that was lit, with its load as loaded and what the meter said."""

    code: str
    lit: LitLoad
    lots: tuple[Lot, ...]
    metered: MeterReading | None


@dataclass(frozen=True, slots=True, kw_only=True)
class FiredCost:
    """What a firing of the records took; `metered` where its energy was read and not reckoned."""

    cost: FiringCost
    metered: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnersFigures:
    """All that takes long of the owner's page. `words` say what the energy is calibrated on."""

    rows: OwnerRows
    prints: OwnerPrints
    fired: tuple[FiredCost, ...]
    fired_picture: Picture | None
    kilns: tuple[CalibratedKiln, ...]
    words: tuple[str, ...]


def figures_work(session: Session, folder: Path, what_if: WhatIf = AS_USUAL) -> tuple[Work, PlanHead]:
    """Return the work of reckoning the owner's figures of the plan that counts, to be done aside.

    Raises
    ------
    InputFaulty
        No works was taken in, or no plan was kept.
    """
    works = get_works(session)
    heads = plan_heads(session, most=1)
    if not heads:
        raise InputFaulty([Finding(file="pages", row=None, field="plan", found="none", wanted="a plan that was kept")])
    plan = replace(plan_of(session, heads[0].code), works=works.name)
    calibrations, words = calibrations_in(folder, works)
    work = partial(
        figures,
        works,
        plan,
        fired_of(session),
        calibrations,
        losses=losses_by_place(losses(session)),
        words=words,
        what_if=what_if,
    )
    return work, heads[0]


def fired_of(session: Session) -> tuple[Fired, ...]:
    """Return the firings that were lit, the latest `MOST_FIRED` in the order they were lit."""
    metered = metered_of(session)
    rows = [row for row in firing_rows(session, states=LIT) if row.lit_at is not None]
    rows.sort(key=lambda row: (str(row.lit_at), row.id))
    return tuple(
        Fired(
            code=row.code,
            lit=LitLoad(load=load_fired(row), lit_at=row.lit_at),
            lots=tuple(lots_of(row).values()),
            metered=metered.get(row.code),
        )
        for row in rows[-MOST_FIRED:]
        if row.lit_at is not None
    )


def figures(
    works: Works,
    plan: Plan,
    fired: Sequence[Fired],
    calibrations: Mapping[str, Calibration],
    *,
    losses: Sequence[PlaceLoss],
    words: Sequence[str],
    what_if: WhatIf,
    listener: Listener,
) -> OwnersFigures:
    """Reckon the owner's figures."""
    _, rows = costs_of(works, plan, calibrations, losses=losses, what_if=what_if, listener=listener)
    listener.heard(Progress(step="charts and the report", value=0.0, share=0.7, elapsed_s=0.0))
    prints = owner_prints(rows)
    listener.heard(Progress(step="what was fired, and what is learnt", value=0.0, share=0.9, elapsed_s=0.0))
    costs = fired_costs(works, fired, calibrations)
    return OwnersFigures(
        rows=rows,
        prints=prints,
        fired=costs,
        fired_picture=_fired_picture(costs, rows.range_share),
        kilns=calibrated_kilns(works),
        words=tuple(words),
    )


def fired_costs(works: Works, fired: Sequence[Fired], calibrations: Mapping[str, Calibration]) -> tuple[FiredCost, ...]:
    """Return what the firings of the records took: as metered, else as the model reckons it."""
    if not fired:
        return ()
    zoned = [replace(one.lit, lit_at=in_zone(one.lit.lit_at, works.calendar.time_zone)) for one in fired]
    lots = {lot.code: lot for lot in works.lots} | {lot.code: lot for one in fired for lot in one.lots}
    report = energy_report(works, zoned, lots=tuple(lots.values()), calibrations=calibrations)
    costs = firing_costs(works, report, [one.code for one in fired])
    return tuple(_as_metered(works, one, cost) for one, cost in zip(fired, costs, strict=True))


def _as_metered(works: Works, fired: Fired, cost: FiringCost) -> FiredCost:
    """Put the energy that was read in the place of the reckoned one, money and carbon in proportion."""
    if fired.metered is None:
        return FiredCost(cost=cost, metered=False)
    kiln = works.kiln(cost.kiln)
    read_kwh = net_kwh(kiln, fired.metered) * bill_factor(kiln.energy)
    factor = read_kwh / cost.energy_kwh if cost.energy_kwh > 0.0 else 0.0
    read = replace(cost, energy_kwh=read_kwh, money=cost.money * factor, co2_kg=cost.co2_kg * factor)
    return FiredCost(cost=read, metered=True)


def _fired_picture(fired: Sequence[FiredCost], range_share: float) -> Picture | None:
    if not fired:
        return None
    costs = [one.cost for one in fired]
    chart = fill_chart(
        costs,
        [0.0 if one.metered else range_share for one in fired],
        title="What was really fired",
        order="firing, in the order they were lit",
    )
    return Picture(name="fired", svg=inline(chart, "fired-"), alt=trend_words(costs))


def trend_words(costs: Sequence[FiringCost]) -> str:
    """Return in words how fill and energy of the later half of firings compare with those of the earlier half."""
    told = [one for one in costs if one.ware_kg > 0.0]
    half = len(told) // 2
    if half < 2:
        return f"Fill and energy of {len(told)} firings: too few to tell a trend"
    early, late = told[:half], told[-half:]
    fill = [fsum(one.fill_share for one in part) / half for part in (early, late)]
    per_kg = [fsum(one.energy_kwh for one in part) / fsum(one.ware_kg for one in part) for part in (early, late)]
    return (
        f"The first {half} firings were {fill[0]:.0%} full and took {per_kg[0]:.1f} kWh a kg of ware, "
        f"the last {half} {fill[1]:.0%} and {per_kg[1]:.1f}"
    )
