"""Loads steered after the search: the same ware, nearer to the wishes, and every rule still kept."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from kilnpack.model.geometry import Disc
from kilnpack.model.kilns import KeepOut, OffsetMap, OffsetReading
from kilnpack.model.pieces import Stage
from kilnpack.packing import pack_load as module
from kilnpack.packing.dealing import Matching, Slot, dealt, spread_k
from kilnpack.packing.firing_rules import FiringRules
from kilnpack.packing.pack_load import pack_load
from kilnpack.packing.steer import steered
from kilnpack.packing.wishes import Misses, Wishes
from kilnpack.rules.checker import audit
from kilnpack.search.budget import Budget
from kilnpack.shapes.outlines import point_in_kiln
from tests.packing.small_works import lots_for, random_works

if TYPE_CHECKING:
    from kilnpack.model.loads import Load
    from kilnpack.model.works import Works
    from kilnpack.packing.ready_ware import ReadyWare
    from kilnpack.packing.state import LoadState
    from kilnpack.packing.works_problem import WorksProblem

BRIEF = Budget(effort=40)


class Seen:
    """Takes the place of `steered` and notes how a load missed the wishes before and after it."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.before: Misses | None = None
        self.after: Misses | None = None
        self.ware: tuple[Counter[int], Counter[int]] | None = None
        own = steered

        def watched(state: LoadState, built: WorksProblem, rules: FiringRules, budget: Budget) -> LoadState:
            wishes = Wishes(rules, built)
            self.before = wishes.misses(state)
            found = own(state, built, rules, Budget(effort=300))
            self.after = wishes.misses(found)
            self.ware = (ware_of(state), ware_of(found))
            return found

        monkeypatch.setattr(module, "steered", watched)


def ware_of(state: LoadState) -> Counter[int]:
    """Count the bodies of a load by kind."""
    return Counter(spot.ware for tiers in state.stacks for tier in tiers for spot in tier.filled.spots)


def packed(works: Works, kiln: str, code: str, seed: int = 1) -> Load:
    """Return a load of what waits for a programme."""
    load = pack_load(works, works.kiln(kiln), works.programme(code), lots_for(works, code), budget=BRIEF, seed=seed)
    assert [str(row) for row in audit(works, load).findings] == []
    return load


def with_offsets(works: Works, code: str, chart: OffsetMap) -> Works:
    """Return the works with readings for one kiln."""
    kilns = tuple(replace(kiln, offsets=(chart,)) if kiln.code == code else kiln for kiln in works.kilns)
    return replace(works, kilns=kilns)


@pytest.mark.parametrize(("seed", "kiln", "code"), [(3, "K1", "D"), (4, "K2", "B")])
def test_steered_loads_keep_their_ware(monkeypatch: pytest.MonkeyPatch, seed: int, kiln: str, code: str) -> None:
    """Guards that nothing is lost: the same bodies stand, no wish in all is missed by more, no rule is broken."""
    seen = Seen(monkeypatch)
    packed(random_works(seed), kiln, code)
    assert seen.before is not None
    assert seen.after is not None
    assert seen.after.total <= seen.before.total + 1e-9
    assert seen.ware is not None
    assert seen.ware[0] == seen.ware[1]


