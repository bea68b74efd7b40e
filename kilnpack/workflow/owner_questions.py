"""What the owner asks beside what firing costs: fuller kilns, fewer waits, more posts; the model run each time."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass, replace
from math import fsum
from pathlib import Path
from typing import TYPE_CHECKING

from kilnpack.heat.calibration import UNCALIBRATED
from kilnpack.heat.changes import THINNER_SHARE, Change, changes, mean_firings
from kilnpack.heat.contents import deck_kg
from kilnpack.heat.fill_curve import FillCurve, fill_curve
from kilnpack.heat.prices import bill_factor
from kilnpack.heat.report import EnergyReport, Handling, energy_report
from kilnpack.model.orders import hours_later
from kilnpack.packing.pack_load import pack_load
from kilnpack.planning.cycle import cooling_h, cycle_of, fire_h, handling_person_h, has_cars
from kilnpack.records.address import records_url
from kilnpack.records.learning import losses
from kilnpack.records.store import open_records
from kilnpack.search.budget import Budget
from kilnpack.sheets.owner_values import FurnitureUse, PlaceLoss
from kilnpack.workflow.energy import lit_loads

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping
    from datetime import datetime

    from kilnpack.heat.calibration import Calibration
    from kilnpack.heat.changes import MeanFiring
    from kilnpack.heat.report import LitLoad
    from kilnpack.model.furniture import PostType
    from kilnpack.model.plans import Firing, Plan
    from kilnpack.model.works import Works
    from kilnpack.records.learning import PlaceLoss as RecordedLoss

MORE_POSTS_PIECES = 20
BINDING_SHARE = 0.9
"""A height of posts is asked for where a load of the plan uses this much of its stock."""
MOST_HEIGHTS = 3
POST_SEEDS = (1, 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class WhatIf:
    """What the owner asks to be changed.

    `posts_effort` is the effort of each packing that asks what more posts would bring; 0 does not ask.
    """

    thinner_share: float = THINNER_SHARE
    more_posts_pieces: int = MORE_POSTS_PIECES
    posts_effort: int = 0


AS_USUAL = WhatIf()
"""What is asked where the owner asks nothing else."""


def plan_handling(works: Works, plan: Plan) -> tuple[Handling, ...]:
    """Return what hands, cleaning and wear of shelves cost in every firing of a plan."""
    return tuple(_handling(works, firing) for firing in plan.firings)


def _handling(works: Works, firing: Firing) -> Handling:
    settings, programme = works.settings, works.programme(firing.programme)
    shelves = sum(len(stack.tiers) for stack in firing.load.stacks)
    cycle = cycle_of(
        settings,
        works.kiln(firing.kiln),
        programme,
        pieces=firing.load.pieces,
        shelves=shelves,
        contents_kg=firing.ware_kg + firing.furniture_kg,
    )
    all_h = cycle.load_person_h + cycle.unload_person_h + cycle.cleaning_person_h
    pieces_h = handling_person_h(settings, programme.stage, firing.load.pieces, 0) * (1.0 + settings.unloading_share)
    return Handling(
        by_pieces_money=pieces_h * settings.labour_money_per_h,
        by_energy_money=(all_h - pieces_h) * settings.labour_money_per_h
        + shelves * settings.furniture_wear_money_per_shelf,
    )


def posts_words(works: Works, plan: Plan) -> tuple[str, ...]:
    """Return in words which kilns use up no height of posts, so that more posts would bring them nothing."""
    idle = [
        kiln.code
        for kiln in works.kilns
        if any(firing.kiln == kiln.code for firing in plan.firings)
        and not any(_binding(works, firing) for firing in plan.firings if firing.kiln == kiln.code)
    ]
    if not idle:
        return ()
    return (f"More posts bring nothing to {', '.join(idle)}: no load of the plan uses up a height of posts",)


def what_to_change(
    works: Works,
    plan: Plan,
    report: EnergyReport,
    calibrations: Mapping[str, Calibration],
    what_if: WhatIf = AS_USUAL,
) -> tuple[Change, ...]:
    """Return what would save something over a plan's firings, the greatest saving first."""
    lit = lit_loads(plan)
    lots = {lot.code: lot for lot in works.lots} | {lot.code: lot for one in plan.firings for lot in one.lots}
    prompt = energy_report(works, _prompt(works, lit), lots=tuple(lots.values()), calibrations=calibrations)
    firings = mean_firings(works, lit, report, prompt)
    found = list(changes(works, firings, calibrations, thinner_share=what_if.thinner_share))
    if what_if.posts_effort and firings:
        found += _more_posts(works, plan, firings, what_if, report)
    return tuple(sorted(found, key=lambda change: -change.money))


