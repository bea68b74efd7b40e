"""The fewest loads for a set of lots: everything goes in once, and kilns that burn together share the furniture."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING

from kilnpack.planning.pack_loads import audit_together, pack_loads
from kilnpack.rules.checker import audit
from kilnpack.search.budget import Budget
from tests.packing.small_works import lots_for, random_works

if TYPE_CHECKING:
    from kilnpack.model.loads import Load
    from kilnpack.model.works import Works
    from kilnpack.planning.pack_loads import Loads

BRIEF = Budget(effort=10)


def few(works: Works, kilns: tuple[str, ...]) -> tuple[Works, Loads]:
    """Return the works with cups and bowls only, and its loads."""
    lots = tuple(replace(lot, pieces=30) for lot in lots_for(works, "B") if lot.product.startswith(("cup", "bowl")))
    works = replace(works, lots=lots)
    there = [works.kiln(code) for code in kilns]
    return works, pack_loads(works, there, works.programme("B"), lots, budget=BRIEF, seed=1, tries=1)


def placed(loads: tuple[Load, ...]) -> Counter[str]:
    """Count the pieces of all loads by lot."""
    found: Counter[str] = Counter()
    for load in loads:
        for stack in load.stacks:
            for tier in stack.tiers:
                for fill in tier.fills:
                    found[fill.lot] += fill.pieces
    return found


def test_everything_goes_in_once() -> None:
    """Guards the count over all loads, and that every one of them is a load the checker accepts."""
    works, found = few(random_works(4), ("K2",))
    assert found.left_pieces == 0
    assert placed(found.loads) == Counter({lot.code: lot.pieces for lot in works.lots})
    assert len(found.loads) > 1
    assert all(len(turn) == 1 for turn in found.turns)
    for load in found.loads:
        assert [str(row) for row in audit(works, load).findings] == []


def test_kilns_of_one_turn_share_the_furniture() -> None:
    """Guards the sums: two kilns loaded at once take no more than there is, though either alone would take all."""
    works, found = few(random_works(4), ("K1", "K2"))
    assert found.left_pieces == 0
    assert any(len(turn) == 2 for turn in found.turns)
    assert all(audit_together(works, turn) == () for turn in found.turns)
    twice = (found.loads[0],) * 9
    rows = audit_together(works, twice)
    assert rows
    assert all("too few" in row.found for row in rows)


def test_what_fits_nowhere_ends_the_search() -> None:
    """Guards the end: ware too tall for the kiln is left and counted, without a load."""
    works = random_works(4)
    low = replace(works, kilns=tuple(replace(kiln, usable_height_mm=150.0) for kiln in works.kilns))
    lots = tuple(lot for lot in lots_for(low, "D") if lot.product == "vase-white")
    found = pack_loads(low, [low.kiln("K2")], low.programme("D"), lots, budget=BRIEF, seed=1, tries=1)
    assert found.loads == ()
    assert found.left_pieces == sum(lot.pieces for lot in lots)
