"""Rows of equal bodies, and clock hours of bodies that have a side."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from kilnpack.model.loads import Setting, Standing
from kilnpack.sheets.figures import figures_of
from kilnpack.sheets.frames import shelf_view
from kilnpack.sheets.rows import half_foot, rows_of, spots_of
from tests.sheets.small_works import LOAD, SHELF, WORKS, setting

FIGURES = figures_of(WORKS, LOAD)


def test_cups_are_read_as_rows_broken_where_a_post_stands() -> None:
    """Guards the rows of the hand-set shelf: two pairs beside the post, two rows of four, five egg cups."""
    rows, singles = rows_of(spots_of(setting("S1"), shelf_view(SHELF, 0.0), FIGURES), FIGURES)
    assert [(row.places, row.every_mm) for row in rows] == [
        ((1, 2), 106.0),
        ((3, 4), 106.0),
        ((5, 6, 7, 8), 118.0),
        ((9, 10, 11, 12), 118.0),
        ((13, 14, 15, 16, 17), 68.0),
    ]
    assert singles == ()
    assert [row.name for row in rows] == ["A", "B", "C", "D", "E"]


def test_a_row_on_a_turned_shelf_starts_at_the_other_end() -> None:
    """Guards that the first place of a row is the one a ruler meets first."""
    rows, _ = rows_of(spots_of(setting("S1"), shelf_view(SHELF, 180.0), FIGURES), FIGURES)
    assert rows[-1].places == (2, 1)
    assert rows[-1].spots[0].across_mm == 480.0 - 166.0


def test_bodies_with_a_side_get_an_hour_and_round_ones_none() -> None:
    """Guards the turn column: handle at 60 degrees is one o'clock, an oval is told by its long side."""
    spots = spots_of(setting("S4"), shelf_view(SHELF, 0.0), FIGURES)
    assert [spot.hour for spot in spots] == ["1:00", "11:00", "3:00"]
    turned = spots_of(setting("S4"), shelf_view(SHELF, 90.0), FIGURES)
    assert [spot.hour for spot in turned] == ["10:00", "8:00", "12:00"]
    assert all(spot.hour == "" for spot in spots_of(setting("S5"), shelf_view(SHELF, 0.0), FIGURES))


def test_half_a_foot_is_what_the_ruler_is_short_of_the_middle() -> None:
    """Guards the half foot: 22 mm radius, over 0.9 for shrinkage, times 1.01 for scatter = 24.7, rounded up.

    The oval's foot is 100 mm half long and 45 mm half deep: 113 and 51 as loaded.
    """
    assert half_foot(FIGURES["cup"]) == "25"
    assert half_foot(FIGURES["oval"]) == "113 × 51"


@given(
    st.lists(
        st.tuples(st.sampled_from(["cup", "egg"]), st.integers(0, 8), st.integers(0, 5), st.sampled_from([0.0, 90.0])),
        min_size=1,
        max_size=14,
        unique_by=lambda row: (row[1], row[2]),
    )
)
def test_every_body_is_either_in_one_row_or_single(bodies: list[tuple[str, int, int, float]]) -> None:
    """Guards that no body is lost between rows and singles, and that a row says exactly where its bodies stand."""
    standings = tuple(
        Standing(place=k, form=form, x_mm=50.0 * x, y_mm=70.0 * y, turn_deg=turn)
        for k, (form, x, y, turn) in enumerate(bodies, start=1)
    )
    spots = spots_of(Setting(code="X", shelf="S480", standings=standings), shelf_view(SHELF, 0.0), FIGURES)
    rows, singles = rows_of(spots, FIGURES)
    told = [place for row in rows for place in row.places] + [spot.place for spot in singles]
    assert sorted(told) == [spot.place for spot in spots]
    for row in rows:
        for k, spot in enumerate(row.spots):
            assert abs(spot.across_mm - (row.spots[0].across_mm + k * row.every_mm)) <= 1.0
            assert (spot.form, spot.deep_mm) == (row.spots[0].form, row.spots[0].deep_mm)


def test_many_rows_have_names_past_z() -> None:
    """Guards that the twenty-seventh row still has a name of its own."""
    standings = tuple(
        Standing(place=2 * k + n + 1, form="egg", x_mm=100.0 + 60.0 * n, y_mm=10.0 * k, turn_deg=0.0)
        for k in range(28)
        for n in range(2)
    )
    rows, _ = rows_of(
        spots_of(Setting(code="X", shelf="S480", standings=standings), shelf_view(SHELF, 0.0), FIGURES), FIGURES
    )
    assert [row.name for row in rows][24:] == ["Y", "Z", "AA", "AB"]
