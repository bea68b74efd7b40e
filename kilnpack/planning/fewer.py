"""A firing of an earlier plan with fewer pieces: what is gone is taken out, all else stands where it stood."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from kilnpack.planning.furniture_stock import furniture_of
from kilnpack.planning.packs import furniture_kg, taken_of, ware_kg

if TYPE_CHECKING:
    from kilnpack.model.loads import Load, Setting, StackLoad, Tier
    from kilnpack.model.plans import Firing, LotPart
    from kilnpack.model.works import Works


def with_fewer(works: Works, firing: Firing, lot: str, pieces: int) -> Firing | None:
    """Return a firing without at least so many pieces of a lot; None where nothing would be left.

    Bodies are taken out whole, so a stack of bowls goes with all its pieces.
    """
    load = load_with_fewer(firing.load, lot, pieces)
    left = taken_of(load)
    parts = tuple(_fewer(part, left[part.lot]) for part in firing.parts if left.get(part.lot, 0) > 0)
    if not parts:
        return None
    programme = works.programme(firing.programme)
    return replace(
        firing,
        load=load,
        parts=parts,
        ware_kg=ware_kg(works, programme, firing.lots, left),
        furniture_kg=furniture_kg(works, furniture_of(works, load)),
    )


def _fewer(part: LotPart, pieces: int) -> LotPart:
    """Return a part of fewer pieces; the loss expected of them falls first."""
    gone = part.pieces - pieces
    scrap = max(0, part.scrap_pieces - gone)
    second = max(0, part.second_pieces - max(0, gone - part.scrap_pieces))
    return replace(part, pieces=pieces, scrap_pieces=scrap, second_pieces=second, good_pieces=pieces - scrap - second)


def load_with_fewer(load: Load, lot: str, pieces: int) -> Load:
    """Return a load without the bodies that hold so many pieces of a lot, from the last tiers on."""
    settings = {row.code: row for row in load.settings}
    left, stacks = pieces, list(load.stacks)
    for at in range(len(stacks) - 1, -1, -1):
        tiers = list(stacks[at].tiers)
        for number in range(len(tiers) - 1, -1, -1):
            if left <= 0:
                break
            before = sum(fill.pieces for fill in tiers[number].fills if fill.lot == lot)
            tiers[number], setting = _emptied(tiers[number], settings[tiers[number].setting], lot, left, len(settings))
            settings[setting.code] = setting
            left -= before - sum(fill.pieces for fill in tiers[number].fills if fill.lot == lot)
        stacks[at] = _without_bare_top(replace(stacks[at], tiers=tuple(tiers)))
    used = {tier.setting for stack in stacks for tier in stack.tiers}
    kept = tuple(row for row in settings.values() if row.code in used)
    forms = {one.form for row in kept for one in row.standings}
    return replace(
        load,
        stacks=tuple(stacks),
        settings=kept,
        forms=tuple(form for form in load.forms if form.code in forms),
    )


def _emptied(tier: Tier, setting: Setting, lot: str, pieces: int, number: int) -> tuple[Tier, Setting]:
    """Return a tier without bodies that hold so many pieces of a lot, and its setting, places numbered anew."""
    left, out = pieces, set()
    for fill in reversed(tier.fills):
        if fill.lot == lot and left > 0 and fill.place not in out:
            out.add(fill.place)
            left -= sum(row.pieces for row in tier.fills if row.place == fill.place and row.lot == lot)
    if not out:
        return tier, setting
    standings = [row for row in setting.standings if row.place not in out]
    places = {row.place: rank + 1 for rank, row in enumerate(standings)}
    fresh = replace(
        setting,
        code=f"{setting.code}-{number}",
        standings=tuple(replace(row, place=places[row.place]) for row in standings),
    )
    fills = tuple(replace(fill, place=places[fill.place]) for fill in tier.fills if fill.place in places)
    return replace(tier, setting=fresh.code, fills=fills), fresh


def _without_bare_top(stack: StackLoad) -> StackLoad:
    """Return a stack without top tiers that hold nothing."""
    tiers = list(stack.tiers)
    while tiers and not tiers[-1].fills:
        tiers.pop()
    return replace(stack, tiers=tuple(tiers))
