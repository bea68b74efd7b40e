"""Figures carry no more digits than their range allows."""

from __future__ import annotations

import pytest

from kilnpack.sheets.owner_values import CostStep
from kilnpack.sheets.ranges import plain_figure, shared_range, span, told


def test_a_figure_is_cut_to_its_range_and_printed_in_full_without_one() -> None:
    """Guards the digits by hand: 21,067 +- 25 % is 21,000; 22.54 +- 25 % is 23; 0.61 +- 25 % is 0.61."""
    assert [told(value, 0.25) for value in (21067.0, 22.54, 0.61, 0.0)] == ["21,000", "23", "0.61", "0.00"]
    assert (told(22.54, 0.0), told(22.54, 0.0, decimals=0)) == ("22.54", "23")
    assert told(-4.1, 0.25) == "-4.1"


def test_a_range_is_said_from_low_to_high() -> None:
    """Guards the words: 21,067 -+ 5,267 is 15,800 to 26,334, said in thousands."""
    assert span(21067.0, 0.25) == "16,000 to 26,000"
    assert plain_figure(-0.00001) == "0"


def test_steps_that_are_known_narrow_the_range_of_the_sum() -> None:
    """Guards the total: 100 +- 30 % and 200 known are 300 +- 10 %; nothing has no range."""
    steps = (CostStep(name="energy", money=100.0, range_share=0.3), CostStep(name="people", money=200.0))
    assert shared_range(steps) == pytest.approx(0.1)
    assert shared_range(()) == 0.0
