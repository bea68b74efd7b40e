"""Loads packed from a works: every rule the packer reads is kept, every piece left out has a reason."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from kilnpack.model.furniture import ShelfLot
from kilnpack.packing.pack_load import pack_load
from kilnpack.rules.checker import audit
from kilnpack.search.budget import Budget
from tests.packing.small_works import lots_for, random_works

if TYPE_CHECKING:
    from kilnpack.model.loads import Load
    from kilnpack.model.works import Works

BRIEF = Budget(effort=120)


def packed(works: Works, kiln: str, code: str, *, budget: Budget = BRIEF) -> Load:
    """Return a load of what waits for a programme."""
    return pack_load(works, works.kiln(kiln), works.programme(code), lots_for(works, code), budget=budget, seed=1)


@pytest.mark.parametrize("code", ["B", "G", "D"])
@pytest.mark.parametrize("kiln", ["K1", "K2"])
def test_every_piece_is_in_or_has_a_reason(kiln: str, code: str) -> None:
    """Guards the count: pieces placed and pieces left out of every lot make up the lot."""
    works = random_works(5)
    load = packed(works, kiln, code)
    placed = Counter[str]()
    for stack in load.stacks:
        for tier in stack.tiers:
            for fill in tier.fills:
                placed[fill.lot] += fill.pieces
    for row in load.left_out:
        placed[row.lot] += row.pieces
        assert row.rule
        assert row.reason
    assert placed == Counter({lot.code: lot.pieces for lot in lots_for(works, code)})
    assert load.pieces > 0
    assert 0.0 < load.value_share <= 1.0


def test_settings_are_few_and_furniture_is_counted() -> None:
    """Guards the works' limit on different settings, and the stock of shelves, posts and setters."""
    for seed in (1, 2, 3):
        works = random_works(seed)
        load = packed(works, "K1", "G")
        assert len(load.settings) <= works.settings.settings_most
        shelves = {item.code: item for item in works.furniture.shelves}
        posts, used = Counter[str](), Counter[str]()
        for stack in load.stacks:
            for tier in stack.tiers:
                used[tier.shelf] += 1
                for post in tier.posts:
                    posts[post] += len(shelves[tier.shelf].posts_mm)
        assert all(posts[item.code] <= item.count_pieces for item in works.furniture.posts)
        assert all(used[item.code] <= item.sound_pieces for item in works.furniture.shelves)


@pytest.mark.parametrize("seed", range(8))
def test_checker_finds_nothing(seed: int) -> None:
    """Guards every hard rule: random small works, with and without overhang, both kilns, one stage each."""
    works = random_works(seed, overhang_mm=10.0 * (seed % 2))
    for kiln in ("K1", "K2"):
        load = packed(works, kiln, "BGD"[seed % 3], budget=Budget(effort=40))
        assert [str(finding) for finding in audit(works, load).findings] == []
        assert load.pieces > 0


def test_same_effort_same_load() -> None:
    """Guards repeatability of the whole call."""
    works = random_works(7)
    assert packed(works, "K2", "B") == packed(works, "K2", "B")


def test_cold_kiln_and_hot_furniture_say_why() -> None:
    """Guards the reasons: furniture too weak for the heat, ware too tall, nothing ready."""
    works = random_works(2)
    shelves = tuple(replace(item, top_degc=900.0) for item in works.furniture.shelves)
    cold = replace(works, furniture=replace(works.furniture, shelves=shelves))
    load = packed(cold, "K1", "G")
    assert load.pieces == 0
    assert {row.rule for row in load.left_out} >= {"F1"}
    low = replace(works, kilns=tuple(replace(kiln, usable_height_mm=190.0) for kiln in works.kilns))
    rows = {row.lot.split("-")[0]: row for row in packed(low, "K2", "D").left_out}
    assert rows["vase"].rule == "C3"
    assert "too tall" in rows["vase"].reason
    nothing = pack_load(works, works.kiln("K1"), works.programme("G"), (), budget=BRIEF, seed=1)
    assert (nothing.pieces, nothing.value_share, nothing.stacks) == (0, 0.0, ())


