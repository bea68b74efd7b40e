"""Ware that may not share a kiln: the subset worth most goes in, the rest waits (rule Z5, W5, T9)."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kilnpack.model.loads import LeftOut
from kilnpack.model.pieces import Stage
from kilnpack.packing.worth import lot_factor
from kilnpack.rules.chemistry import FIRED_ONCE, REFIRED
from kilnpack.shapes.bodies import piece_kg

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kilnpack.model.orders import Lot
    from kilnpack.packing.firing_rules import FiringRules

FIRINGS = frozenset({REFIRED, FIRED_ONCE})
"""The classes that are none of vapour."""

MOST_EXACT = 14
"""Up to so many kinds of vapour all subsets are tried."""


def compatible(rules: FiringRules, lots: Sequence[Lot]) -> tuple[list[Lot], list[LeftOut]]:
    """Return the lots that go in together, and the others with the rule that keeps them out."""
    out: list[LeftOut] = []
    ready = []
    for lot in lots:
        if rules.stage is Stage.GLOST and not lot.glazed:
            out.append(LeftOut(lot=lot.code, pieces=lot.pieces, rule="W5", reason="not glazed yet", change="glaze it"))
        else:
            ready.append(lot)
    kinds: dict[frozenset[str], float] = {}
    for lot in ready:
        kinds[rules.vapours(lot)] = kinds.get(rules.vapours(lot), 0.0) + _worth(rules, lot)
    chosen = _best_subset(rules, kinds)
    for lot in ready:
        clashing = [kind for kind in chosen if rules.clash(rules.vapours(lot), kind)]
        if rules.vapours(lot) not in chosen:
            out.append(_kept_out(rules, lot, clashing))
    return [lot for lot in ready if rules.vapours(lot) in chosen], out


def _kept_out(rules: FiringRules, lot: Lot, clashing: Sequence[frozenset[str]]) -> LeftOut:
    """Return why a lot waits: its vapours (Z5), or else how often it was fired (T9)."""
    own = rules.vapours(lot)
    by_vapour = [kind - FIRINGS for kind in clashing if rules.clash(own - FIRINGS, kind - FIRINGS)]
    by_firing = [kind & FIRINGS for kind in clashing]
    rule, words, kinds = (
        ("Z5", own - FIRINGS, by_vapour) if by_vapour or not clashing else ("T9", own & FIRINGS, by_firing)
    )
    others = " and ".join(sorted(frozenset[str]().union(*kinds))) or "other ware"
    return LeftOut(
        lot=lot.code,
        pieces=lot.pieces,
        rule=rule,
        reason=f"{', '.join(sorted(words))} may not share a load with {others}",
        change="fire it in a load of its own",
    )


def _worth(rules: FiringRules, lot: Lot) -> float:
    """Return about what a lot is worth; mass stands for setting volume here."""
    shape = rules.works.shape(rules.works.product(lot.product).shape)
    return lot_factor(rules.works, lot) * lot.pieces * piece_kg(rules.works, shape, rules.stage)


def _best_subset(rules: FiringRules, kinds: dict[frozenset[str], float]) -> set[frozenset[str]]:
    """Return the kinds of vapour worth most together, none of which clashes with another."""
    ranked = sorted(kinds, key=lambda kind: (-kinds[kind], sorted(kind)))
    free = [kind for kind in ranked if not any(rules.clash(kind, other) for other in ranked)]
    bound = [kind for kind in ranked if kind not in free]
    if len(bound) > MOST_EXACT:
        picked: list[frozenset[str]] = []
        for kind in bound:
            if not any(rules.clash(kind, other) for other in [*picked, kind]):
                picked.append(kind)
        return {*free, *picked}
    best, best_value = [], -1.0
    for mask in range(1 << len(bound)):
        some = [kind for k, kind in enumerate(bound) if mask >> k & 1]
        value = sum(kinds[kind] for kind in some)
        if value > best_value and not any(rules.clash(a, b) for k, a in enumerate(some) for b in some[: k + 1]):
            best, best_value = some, value
    return {*free, *best}
