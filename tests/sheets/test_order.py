"""Order of loading and which tiers share a page."""

from __future__ import annotations

from kilnpack.sheets.order import alike_tiers, pages_of, tier_name, tiers_in_order
from tests.sheets.small_works import LOAD, WORKS, round_load


def test_a_kiln_loaded_from_the_front_is_filled_stack_by_stack_from_the_back() -> None:
    """Guards that nothing has to be reached over what stands in front: back stacks first, each bottom to top."""
    names = [row.name for row in tiers_in_order(WORKS, LOAD)]
    assert names == ["A1", "A2", "A3", "A4", "A5", "B1", "B2", "B3", "B4", "C1", "C2", "C3", "C4", "D1", "D2", "D3"]


def test_a_kiln_loaded_from_above_is_filled_level_by_level() -> None:
    """Guards that a top loader never has to reach under a shelf."""
    tiers = tiers_in_order(WORKS, round_load())
    assert [row.name for row in tiers] == ["back-1", "front-1", "back-2", "front-2"]
    assert [row.turn for row in tiers] == [1, 2, 3, 4]


def test_every_tier_is_on_exactly_one_page_and_pages_differ_in_setting_or_turn() -> None:
    """Guards that a loader finds each tier, and that a turned shelf has a page of its own."""
    tiers = tiers_in_order(WORKS, LOAD)
    pages = pages_of(LOAD, tiers)
    assert sorted(row.name for page in pages for row in page.tiers) == sorted(row.name for row in tiers)
    assert len({(page.setting.code, page.turn_deg) for page in pages}) == len(pages)
    assert [page.name for page in pages] == ["1", "2", "3", "4", "5", "6", "7", "8"]


def test_tiers_filled_from_other_lots_are_told_apart_on_their_page() -> None:
    """Guards that equal settings with different ware do not melt into one list."""
    page = pages_of(LOAD, tiers_in_order(WORKS, LOAD))[0]
    assert [[row.name for row in group.tiers] for group in alike_tiers(page)] == [["A1", "A2", "B1"], ["B4", "C3"]]


def test_the_tier_above_is_the_next_of_the_same_stack() -> None:
    """Guards "next shelf": never one of another stack, none over the top tier."""
    for row in tiers_in_order(WORKS, LOAD):
        if row.above is None:
            assert row.tier is row.stack.tiers[-1]
        else:
            assert row.stack.tiers[row.tier.number] is row.above


def test_short_stack_names_join_their_number_and_long_ones_keep_a_dash() -> None:
    """Guards that "2" of stack "1" is not read as tier 12."""
    assert [tier_name(code, 2) for code in ("A", "back", "1")] == ["A2", "back-2", "1-2"]
