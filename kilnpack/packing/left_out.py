"""Why a ready piece is not in the load, and the smallest change that would let it in."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kilnpack.model.loads import LeftOut
from kilnpack.packing.changes import Changes

if TYPE_CHECKING:
    from collections import Counter

    from kilnpack.packing.firing_rules import FiringRules
    from kilnpack.packing.problem import Ware
    from kilnpack.packing.state import LoadState
    from kilnpack.packing.works_problem import WorksProblem

Reason = tuple[str, str, str | None]

NO_ROOM = "no room"
"""Stands for a rule where none bars the ware."""


def left_out(rules: FiringRules, built: WorksProblem, state: LoadState, placed: Counter[str]) -> list[LeftOut]:
    """Return a row for every lot of which pieces are left."""
    rows = []
    changes = Changes(rules, built, state)
    for number, group in enumerate(built.ware.groups):
        reason: Reason | None = None
        for lot in group.lots:
            pieces = lot.pieces - placed[lot.code]
            if pieces <= 0:
                continue
            reason = reason or _reason(changes, number)
            rule, said, change = reason
            rows.append(LeftOut(lot=lot.code, pieces=pieces, rule=rule, reason=said, change=change))
    return rows


def _reason(changes: Changes, group: int) -> Reason:
    rules, built, state = changes.rules, changes.built, changes.state
    problem = built.problem
    if not problem.stacks:
        return "F1", "no stack can be built: no shelf or stub stands this heat", "shelves and stubs of a hotter grade"
    wares = [ware for ware in problem.wares if ware.group == group]
    if not wares:
        return "W4", "fewer pieces than any way of standing takes", None
    low = min(wares, key=lambda ware: ware.body.height_mm)
    for reason in (
        _too_tall(rules, built, low),
        _too_heavy(rules, built, low),
        _wrong_heat(rules, built, state, wares, group),
        _no_support(built, state, low),
    ):
        if reason is not None:
            return reason
    return NO_ROOM, *changes.smallest(problem.wares.index(low))


def _too_tall(rules: FiringRules, built: WorksProblem, low: Ware) -> Reason | None:
    """Return the reason when not even an open tier on the lowest stub is high enough."""
    highest = max(
        rules.roof_mm - site.bottoms[0].base_mm - shelf.thickness_mm
        for site, shelf in zip(built.problem.stacks, built.shelves, strict=True)
    )
    over_mm = low.body.height_mm - highest
    if over_mm <= 0:
        return None
    return "C3", f"{over_mm:.0f} mm too tall for the kiln", f"a kiln {over_mm:.0f} mm higher"


def _too_heavy(rules: FiringRules, built: WorksProblem, low: Ware) -> Reason | None:
    limit = max(rules.load_limit_kg(shelf) for shelf in built.shelves)
    over_kg = low.body.mass_kg - limit
    if over_kg <= 0:
        return None
    return "F9", f"{over_kg:.1f} kg more than a shelf carries", "a thicker or stronger shelf"


def _wrong_heat(
    rules: FiringRules, built: WorksProblem, state: LoadState, wares: list[Ware], group: int
) -> Reason | None:
    """Return the reason when no tier of the load, nor any at another height, has the heat."""
    mask = sum(1 << built.problem.wares.index(ware) for ware in wares)
    site = built.problem.site
    heights = range(0, int(rules.roof_mm), 50)
    stacks = range(len(built.problem.stacks))
    if any(site.allowed(stack, float(base), None) & mask for stack in stacks for base in heights) or any(
        state.allowed(stack, base_mm, tier.column) & mask
        for stack in stacks
        for base_mm, tier in zip(state.bases_mm(stack), state.stacks[stack], strict=False)
    ):
        return None
    wants = built.ware.groups[group]
    low, high = wants.low_degc, wants.high_degc
    middle = rules.peak_degc
    if low is not None and (high is None or middle - low < high - middle):
        return (
            "Z2",
            f"no place is sure to reach {low:.0f} degC",
            "a hotter place or programme, or cone readings of the kiln",
        )
    return (
        "Z2",
        f"no place is sure to stay under {high:.0f} degC",
        "a cooler place or programme, or cone readings of the kiln",
    )


def _no_support(built: WorksProblem, state: LoadState, low: Ware) -> Reason | None:
    if low.support is None:
        return None
    spare = int(state.spare[len(built.problem.counts) + low.support])
    if spare >= low.support_pieces:
        return None
    code = built.ware.supports[low.support]
    return "W8", f"all supports of kind {code} are in use", f"{low.support_pieces - spare} more of {code} a body"
