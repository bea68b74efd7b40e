"""Pick list and trolley list, counted by hand."""

from __future__ import annotations

from collections import Counter

from kilnpack.sheets.lists import pick_list, trolley_list
from kilnpack.sheets.order import tiers_in_order
from tests.sheets.small_works import LOAD, WORKS, piled_load, round_load, tall_posts_works


def test_the_pick_list_counts_every_piece_of_furniture() -> None:
    """Guards the counts by hand.

    16 tiers, one shelf each, two of them flat (A3, C2). Posts, three a tier: of 100 at A1 A2 C1 C3 D1 = 15; of 150 at
    A4 = 3; of 75 at B1 B2 B3 D2 = 12; of 50 at the same four, A3, C1 and C2 = 21. Stubs: 4 stacks of 3. Setters: one
    place of 3 at A4. Discs: two places in each of B2 B3 D2. Wads: 3 a tier.
    """
    picks = {pick.code: pick for pick in pick_list(WORKS, LOAD, tiers_in_order(WORKS, LOAD))}
    pieces = {code: pick.pieces for code, pick in picks.items()}
    assert pieces == {
        "S480": 16,
        "P50": 21,
        "P75": 12,
        "P100": 15,
        "P150": 3,
        "ST30": 12,
        "CRANK30": 3,
        "DISC90": 6,
        "": 2,
        "WAD": 48,
        "CONE13": 2,
    }
    assert picks["S480"].note == "2 of them flat (bow ≤ 1 mm)"
    assert picks["S480"].stock_pieces == 25
    assert picks[""].note == "C1 raised 58 mm; C4 raised 136 mm"


def test_spacers_go_into_every_gap_of_a_pile() -> None:
    """Guards the spacers: two piles of 5 plates, 4 gaps each, 3 spacers a gap = 24."""
    load = piled_load()
    picks = {pick.code: pick.pieces for pick in pick_list(WORKS, load, tiers_in_order(WORKS, load))}
    assert picks["SP6"] == 24


def test_a_measured_post_says_what_is_marked_on_it() -> None:
    """Guards that a post shrunk in use is still found by its mark."""
    works = tall_posts_works()
    picks = {pick.code: pick.name for pick in pick_list(works, LOAD, tiers_in_order(works, LOAD))}
    assert picks["P150"] == "post 150 mm (measured 149.5)"


def test_a_load_without_supports_or_cones_lists_none() -> None:
    """Guards that the pick list holds nothing that is not used."""
    load = round_load()
    groups = {pick.group for pick in pick_list(WORKS, load, tiers_in_order(WORKS, load))}
    assert groups == {"shelves", "posts", "stubs", "consumables"}


def test_the_trolley_carries_exactly_the_ware_of_the_load() -> None:
    """Guards that lots on the trolley add up to the pieces of the load, tier by tier."""
    tiers = tiers_in_order(WORKS, LOAD)
    ware = trolley_list(WORKS, tiers)
    counted: Counter[tuple[str, str]] = Counter()
    for row in tiers:
        for fill in row.tier.fills:
            counted[(fill.lot, row.name)] += fill.pieces
    assert {(line.lot, tier): pieces for line in ware for tier, pieces in line.goes_to} == dict(counted)
    assert sum(line.pieces for line in ware) == LOAD.pieces
    assert {line.lot: line.order_line for line in ware}["L04"] == "stock"
