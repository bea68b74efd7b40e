"""A programme cut into pieces and steps."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from kilnpack.heat.curve import pieces, steps
from kilnpack.heat.lining_kernel import HEATS, VENTS
from kilnpack.model.programmes import Programme, Segment


def test_worked_programme_takes_23_hours(glost: Programme) -> None:
    """9 h, 2 h, 7.5 h and 2.5 h of ramps and 2 h of soak make 23 h and five pieces."""
    parts = pieces(glost)
    assert [part.hours_h for part in parts] == pytest.approx([9.0, 2.0, 7.5, 2.5, 2.0])
    cut = steps(parts)
    assert cut.times_s[-1] == pytest.approx(23.0 * 3600.0)
    assert cut.heating == len(cut.mode) == 23 * 60
    assert cut.degc[-1] == 1400.0
    assert np.diff(cut.times_s).max() <= 60.0 + 1e-9


def test_falling_pieces_vent_and_end_the_heating(glost: Programme) -> None:
    """Cooling by programme vents; all after the last time at the peak is cooling, holds as well."""
    down = replace(
        glost,
        segments=(
            Segment(to_degc=600.0, rate_k_h=100.0),
            Segment(to_degc=500.0, rate_k_h=100.0),
            Segment(to_degc=800.0, rate_k_h=100.0),
            Segment(to_degc=700.0, rate_k_h=100.0, hold_h=1.0),
        ),
    )
    cut = steps(pieces(down), step_s=3600.0)
    assert cut.heating == 10
    assert cut.mode.tolist() == [HEATS] * 6 + [VENTS] + [HEATS] * 3 + [VENTS] * 2


def test_segment_already_reached_is_its_hold(glost: Programme) -> None:
    """A segment to the temperature the curve is at adds its hold and no ramp."""
    still = replace(
        glost, segments=(Segment(to_degc=100.0, rate_k_h=80.0), Segment(to_degc=100.0, rate_k_h=80.0, hold_h=1.5))
    )
    assert [part.hours_h for part in pieces(still)] == pytest.approx([1.0, 1.5])


def test_air_ratio_travels_with_the_piece(glost: Programme) -> None:
    """Each step knows its segment's air ratio; none stated is not a number."""
    mixed = replace(glost, segments=(Segment(to_degc=100.0, rate_k_h=80.0), *glost.segments[1:]))
    cut = steps(pieces(mixed))
    assert np.isnan(cut.air_ratio[0])
    assert cut.air_ratio[-1] == 1.02
