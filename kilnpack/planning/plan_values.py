"""A packed run as a plan: hours become moments of the works' zone, firings get their codes."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from kilnpack.model.plans import Firing, FiringState, HandWork, HandWorkKind, LotPart, Plan
from kilnpack.planning.matching import firing_codes
from kilnpack.planning.outcomes import goals_of, outcomes_of
from kilnpack.planning.stores import store_remarks

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kilnpack.planning.firings import Fired
    from kilnpack.planning.run import Run
    from kilnpack.planning.shop import Shop


def plan_of(found: Run, *, seed: int, refused: Sequence[str] = ()) -> Plan:
    """Turn a packed run into a plan."""
    shop, codes = found.shop, firing_codes(found)
    outcomes = outcomes_of(found, codes)
    order = sorted(codes, key=lambda number: (shop.fired[number].fire_start_h, number))
    stopped = ("planning was stopped early; the plan holds what was laid out by then",) if found.stopped else ()
    return Plan(
        works=shop.works.name,
        made=shop.clock.moment(0.0),
        policy=found.policy.name,
        seed=seed,
        firings=tuple(_firing(shop, shop.fired[number], codes[number]) for number in order),
        hand_work=_hand_work(shop),
        outcomes=outcomes,
        goals=goals_of(found, outcomes),
        remarks=stopped + tuple(dict.fromkeys(refused)) + _remarks(shop, codes) + store_remarks(shop, codes),
        downs=shop.given.downs,
        urgent=shop.given.urgent,
    )


def _remarks(shop: Shop, codes: dict[int, str]) -> tuple[str, ...]:
    """Remark on firings under the least ware mass of their kiln."""
    return tuple(
        f"{codes[n]}: {fired.packed.ware_kg:.1f} kg of ware is under the least of {fired.kiln.least_ware_kg:g} kg"
        for n, fired in enumerate(shop.fired)
        if fired.packed.ware_kg < fired.kiln.least_ware_kg
    )


def _firing(shop: Shop, fired: Fired, code: str) -> Firing:
    at = shop.clock.moment
    load = fired.packed.load
    assert load is not None
    return Firing(
        code=code,
        kiln=fired.kiln.code,
        car=fired.car,
        programme=fired.programme.code,
        load=replace(load, car=fired.car),
        lots=fired.lots,
        parts=tuple(
            LotPart(
                lot=part.ware.code,
                product=part.ware.product,
                step=part.ware.step,
                pieces=part.ware.pieces,
                good_pieces=part.good_pieces,
                second_pieces=part.second_pieces,
                scrap_pieces=part.ware.pieces - part.good_pieces - part.second_pieces,
                order_line=part.ware.line,
                kind=part.ware.kind,
                was_ready_at=at(part.ware.ready_h),
                becomes=part.becomes,
                ready_at=at(part.ready_h),
            )
            for part in fired.moved
        ),
        ware_kg=fired.packed.ware_kg,
        furniture_kg=fired.packed.furniture_kg,
        load_start=at(fired.load_start_h),
        load_end=at(fired.load_end_h),
        fire_start=at(fired.fire_start_h),
        fire_end=at(fired.fire_end_h),
        cool_end=at(fired.cool_end_h),
        draw=at(fired.draw_h),
        cool_outside_end=at(fired.cool_outside_end_h),
        unload_start=at(fired.unload_start_h),
        unload_end=at(fired.unload_end_h),
        cleaning_start=at(fired.cleaning_start_h),
        furniture_back=at(fired.furniture_back_h),
        state=fired.kept.state if fired.kept is not None else FiringState.PLANNED,
    )


def _hand_work(shop: Shop) -> tuple[HandWork, ...]:
    """Return casting and glazing in order of their start."""
    at = shop.clock.moment
    rows = [(HandWorkKind.CAST, cast.ware, cast.start_h, cast.end_h) for cast in shop.backlog.casts]
    rows += [(HandWorkKind.GLAZE, done.ware, done.start_h, done.end_h) for done in shop.glazed]
    rows.sort(key=lambda row: (row[2], row[0].value, row[1].code))
    return tuple(
        HandWork(
            kind=kind,
            lot=ware.code,
            product=ware.product,
            pieces=ware.pieces,
            start=at(start_h),
            end=at(end_h),
            order_line=ware.line,
        )
        for kind, ware, start_h, end_h in rows
    )
