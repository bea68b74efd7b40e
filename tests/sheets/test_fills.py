"""The table of what fills the places of a setting."""

from __future__ import annotations

from dataclasses import replace

from kilnpack.model.loads import PlaceFill
from kilnpack.sheets.fills import fill_rows, fill_table
from kilnpack.sheets.order import AlikeTiers, tiers_in_order
from tests.sheets.small_works import LOAD, WORKS

TIERS = tiers_in_order(WORKS, LOAD)
ONE, TWO = WORKS.lots[0].code, WORKS.lots[1].code


def group(first: int, count: int, *fills: tuple[int, str, int]) -> AlikeTiers:
    """So many tiers filled alike."""
    told = tuple(PlaceFill(place=place, lot=lot, pieces=pieces) for place, lot, pieces in fills)
    tiers = tuple(replace(row, tier=replace(row.tier, fills=told)) for row in TIERS[first : first + count])
    return AlikeTiers(tiers=tiers, fills=told)


def test_places_that_change_together_are_one_line_and_alike_tiers_one_column() -> None:
    """Guards the table by hand: places 1 and 3 hold lot one everywhere, place 2 changes, place 4 is empty once."""
    groups = (
        group(0, 3, (1, ONE, 1), (2, ONE, 1), (3, ONE, 1), (4, TWO, 2)),
        group(3, 1, (1, ONE, 1), (2, TWO, 1), (3, ONE, 1)),
    )
    table = fill_table(WORKS, groups)
    assert table.columns == (tuple(row.name for row in TIERS[:3]), (TIERS[3].name,))
    told = [(line.places, [[(part.lot, part.pieces) for part in cell] for cell in line.cells]) for line in table.lines]
    assert told == [("1, 3", [[(ONE, 2)], [(ONE, 2)]]), ("2", [[(ONE, 1)], [(TWO, 1)]]), ("4", [[(TWO, 2)], []])]
    assert {row.lot: row.pieces for row in table.lots} == {ONE: 3 * 3 + 2, TWO: 3 * 2 + 1}


def test_a_place_filled_from_two_lots_says_both() -> None:
    """Guards a nest that is made up from two lots."""
    table = fill_table(WORKS, (group(0, 1, (1, ONE, 2), (1, TWO, 3)),))
    assert [(part.lot, part.pieces) for part in table.lines[0].cells[0]] == [(ONE, 2), (TWO, 3)]


def test_every_piece_of_the_small_load_is_in_its_row() -> None:
    """Guards the sums: the rows of a tier add up to what stands on it."""
    for row in TIERS:
        rows = fill_rows(WORKS, row.tier.fills)
        assert sum(each.pieces for each in rows) == sum(fill.pieces for fill in row.tier.fills)
        assert len({each.lot for each in rows}) == len(rows)
