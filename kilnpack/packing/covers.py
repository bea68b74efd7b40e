"""Discs and capsules of whole bodies: every outline is taken apart once, equal axes share one profile over height."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from kilnpack.model.geometry import TurnedPart
from kilnpack.shapes.decompose import decompose
from kilnpack.shapes.primitives import Primitive, Profile, outer_profiles

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kilnpack.model.geometry import Outline, Part

Axis = tuple[float, float, float, float]


@lru_cache(maxsize=4096)
def outline_axes(outline: Outline) -> tuple[tuple[Axis, float], ...]:
    """Return the axes (mid point, half vector) and radii that cover an outline."""
    return tuple(
        ((p.x_mm, p.y_mm, p.hx_mm, p.hy_mm), p.profile[0][1]) for p in decompose(outline, from_z_mm=0.0, to_z_mm=1.0)
    )


def cover_of(parts: Sequence[Part]) -> tuple[Primitive, ...]:
    """Return primitives that cover the parts of a body, however many of them are stacked.

    Raises
    ------
    ValueError
        If a polygon is not convex.
    """
    profiles: dict[Axis, list[Profile]] = {}
    for part in parts:
        if isinstance(part, TurnedPart):
            profiles.setdefault((part.x_mm, part.y_mm, 0.0, 0.0), []).append(part.profile_mm)
            continue
        for axis, radius_mm in outline_axes(part.outline):
            stretch = ((part.from_z_mm, radius_mm), (part.to_z_mm, radius_mm))
            profiles.setdefault(axis, []).append(stretch)
    return tuple(
        Primitive(x_mm=axis[0], y_mm=axis[1], hx_mm=axis[2], hy_mm=axis[3], profile=profile)
        for axis, several in profiles.items()
        for profile in outer_profiles(list(dict.fromkeys(several)))
    )
