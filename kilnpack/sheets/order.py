"""The order in which a kiln is filled, and which tiers a loader finds on one page."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from kilnpack.model.kilns import ChamberKind
from kilnpack.shapes.outlines import in_kiln, region_polygon

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kilnpack.model.kilns import Kiln, StackPlace
    from kilnpack.model.loads import Load, PlaceFill, Setting, StackLoad, Tier
    from kilnpack.model.works import Works

SAME_DEPTH_MM = 60.0
"""Stacks whose middles lie this close in depth are filled as neighbours, left to right."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TierPlace:
    """A tier with its stack: `turn` is its number in the order of loading, from 1."""

    turn: int
    name: str
    place: StackPlace
    stack: StackLoad
    tier: Tier
    above: Tier | None
    middle_mm: tuple[float, float]
    """Middle of the shelf in the kiln frame."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """All tiers that look alike to the loader: same setting, same way the shelf is turned."""

    name: str
    setting: Setting
    turn_deg: float
    tiers: tuple[TierPlace, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AlikeTiers:
    """Tiers of one page that are filled from the same lots."""

    tiers: tuple[TierPlace, ...]
    fills: tuple[PlaceFill, ...]


def tier_name(stack: str, number: int) -> str:
    """Return how a tier is called on every sheet: A2 for stack A, or back-2 where the stack has a longer name."""
    return f"{stack}{number}" if len(stack) == 1 and stack.isalpha() else f"{stack}-{number}"


def tiers_in_order(works: Works, load: Load) -> tuple[TierPlace, ...]:
    """Return the tiers in order of loading: bottom to top, back to front.

    A kiln loaded from above is filled level by level; the others stack by stack, the back ones first, because what
    stands behind is not reached over what stands in front.
    """
    kiln = works.kiln(load.kiln)
    rows = [row for stack in load.stacks for row in _tiers_of(works, kiln, stack)]
    rank = {row.place.code: k for k, row in enumerate(_stacks_in_order(rows))}
    by_level = kiln.kind is ChamberKind.TOP

    def turn(row: TierPlace) -> tuple[float, float]:
        stack = float(rank[row.place.code])
        return (row.tier.base_mm, stack) if by_level else (stack, row.tier.base_mm)

    return tuple(replace(row, turn=k) for k, row in enumerate(sorted(rows, key=turn), start=1))


def _tiers_of(works: Works, kiln: Kiln, stack: StackLoad) -> list[TierPlace]:
    place = {row.code: row for row in kiln.places}[stack.place]
    shelves = {shelf.code: shelf for shelf in works.furniture.shelves}
    above = (*stack.tiers[1:], None)
    rows = []
    for tier, next_tier in zip(stack.tiers, above, strict=True):
        middle = in_kiln(region_polygon(shelves[tier.shelf].outline), place).centroid
        rows.append(
            TierPlace(
                turn=0,
                name=tier_name(stack.place, tier.number),
                place=place,
                stack=stack,
                tier=tier,
                above=next_tier,
                middle_mm=(middle.x, middle.y),
            )
        )
    return rows


def _stacks_in_order(rows: Sequence[TierPlace]) -> list[TierPlace]:
    """One row per stack: back to front, neighbours left to right."""
    stacks = sorted({row.place.code: row for row in rows}.values(), key=lambda row: -row.middle_mm[1])
    bands: list[list[TierPlace]] = []
    for row in stacks:
        if bands and bands[-1][0].middle_mm[1] - row.middle_mm[1] <= SAME_DEPTH_MM:
            bands[-1].append(row)
        else:
            bands.append([row])
    return [row for band in bands for row in sorted(band, key=lambda each: each.middle_mm[0])]


def pages_of(load: Load, tiers: Sequence[TierPlace]) -> tuple[Page, ...]:
    """Return one page per different look, numbered in the order the loader first needs them."""
    alike: dict[tuple[str, float], list[TierPlace]] = {}
    for row in tiers:
        alike.setdefault((row.tier.setting, row.place.turn_deg % 360.0), []).append(row)
    return tuple(
        Page(name=str(k), setting=load.setting(code), turn_deg=turn_deg, tiers=tuple(rows))
        for k, ((code, turn_deg), rows) in enumerate(alike.items(), start=1)
    )


def alike_tiers(page: Page) -> tuple[AlikeTiers, ...]:
    """Group the tiers of a page by what fills their places."""
    groups: dict[tuple[PlaceFill, ...], list[TierPlace]] = {}
    for row in page.tiers:
        fills = tuple(sorted(row.tier.fills, key=lambda fill: (fill.place, fill.lot)))
        groups.setdefault(fills, []).append(row)
    return tuple(AlikeTiers(tiers=tuple(rows), fills=fills) for fills, rows in groups.items())
