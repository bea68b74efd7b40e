"""Tiers that stand already: what they leave of every stack, and how new tiers join them in one load."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from kilnpack.model.loads import LeftOut
from kilnpack.packing.problem import Bottom
from kilnpack.shapes.bodies import stand

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kilnpack.model.kilns import StackPlace
    from kilnpack.model.loads import Load, Reserved, Setting, StackLoad, Tier
    from kilnpack.model.orders import Lot
    from kilnpack.model.works import Works
    from kilnpack.packing.firing_rules import FiringRules


@dataclass(frozen=True, slots=True, eq=False)
class KeptTiers:
    """The tiers of a load that is half set; its stacks hold these tiers and no others."""

    works: Works
    load: Load

    def stack(self, place: str) -> StackLoad | None:
        """Return what stands in a stack, None where nothing does."""
        return next((stack for stack in self.load.stacks if stack.place == place and stack.tiers), None)

    def bottom(self, place: StackPlace, roof_mm: float) -> Bottom | None:
        """Return where new tiers of a stack begin; None where it is empty, over the roof where it is finished."""
        stack = self.stack(place.code)
        if stack is None:
            return None
        top = stack.tiers[-1]
        if not top.posts:
            return Bottom(stub=None, base_mm=roof_mm + 1.0)
        return Bottom(stub=None, base_mm=self._above_mm(top))

    def _above_mm(self, tier: Tier) -> float:
        """Return the underside of the shelf that comes over a tier."""
        shelf = {item.code: item for item in self.works.furniture.shelves}[tier.shelf]
        posts = {item.code: item for item in self.works.furniture.posts}
        columns_mm = sum(posts[code].height_mm for code in tier.posts)
        return tier.base_mm + shelf.thickness_mm + columns_mm + self.works.settings.tier_allowance_mm

    @property
    def settings(self) -> tuple[Setting, ...]:
        """The settings in use."""
        used = {tier.setting for stack in self.load.stacks for tier in stack.tiers}
        return tuple(setting for setting in self.load.settings if setting.code in used)

    def lots(self) -> list[Lot]:
        """Return the lots that stand already, with the pieces that do."""
        pieces: dict[str, int] = {}
        for stack in self.load.stacks:
            for tier in stack.tiers:
                for fill in tier.fills:
                    pieces[fill.lot] = pieces.get(fill.lot, 0) + fill.pieces
        return [replace(self.works.lot(code), pieces=count) for code, count in pieces.items()]

    def ware_kg(self) -> float:
        """Return the ware that stands already, kg."""
        return ware_kg(self.works, self.load)

    def joined(self, stacks: Sequence[StackLoad]) -> tuple[StackLoad, ...]:
        """Return all stacks with the new tiers over the kept ones; a finished stack stays as it is."""
        new = {stack.place: stack for stack in stacks if stack.tiers}
        rows = []
        for place in self.works.kiln(self.load.kiln).places:
            below, above = self.stack(place.code), new.get(place.code)
            if below is None:
                rows += [above] if above else []
                continue
            count = len(below.tiers)
            tiers = tuple(replace(tier, number=count + tier.number) for tier in above.tiers) if above else ()
            rows.append(replace(below, tiers=(*below.tiers, *tiers)))
        return tuple(rows)


def beside_kept(rules: FiringRules, lots: Sequence[Lot], kept: KeptTiers | None) -> tuple[list[Lot], list[LeftOut]]:
    """Return the lots that may share the kiln with what stands already, and the others with the rule (Z5, T9)."""
    if kept is None:
        return list(lots), []
    stood = {rules.vapours(lot) for lot in kept.lots()}
    out = [lot for lot in lots if any(rules.clash(rules.vapours(lot), one) for one in stood)]
    rows = [
        LeftOut(
            lot=lot.code,
            pieces=lot.pieces,
            rule="Z5",
            reason=f"{', '.join(sorted(rules.vapours(lot)))} may not share a load with what stands already",
            change="fire it in a load of its own",
        )
        for lot in out
    ]
    return [lot for lot in lots if lot not in out], rows


def numbered(reserved: Sequence[Reserved], kept: KeptTiers | None) -> tuple[Reserved, ...]:
    """Return places kept free with the numbers their tiers have over the kept ones."""
    if kept is None:
        return tuple(reserved)
    below = {stack.place: len(stack.tiers) for stack in kept.load.stacks}
    return tuple(replace(row, tier=row.tier + below.get(row.stack, 0)) for row in reserved)


def ware_kg(works: Works, load: Load) -> float:
    """Return the ware of a load, kg."""
    each = {form.code: stand(works, form).ware_kg for form in load.forms}
    by_setting = {row.code: sum(each[standing.form] for standing in row.standings) for row in load.settings}
    return sum(by_setting[tier.setting] for stack in load.stacks for tier in stack.tiers)
