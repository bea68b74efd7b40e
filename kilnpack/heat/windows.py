"""Where ware of a load comes near the ends of its heat window or past them, in cones as well; what holds are worth."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from kilnpack.heat.cones import cone_at
from kilnpack.rules.heat import offset_range_k, window_degc, window_met
from kilnpack.shapes.outlines import point_in_kiln

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from kilnpack.model.kilns import Kiln
    from kilnpack.model.loads import Load, StackLoad, Tier
    from kilnpack.model.orders import Lot
    from kilnpack.model.programmes import Programme
    from kilnpack.model.works import Works
    from kilnpack.rules.heat import Window

NEAR_K = 3.0
"""A place this near to the end of a window is said: cones and instruments know it no better (own proposal)."""
LEAST_HOLD_H = 0.05
MOST_NAMED = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowMiss:
    """Ware of one product on a tier whose place may become colder or hotter than the ware stands.

    `missed` is True where it may, False where it only comes near. `cone` is what the curve does at that end.
    """

    stack: str
    tier: int
    product: str
    low_degc: float
    high_degc: float
    window: Window
    missed: bool
    cone: str

    @property
    def said(self) -> str:
        """The miss in words of the sheet."""
        low, high = self.window
        ends = " to ".join(f"{end:.0f}" for end in (low, high) if end is not None)
        only = "from " if high is None else "up to " if low is None else ""
        verb = "misses" if self.missed else f"comes within {NEAR_K:.0f} K of the end of"
        return (
            f"{self.stack}{self.tier} {self.product}: {self.low_degc:.0f} to {self.high_degc:.0f} °C {verb} its window "
            f"({only}{ends} °C); {self.cone}"
        )


def window_misses(works: Works, load: Load, lots: tuple[Lot, ...] | None = None) -> tuple[WindowMiss, ...]:
    """Return the ware of a load that misses its window or comes near its ends, by stack and tier.

    Parameters
    ----------
    works, load
        Codes of the load are looked up in the works.
    lots
        Lots the load's fills name; None are those of the works.
    """
    known = {lot.code: lot for lot in (works.lots if lots is None else lots)}
    return tuple(
        miss for stack in load.stacks for tier in stack.tiers for miss in _of_tier(works, load, stack, tier, known)
    )


def _of_tier(works: Works, load: Load, stack: StackLoad, tier: Tier, lots: Mapping[str, Lot]) -> Iterator[WindowMiss]:
    programme = works.programme(load.programme)
    for (product, step), (low_k, high_k) in sorted(_offsets(works, load, stack, tier, lots).items()):
        low, high = programme.peak_degc + low_k, programme.peak_degc + high_k
        window = window_degc(works, works.product(product), works.product(product).route[step])
        if window_met(window, low - NEAR_K, high + NEAR_K):
            continue
        cold_end = window[0] is not None and low - NEAR_K < window[0]
        yield WindowMiss(
            stack=stack.place,
            tier=tier.number,
            product=product,
            low_degc=low,
            high_degc=high,
            window=window,
            missed=not window_met(window, low, high),
            cone=cone_at(programme, low_k if cold_end else high_k).text,
        )


def _offsets(
    works: Works, load: Load, stack: StackLoad, tier: Tier, lots: Mapping[str, Lot]
) -> dict[tuple[str, int], tuple[float, float]]:
    """Return the coldest and hottest offset of the ware on a tier by product and step, at foot and half the room."""
    kiln = works.kiln(load.kiln)
    place = next(one for one in kiln.places if one.code == stack.place)
    shelf = next(one for one in works.furniture.shelves if one.code == tier.shelf)
    standings = {one.place: one for one in load.setting(tier.setting).standings}
    foot_mm = tier.base_mm + shelf.thickness_mm
    found: dict[tuple[str, int], tuple[float, float]] = {}
    for fill in tier.fills:
        if not fill.pieces:
            continue
        lot = lots[fill.lot]
        x, y = point_in_kiln(standings[fill.place].x_mm, standings[fill.place].y_mm, place)
        ends = [
            offset_range_k(works.settings, kiln, load.stage, (x, y, foot_mm + up)) for up in (0.0, tier.room_mm / 2.0)
        ]
        before = found.get((lot.product, lot.step))
        ends += [before] if before else []
        found[lot.product, lot.step] = min(low for low, _ in ends), max(high for _, high in ends)
    return found


def window_words(misses: tuple[WindowMiss, ...]) -> tuple[str, ...]:
    """Return the misses in words, those past the end first, cut after some."""
    ordered = sorted(misses, key=lambda miss: (not miss.missed, miss.stack, miss.tier, miss.product))
    words = [f"Heat window: {miss.said}" for miss in ordered[:MOST_NAMED]]
    more = len(ordered) - MOST_NAMED
    return (*words, *([f"Heat window: and {more} more"] if more > 0 else []))


def hold_credit_k(programme: Programme) -> float | None:
    """Return what the holds of a curve are worth in kelvin of its peak, by the same work at 60 K/h; None without holds.

    It is the end temperature of the same work with the holds less that without them, in the middle of both spreads.
    """
    if all(segment.hold_h < LEAST_HOLD_H for segment in programme.segments):
        return None
    bare = replace(programme, segments=tuple(replace(one, hold_h=0.0) for one in programme.segments))
    held, short = cone_at(programme), cone_at(bare)
    return (held.low_degc + held.high_degc - short.low_degc - short.high_degc) / 2.0


def hold_words(kiln: Kiln, programme: Programme) -> str:
    """Return in words what the holds are worth; holds are checked weakly, so to 5 K."""
    credit = hold_credit_k(programme)
    if credit is None:
        return f"{programme.code} in {kiln.code} holds nowhere: heat work is that of its ramps"
    return f"The holds are worth about {5 * round(credit / 5.0)} K more of peak (fitted cones, weakly checked)"