def test_lots_of_another_programme_and_unglazed_ware_stay_out() -> None:
    """Guards the border: what does not wait for this firing is left out with its rule."""
    works = random_works(3)
    lots = (*lots_for(works, "B")[:2], *(replace(lot, glazed=False) for lot in lots_for(works, "G")[:1]))
    load = pack_load(works, works.kiln("K1"), works.programme("G"), lots, budget=BRIEF, seed=1)
    assert {row.rule for row in load.left_out} == {"T5", "W5"}


def test_best_compatible_subset_goes_in() -> None:
    """Guards Z5: copper and plain ware never share a load; the side worth more goes in."""
    works = random_works(0)
    load = packed(works, "K1", "G")
    glazes = {works.product(works.lot(f.lot).product).glaze for s in load.stacks for t in s.tiers for f in t.fills}
    assert not {"white", "red"} <= glazes
    assert any(row.rule == "Z5" for row in load.left_out)


def test_reserve_keeps_shelves_free() -> None:
    """Guards the reserve: with half of the shelves kept back no more than half are used."""
    works = random_works(4)
    lots = lots_for(works, "B")
    load = pack_load(works, works.kiln("K1"), works.programme("B"), lots, budget=BRIEF, seed=1, reserve_share=0.5)
    sound = next(item for item in works.furniture.shelves if item.code == "rect").sound_pieces
    assert sum(len(stack.tiers) for stack in load.stacks) <= sound // 2


def test_cone_packs_are_booked_before_the_ware() -> None:
    """Guards C7: both packs stand under their sight, no shelf cuts the sight, no body stands in it."""
    works = random_works(6)
    load = packed(works, "K1", "G")
    assert {pack.peephole for pack in load.cone_packs} == {"low", "high"}
    holes = {hole.code: hole for hole in works.kiln("K1").peepholes}
    for pack in load.cone_packs:
        stack = next(item for item in load.stacks if item.place == pack.place)
        low = holes[pack.peephole].z_mm - 40.0
        tier = stack.tiers[pack.tier - 1]
        assert tier.base_mm + 12.0 + pack.lift_mm == pytest.approx(low)
        assert all(not low - 12.0 < other.base_mm < low + 80.0 for other in stack.tiers)


def test_bowed_shelves_carry_no_flatware_in_glost() -> None:
    """Guards F12: with one flat shelf left, plates stand on one tier at most, and the checker finds nothing."""
    works = random_works(5)
    bowed = tuple(
        replace(item, lots=(ShelfLot(count_pieces=1), ShelfLot(count_pieces=6, bow_mm=2.0)))
        for item in works.furniture.shelves
    )
    works = replace(works, furniture=replace(works.furniture, shelves=bowed))
    lots = [lot for lot in lots_for(works, "G") if lot.product.startswith(("plate", "vase"))]
    load = pack_load(works, works.kiln("K2"), works.programme("G"), lots, budget=BRIEF, seed=1)
    assert sum(tier.flat for stack in load.stacks for tier in stack.tiers) <= 1
    assert [str(finding) for finding in audit(works, load).findings] == []


def test_two_cups_leave_no_empty_tiers() -> None:
    """Guards the tidying: no tier without ware lies on top of a stack."""
    works = random_works(6)
    lots = [replace(lot, pieces=2) for lot in lots_for(works, "D") if lot.product == "cup-white"]
    load = pack_load(works, works.kiln("K2"), works.programme("D"), lots, budget=BRIEF, seed=1)
    assert load.pieces == 2
    bearing = {pack.place for pack in load.cone_packs}
    assert all(stack.tiers[-1].fills or stack.place in bearing for stack in load.stacks)
    assert [str(finding) for finding in audit(works, load).findings] == []


def test_near_empty_kiln_is_remarked() -> None:
    """Guards Z7: too little ware is said with what could fill up."""
    works = random_works(1)
    heavy = replace(works, kilns=tuple(replace(kiln, least_ware_kg=500.0) for kiln in works.kilns))
    assert any(line.startswith("Z7") for line in packed(heavy, "K1", "B").remarks)
