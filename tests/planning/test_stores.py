"""The plan says where its racks or its consumables run out: neither is noticed before the ware stands in the way."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from kilnpack.model.furniture import Consumable
from kilnpack.model.orders import Lot, Supply
from kilnpack.planning.packs import EstimatedPack
from kilnpack.planning.planner import FIRST_DUE, plan_firings
from kilnpack.planning.run import run
from kilnpack.planning.shop import Shop
from kilnpack.planning.stores import most_on_racks
from kilnpack.search.budget import Budget
from tests.planning.small import NOW, Counting, EvenShare, furniture, line, works

LOTS = tuple(
    Lot(code=f"L{k}", product="MUG", step=0, pieces=4, order_line=f"O{k}", ready_at=NOW + timedelta(days=2 * k))
    for k in range(3)
)
LINES = tuple(line(f"O{k}", "MUG", 4, 2 * k + 1) for k in range(3))


def remarks(**more: object) -> tuple[str, ...]:
    """Plan three full kilns, each two days after the last."""
    given = replace(works(lines=LINES, lots=LOTS), **more)  # type: ignore[arg-type]
    found = plan_firings(given, budget=Budget(effort=1), seed=1, packer=Counting(room_pieces=4), estimate=EvenShare(4))
    assert len(found.firings) == 3
    return found.remarks


def test_too_few_rack_places_are_remarked() -> None:
    """Twelve pieces are in progress, four are loaded at once: eight places are enough, seven are not."""
    assert remarks(supply=Supply(rack_places_pieces=8)) == ()
    assert remarks(supply=Supply(rack_places_pieces=7)) == (
        "racks: 8 pieces wait on 2026-03-02, there are places for 7",
    )


def test_consumables_that_run_out_are_remarked_with_the_firing() -> None:
    """Three firings of one tier use 2 + 3 wads each: 14 last for two of them, 15 for all."""
    wads = Consumable(code="W", name="wads", per_load_pieces=2, per_tier_pieces=3, count_pieces=14)
    assert remarks(furniture=replace(furniture(), consumables=(wads,))) == ("wads: the stock of 14 is used up by F3",)
    assert remarks(furniture=replace(furniture(), consumables=(replace(wads, count_pieces=15),))) == ()


def test_ware_leaves_the_racks_when_it_is_loaded() -> None:
    """Four of twelve are loaded at once, eight are left on the racks; an empty shop needs none."""
    given = works(lines=LINES, lots=LOTS)
    found = run(given, FIRST_DUE, EstimatedPack(EvenShare(4)), EvenShare(4), seed=1)
    assert most_on_racks(found.shop) == (8, found.shop.fired[0].load_start_h)
    assert most_on_racks(Shop(works())) == (0, 0.0)
