"""Bounds of the numbers in the TOML files, by the name of the key."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

from kilnpack.codec import Fault
from kilnpack.words import shown
from kilnpack.works_folder.cells import size_fault

if TYPE_CHECKING:
    from collections.abc import Iterator

FREE = frozenset(
    {"x_mm", "y_mm", "direction_deg", "turn_deg", "corners_mm", "offset_k", "to_degc", "air_in_degc", "above_degc"}
)
"""Keys whose numbers may be negative."""

POSITIVE = frozenset(
    {
        "usable_height_mm", "r_mm", "w_mm", "d_mm", "thickness_mm", "top_degc", "usual_ware_kg",
        "connected_kw", "rate_k_h", "recorded_fire_h", "recorded_kg", "lambda_factor", "deck_kg", "greatest_k_h",
        "crew_people", "posts_end_to_end_most", "single_post_slender_ratio", "joined_post_slender_ratio",
        "strength_share", "cold_strength_share", "turn_step_deg", "settings_most", "settings_per_ware_most",
        "cone_width_mm", "cone_depth_mm", "cone_height_mm", "glazing_pieces_per_hour", "hard_porcelain_degc",
    }
)  # fmt: skip
"""Keys whose numbers must be above 0; all others must not be negative."""

MOST = {"night_from_h": 24.0, "night_to_h": 24.0, "turn_step_deg": 360.0}


def bound_faults(value: object, place: str) -> Iterator[Fault]:
    """Yield a fault for every number of a dataclass, and of those inside it, that is out of its bounds."""
    if isinstance(value, tuple):
        for number, item in enumerate(value, start=1):
            label = getattr(item, "code", None) or number
            where = f"{place}[{label}]"
            if isinstance(item, int | float):
                yield from _number_faults(item, _key_of(place), where)
            else:
                yield from bound_faults(item, where)
    elif dataclasses.is_dataclass(value):
        for item in dataclasses.fields(value):
            inner = getattr(value, item.name)
            where = f"{place}.{item.name}" if place else item.name
            if isinstance(inner, int | float) and not isinstance(inner, bool):
                yield from _number_faults(inner, item.name, where)
            else:
                yield from bound_faults(inner, where)


def _key_of(place: str) -> str:
    """Return the key that a list of numbers stands under: ``x.corners_mm[3]`` is one of ``corners_mm``."""
    return place.rpartition(".")[2].partition("[")[0]


def _number_faults(number: float, name: str, where: str) -> Iterator[Fault]:
    most = 1.0 if name.endswith("_share") else MOST.get(name)
    low = name not in FREE and (number < 0 or (name in POSITIVE and number == 0))
    if not low and (most is None or number <= most):
        if wanted := size_fault(number):
            yield Fault(place=where, found=shown(float(number)), wanted=wanted)
        return
    least = "above 0" if name in POSITIVE else "at least 0"
    wanted = f"a number {least}" + ("" if most is None else f" and at most {most:g}")
    yield Fault(place=where, found=shown(float(number)), wanted=wanted)
