"""What one piece of every lot is worth in a firing, so that loads of other settings can be compared."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kilnpack.packing.ready_ware import groups_of, ready_ware

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kilnpack.model.loads import Load
    from kilnpack.model.orders import Lot
    from kilnpack.packing.firing_rules import FiringRules


def piece_worths(rules: FiringRules, lots: Sequence[Lot]) -> dict[str, float]:
    """Return the value of a piece by lot, dm3 (see `pack_load`); lots that may not stand in the firing are left out."""
    able = [lot for lot in lots if rules.forms(lot)[0] and lot.pieces > 0]
    groups = groups_of(rules.works, rules, able)
    ware = ready_ware(rules.works, groups, gap_mm=rules.gap_mm(able), headroom_mm=rules.headroom_mm)
    worth = {item.group: item.body.value / item.pieces for item in ware.wares}
    return {lot.code: worth.get(number, 0.0) for number, group in enumerate(groups) for lot in group.lots}


def load_worth(worths: dict[str, float], load: Load) -> float:
    """Return the value of a load, dm3."""
    fills = (fill for stack in load.stacks for tier in stack.tiers for fill in tier.fills)
    return sum(worths.get(fill.lot, 0.0) * fill.pieces for fill in fills)
