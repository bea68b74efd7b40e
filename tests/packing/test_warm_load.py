"""The load that compiles the kernels."""

from __future__ import annotations

from kilnpack.packing.warm_load import warm_load


def test_smallest_load_holds_something() -> None:
    """Guards the warm-up: it reaches the fills, free and with one setting, or it would compile nothing."""
    assert warm_load() > 0
