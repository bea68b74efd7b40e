"""Guards the outlines a shelf may have."""

from __future__ import annotations

import pytest

from kilnpack.shapes.room import ConvexOutline


@pytest.mark.parametrize(
    ("corners", "said"),
    [
        (((0, 0), (1, 0)), "three corners"),
        (((0, 0), (0, 1), (1, 0)), "convex"),
        (((0, 0), (4, 0), (1, 1), (0, 4)), "convex"),
    ],
)
def test_what_is_no_convex_outline_is_refused(corners: tuple[tuple[float, float], ...], said: str) -> None:
    """Guards the insets, which hold for convex outlines with their corners counter-clockwise only."""
    with pytest.raises(ValueError, match=said):
        ConvexOutline(corners=corners)
