"""Words and figures as they are printed."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kilnpack.sheets.words import (
    clock_hour,
    counted,
    hours,
    kelvin,
    kilograms,
    room_left,
    runs,
    short_mm,
    whole_mm,
    window,
)


@pytest.mark.parametrize(
    ("direction_deg", "hour"),
    [
        (90.0, "12:00"),
        (0.0, "3:00"),
        (270.0, "6:00"),
        (180.0, "9:00"),
        (315.0, "4:30"),
        (-90.0, "6:00"),
        (60.0, "1:00"),
        (450.0, "12:00"),
    ],
)
def test_directions_are_hours_of_a_clock_that_lies_on_the_shelf(direction_deg: float, hour: str) -> None:
    """Guards which way round a handle goes: 12 to the back, 3 to the right, 6 to the door."""
    assert clock_hour(direction_deg) == hour


@given(st.integers(min_value=-48, max_value=48))
def test_every_step_of_15_degrees_is_half_an_hour(steps: int) -> None:
    """Guards that turning clockwise by 15 degrees moves the hand by half an hour, round the whole clock."""
    hour, minutes = clock_hour(90.0 - 15.0 * steps).split(":")
    assert (int(hour) % 12) * 2 + (minutes == "30") == steps % 24


@given(st.sets(st.integers(min_value=1, max_value=60), min_size=1))
def test_runs_name_every_place_once(places: set[int]) -> None:
    """Guards that no place is lost or invented when runs are drawn together."""
    named: list[int] = []
    for part in runs(places).split(", "):
        first, _, last = part.partition("–")
        named += range(int(first), int(last or first) + 1)
    assert named == sorted(places)


def test_only_three_and_more_become_a_run() -> None:
    """Guards that a pair stays two numbers."""
    assert runs({1, 2, 4, 5, 6, 9}) == "1, 2, 4–6, 9"


def test_lengths_round_to_the_ruler_and_headroom_never_up() -> None:
    """Guards that a sheet does not promise more headroom than there is."""
    assert (whole_mm(59.5), whole_mm(59.4), short_mm(12.0), short_mm(12.25)) == ("60", "59", "12", "12.2")
    assert (room_left(13.99), room_left(14.0), room_left(-0.5)) == ("13", "14", "-1")


def test_offsets_masses_and_hours_carry_their_sign_and_unit() -> None:
    """Guards how heat, mass and time are said."""
    assert (kelvin(-8.6), kelvin(0.3), kelvin(4.5)) == ("−9", "±0", "+4")
    assert (window(-10.0, 10.0), window(3.2, 3.4)) == ("−10 to +10 K", "+3 K")
    assert (kilograms(2.64), hours(13.25)) == ("2.6 kg", "13 h 15")


def test_one_thing_is_not_many() -> None:
    """Guards counted nouns."""
    assert [counted(k, "tier", "tiers") for k in (0, 1, 2)] == ["0 tiers", "1 tier", "2 tiers"]