def test_uneven_sides_are_evened(monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards Z6: over some works, sides that were uneven get nearer to even."""
    seen = Seen(monkeypatch)
    gained = 0.0
    for seed in (2, 5):
        packed(random_works(seed), "K1", "BGD"[seed % 3], seed)
        assert seen.before is not None
        assert seen.after is not None
        gained += seen.before.sides - seen.after.sides
    assert gained > 0.1


def test_handles_turn_away_from_the_element(monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards W12: an element set just where the handle of a mug points sends the handle elsewhere."""
    works = random_works(2)
    lots = tuple(replace(lot, pieces=6) for lot in lots_for(works, "D") if lot.product.startswith("mug"))
    works = replace(works, lots=lots)
    kept: list[tuple[LoadState, WorksProblem]] = []

    def watched(state: LoadState, built: WorksProblem, rules: FiringRules, budget: Budget) -> LoadState:
        kept.append((state, built))
        return state

    monkeypatch.setattr(module, "steered", watched)
    packed(works, "K1", "D")
    state, built = kept[0]
    stack = next(k for k, tiers in enumerate(state.stacks) if tiers and tiers[0].filled.spots)
    spot = state.stacks[stack][0].filled.spots[0]
    way = math.radians(spot.turn_deg + built.places[stack].turn_deg)
    x, y = point_in_kiln(spot.x_mm, spot.y_mm, built.places[stack])
    tip = Disc(x_mm=x + 100.0 * math.cos(way), y_mm=y + 100.0 * math.sin(way), r_mm=4.0)
    element = KeepOut(code="E", what="element", outline=tip, from_z_mm=0.0, to_z_mm=600.0)
    kiln = replace(works.kiln("K1"), keep_outs=(element,))
    rules = FiringRules(works, kiln, works.programme("D"))
    before = Wishes(rules, built).facing(state)
    assert (stack, 0, 0) in before
    after = steered(state, built, rules, Budget(effort=500))
    assert len(Wishes(rules, built).facing(after)) < len(before)
    assert ware_of(after) == ware_of(state)


def test_matching_ware_is_dealt_to_like_heat() -> None:
    """Guards Z3: a line's six pieces take the six places of ten that are nearest to each other in heat.

    Heats 0, 2, 4 ... 18 K: the middle is 9 K, the six nearest are 4 to 14 K, so the spread is 10 K.
    """
    slots = {0: [(2.0 * k, 1) for k in range(10)]}
    assert spread_k(slots, Matching(8.0, {0: 6})) == pytest.approx(10.0)
    assert spread_k({}, Matching(8.0, {0: 6})) == 0.0


def test_a_set_of_two_forms_is_dealt_together() -> None:
    """Guards Z3 over groups: cups and saucers of one line are dealt to places of like heat, the rest in order."""
    works = random_works(0)
    products = tuple(replace(product, matching_k=5.0) for product in works.products)
    works = replace(works, products=products)
    load = packed(with_offsets(works, "K2", slope()), "K2", "D")
    by_line: dict[str, list[float]] = {}
    for stack in load.stacks:
        for tier in stack.tiers:
            for fill in tier.fills:
                line = works.lot(fill.lot).order_line
                if line:
                    by_line.setdefault(line, []).append(tier.base_mm)
    assert by_line
    assert sum(max(rows) - min(rows) for rows in by_line.values()) < 300.0 * len(by_line)


def slope() -> OffsetMap:
    """Return a map that is 12 K colder below than above."""
    readings = tuple(
        OffsetReading(x_mm=x, y_mm=270.0, z_mm=z, offset_k=(z - 240.0) / 40.0)
        for x in (120.0, 420.0)
        for z in (0.0, 480.0)
    )
    return OffsetMap(stage=Stage.DECORATION, readings=readings)


def test_places_without_a_wish_are_dealt_in_order() -> None:
    """Guards the plain case: without matching ware lots fill the places as they come, every piece once."""
    works = random_works(3)
    ware = groups_only(works)
    slots = [Slot((0, at, k), 0, 1, 0.0) for at in range(2) for k in range(3)]
    found = dealt(works, ware, slots)
    assert sum(pieces for rows in found.values() for _, pieces in rows) == 6
    assert set(found) == {slot.key for slot in slots}


def groups_only(works: Works) -> ReadyWare:
    """Return ware of one group with two lots of five."""
    from kilnpack.packing.ready_ware import Group, ReadyWare

    lots = tuple(replace(lot, pieces=5) for lot in lots_for(works, "D")[:2])
    group = Group(lots=lots, forms=(), low_degc=None, high_degc=None, flat=False)
    return ReadyWare(groups=(group,), wares=(), forms=(), bodies=(), supports=(), support_pieces=())