def _prompt(works: Works, lit: list[LitLoad]) -> list[LitLoad]:
    """Return the firings of car kilns lit as soon as the car before is drawn, never later than planned."""
    free: dict[str, datetime] = {}
    found = list(lit)
    for number in sorted(range(len(lit)), key=lambda k: lit[k].lit_at):
        load = lit[number].load
        kiln, programme = works.kiln(load.kiln), works.programme(load.programme)
        if not has_cars(kiln):
            continue
        at = min(lit[number].lit_at, free.get(kiln.code, lit[number].lit_at))
        found[number] = replace(lit[number], lit_at=at)
        busy_h = fire_h(programme) + cooling_h(kiln, programme, programme.recorded_kg)[0]
        free[kiln.code] = hours_later(at, busy_h)
    return found


def _more_posts(
    works: Works, plan: Plan, firings: tuple[MeanFiring, ...], what_if: WhatIf, report: EnergyReport
) -> Iterator[Change]:
    """Pack the fullest firing of the dearest kiln that uses a height of posts up again, with more of that height."""
    dearest = max(firings, key=lambda one: one.money)
    own = [one for one in plan.firings if (one.kiln, one.programme) == (dearest.kiln.code, dearest.programme.code)]
    bound = [one for one in own if _binding(works, one)]
    if not bound:
        return
    firing = max(bound, key=lambda one: one.load.pieces)
    plain = [_value(works, firing, what_if.posts_effort, seed) for seed in POST_SEEDS]
    binding = _binding(works, firing)
    for post in binding:
        more = replace(
            works,
            furniture=replace(
                works.furniture,
                posts=tuple(
                    replace(one, count_pieces=one.count_pieces + what_if.more_posts_pieces)
                    if one.code == post.code
                    else one
                    for one in works.furniture.posts
                ),
            ),
        )
        gains = [
            _value(more, firing, what_if.posts_effort, seed) / before - 1.0
            for seed, before in zip(POST_SEEDS, plain, strict=True)
            if before > 0.0
        ]
        if gains and fsum(gains) > 0.0:
            what = f"{what_if.more_posts_pieces} more posts of {post.nominal_mm:.0f}"
            yield _posts_change(dearest, what, gains, report.range_share, bound=len(bound))


def _posts_change(dearest: MeanFiring, what: str, gains: list[float], share: float, *, bound: int) -> Change:
    """More ware in a firing means fewer firings: with gain g the same ware takes 1 / (1 + g) of those that it binds."""
    saved = [gain / (1.0 + gain) * bound / dearest.count for gain in gains]
    middle = fsum(saved) / len(saved)
    billed_kwh = dearest.kwh * bill_factor(dearest.kiln.energy)
    low, high = min(0.0, *saved) * (1.0 + share), max(saved) * (1.0 + share)
    low = min(saved) * (1.0 - share) if min(saved) > 0.0 else low
    return Change(
        name=f"{what}: {dearest.kiln.code} {dearest.programme.code}",
        how=f"the fullest of {bound} firings that use a height up packed again: {fsum(gains) / len(gains):+.1%} value, "
        "so many fewer of them",
        kwh=middle * billed_kwh,
        low_kwh=low * billed_kwh,
        high_kwh=high * billed_kwh,
        money=middle * dearest.money,
        low_money=low * dearest.money,
        high_money=high * dearest.money,
    )


def _value(works: Works, firing: Firing, effort: int, seed: int) -> float:
    kiln, programme = works.kiln(firing.kiln), works.programme(firing.programme)
    return pack_load(works, kiln, programme, firing.lots, budget=Budget(effort=effort), seed=seed).value_share


def _binding(works: Works, firing: Firing) -> list[PostType]:
    """Return the heights of posts that a firing nearly uses up, the most used first."""
    shelves = {shelf.code: shelf for shelf in works.furniture.shelves}
    used: Counter[str] = Counter()
    for stack in firing.load.stacks:
        for tier in stack.tiers:
            for code in tier.posts:
                used[code] += len(shelves[tier.shelf].posts_mm)
    found = [
        (used[post.code] / post.count_pieces, post)
        for post in works.furniture.posts
        if post.count_pieces and used[post.code] >= BINDING_SHARE * post.count_pieces
    ]
    return [post for _, post in sorted(found, key=lambda row: -row[0])[:MOST_HEIGHTS]]


def fill_curves(works: Works, report: EnergyReport, calibrations: Mapping[str, Calibration]) -> tuple[FillCurve, ...]:
    """Return cost against fill of every kiln and programme fired; furniture as the firings had it, for usual ware."""
    groups: dict[tuple[str, str], list[int]] = defaultdict(list)
    for number, fired in enumerate(report.firings):
        if fsum(fired.masses.ware_kg.values()) > 0.0:
            groups[fired.balance.kiln, fired.balance.programme].append(number)
    found = []
    for (code, programme), numbers in sorted(groups.items()):
        kiln = works.kiln(code)
        deck = deck_kg(kiln)
        ware_kg = fsum(fsum(report.firings[k].masses.ware_kg.values()) for k in numbers)
        furniture: dict[str, float] = defaultdict(float)
        for k in numbers:
            for material, kg in report.firings[k].masses.furniture_kg.items():
                furniture[material] += (kg - deck.get(material, 0.0)) * kiln.usual_ware_kg / ware_kg
        found.append(
            fill_curve(
                works.settings,
                kiln,
                works.programme(programme),
                {material: max(0.0, kg) for material, kg in furniture.items()},
                deck,
                calibration=calibrations.get(code, UNCALIBRATED),
            )
        )
    return tuple(found)


def recorded_losses(folder: Path, address: str | None = None) -> tuple[PlaceLoss, ...]:
    """Return what the records say was lost by place; nothing where the folder keeps none and no address is given.

    Parameters
    ----------
    address
        Of the records; None is the file inside the folder.

    Raises
    ------
    RecordsUnusable
        The records cannot be read.
    """
    url = records_url(folder, address)
    if address is None and not Path(str(url.database)).exists():
        return ()
    records = open_records(url)
    try:
        with records.reading() as session:
            rows = losses(session)
    finally:
        records.close()
    return losses_by_place(rows)


def losses_by_place(rows: Iterable[RecordedLoss]) -> tuple[PlaceLoss, ...]:
    """Return what was lost by place over all stages; what has no place is left out."""
    summed: dict[tuple[str, str, int], list[int]] = defaultdict(lambda: [0, 0])
    for row in rows:
        if row.stack is not None and row.tier is not None:
            at = summed[row.kiln, row.stack, row.tier]
            at[0] += row.fired_pieces
            at[1] += row.second_pieces + row.refire_pieces + row.scrap_pieces
    return tuple(
        PlaceLoss(kiln=kiln, stack=stack, tier=tier, fired_pieces=fired, lost_pieces=lost)
        for (kiln, stack, tier), (fired, lost) in sorted(summed.items())
    )


def furniture_use(works: Works, plan: Plan) -> tuple[FurnitureUse, ...]:
    """Return every type of shelf with its stock, the firings it has seen, and the tiers that a plan sets on it."""
    tiers = Counter(tier.shelf for firing in plan.firings for stack in firing.load.stacks for tier in stack.tiers)
    return tuple(
        FurnitureUse(
            shelf=shelf.code,
            name=shelf.name,
            stock_pieces=shelf.sound_pieces,
            seen_firings=shelf.mean_firings,
            tiers=tiers[shelf.code],
        )
        for shelf in works.furniture.shelves
        if tiers[shelf.code] or shelf.mean_firings
    )
