"""Invented ware: outlines from a few sizes, masses from wall and surface.

Fired porcelain is taken as 2.4 kg/l and all walls as even; bone dry ware weighs 9 % more than biscuit, glaze adds 4 %.
These are demonstration values.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, field

FIRED_KG_MM3 = 2.4e-6

Profile = tuple[tuple[float, float], ...]
Row = dict[str, object]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ware:
    """A shape of the demonstration: its profile or outline, what is attached, and how it stacks raw."""

    code: str
    name: str
    profile: Profile = ()
    parts: tuple[Row, ...] = ()
    foot_r_mm: float | None = None
    wall_mm: float = 4.0
    area_mm2: float = 0.0
    flatware: bool = False
    handle_deg: float | None = None
    lid: tuple[str, float] | None = None
    stacking: tuple[Row, ...] = ()
    tags: frozenset[str] = field(default=frozenset())

    @property
    def fired_kg(self) -> float:
        """Mass of the finished piece, kg."""
        area = self.area_mm2 or _turned_area_mm2(self.profile)
        return area * self.wall_mm * FIRED_KG_MM3


def _turned_area_mm2(profile: Profile) -> float:
    """Area of the wall of a turned piece with its bottom, mm2."""
    area = math.pi * profile[0][1] ** 2
    for (z0, r0), (z1, r1) in itertools.pairwise(profile):
        area += math.pi * (r0 + r1) * math.hypot(z1 - z0, r1 - r0)
    return area


def _bar(part: str, heights: tuple[float, float], reach: tuple[float, float], half_mm: float, turn_deg: float) -> Row:
    """A handle or spout as a bar from one distance of the axis to another."""
    cos, sin = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    return {
        "part": part,
        "kind": "bar",
        "from_z_mm": heights[0],
        "to_z_mm": heights[1],
        "x_mm": round(reach[0] * cos, 2),
        "y_mm": round(reach[0] * sin, 2),
        "x2_mm": round(reach[1] * cos, 2),
        "y2_mm": round(reach[1] * sin, 2),
        "r_mm": half_mm,
    }


def plate(code: str, name: str, across_mm: float, high_mm: float) -> Ware:
    """A flat plate with a rising rim; raw plates pile."""
    rim = across_mm / 2
    foot = 0.56 * rim
    profile = ((0.0, foot), (0.3 * high_mm, 1.08 * foot), (0.55 * high_mm, 0.82 * rim), (high_mm, rim))
    pile: Row = {"way": "piled", "step_mm": 9.0, "most_pieces": 5, "spacer": "SP6", "bare_most_pieces": 3}
    return Ware(
        code=code, name=name, profile=profile, foot_r_mm=foot, wall_mm=4.5, flatware=True, stacking=(pile,),
        tags=frozenset({"flat"}),
    )  # fmt: skip


def bowl(code: str, name: str, across_mm: float, high_mm: float, *, most: int = 4) -> Ware:
    """An open bowl; raw bowls nest."""
    rim = across_mm / 2
    foot = 0.45 * rim
    profile = ((0.0, foot), (0.1 * high_mm, 1.1 * foot), (0.5 * high_mm, 0.85 * rim), (high_mm, rim))
    nest: Row = {"way": "nested", "step_mm": round(0.3 * high_mm, 1), "most_pieces": most, "loose_mm": 5.0}
    return Ware(code=code, name=name, profile=profile, foot_r_mm=foot, stacking=(nest,), tags=frozenset({"bowl"}))


def cup(code: str, name: str, across_mm: float, high_mm: float) -> Ware:
    """A cup with a handle to the right; raw cups are boxed rim to rim."""
    rim = across_mm / 2
    profile = ((0.0, 0.6 * rim), (0.15 * high_mm, 0.68 * rim), (0.6 * high_mm, 0.9 * rim), (high_mm, rim))
    handle = _bar("handle", (0.22 * high_mm, 0.82 * high_mm), (0.6 * rim, rim + 22.0), 5.5, 0.0)
    box: Row = {"way": "boxed", "most_pieces": 2}
    return Ware(
        code=code, name=name, profile=profile, parts=(handle,), foot_r_mm=0.6 * rim, wall_mm=3.2, handle_deg=0.0,
        stacking=(box,), tags=frozenset({"cup"}),
    )  # fmt: skip


def mug(code: str, name: str, across_mm: float, high_mm: float) -> Ware:
    """A straight mug with a handle."""
    r = across_mm / 2
    profile = ((0.0, 0.86 * r), (0.06 * high_mm, r), (high_mm, r))
    handle = _bar("handle", (0.2 * high_mm, 0.8 * high_mm), (0.8 * r, r + 28.0), 7.0, 0.0)
    box: Row = {"way": "boxed", "most_pieces": 2}
    return Ware(
        code=code, name=name, profile=profile, parts=(handle,), foot_r_mm=0.86 * r, wall_mm=4.0, handle_deg=0.0,
        stacking=(box,), tags=frozenset({"cup"}),
    )  # fmt: skip


def beaker(code: str, name: str, across_mm: float, high_mm: float) -> Ware:
    """A beaker without a handle: tumbler, egg cup, tea bowl."""
    rim = across_mm / 2
    profile = ((0.0, 0.7 * rim), (0.4 * high_mm, 0.85 * rim), (high_mm, rim))
    return Ware(
        code=code, name=name, profile=profile, foot_r_mm=0.7 * rim, wall_mm=3.2,
        stacking=({"way": "boxed", "most_pieces": 2},), tags=frozenset({"cup"}),
    )  # fmt: skip


def vase(code: str, name: str, across_mm: float, high_mm: float, *, waist: float) -> Ware:
    """A shouldered vase or bottle with a waist under its lip."""
    r = across_mm / 2
    profile = (
        (0.0, 0.62 * r), (0.35 * high_mm, 0.96 * r), (0.55 * high_mm, r),
        (0.78 * high_mm, waist * r), (0.9 * high_mm, waist * r), (high_mm, min(r, 1.35 * waist * r)),
    )  # fmt: skip
    return Ware(code=code, name=name, profile=profile, foot_r_mm=0.62 * r, wall_mm=4.5, tags=frozenset({"vase"}))


def pot(code: str, name: str, across_mm: float, high_mm: float, *, spout: bool, lid: str | None) -> Ware:
    """A bellied pot or jug: handle to the left, spout to the right, lid fired in place."""
    r = across_mm / 2
    profile = ((0.0, 0.62 * r), (0.3 * high_mm, 0.95 * r), (0.5 * high_mm, r), (high_mm, 0.62 * r))
    parts = [_bar("handle", (0.25 * high_mm, 0.85 * high_mm), (0.7 * r, r + 32.0), 6.5, 180.0)]
    if spout:
        parts.append(_bar("spout", (0.35 * high_mm, 0.95 * high_mm), (0.7 * r, r + 38.0), 9.0, 0.0))
    return Ware(
        code=code, name=name, profile=profile, parts=tuple(parts), foot_r_mm=0.62 * r, wall_mm=4.2, handle_deg=180.0,
        lid=(lid, round(high_mm - 6.0, 1)) if lid else None, tags=frozenset({"pot"}),
    )  # fmt: skip


def lid(code: str, name: str, across_mm: float, high_mm: float) -> Ware:
    """A lid with a knob, standing on its flange."""
    r = across_mm / 2
    profile = ((0.0, 0.86 * r), (5.0, 0.86 * r), (5.0, r), (0.55 * high_mm, 0.5 * r), (0.62 * high_mm, 9.0),
               (0.7 * high_mm, 11.0), (high_mm, 10.0))  # fmt: skip
    return Ware(code=code, name=name, profile=profile, foot_r_mm=0.86 * r, wall_mm=4.0, tags=frozenset({"lid"}))


def oval(code: str, name: str, wide_mm: float, deep_mm: float, high_mm: float) -> Ware:
    """An oval dish: a smaller oval foot under an oval body; raw dishes pile three high."""
    body: Row = {"part": "body", "kind": "oval", "from_z_mm": 0.35 * high_mm, "to_z_mm": high_mm,
                 "w_mm": wide_mm, "d_mm": deep_mm}  # fmt: skip
    base: Row = {"part": "base", "kind": "oval", "from_z_mm": 0.0, "to_z_mm": 0.35 * high_mm,
                 "w_mm": 0.78 * wide_mm, "d_mm": 0.78 * deep_mm}  # fmt: skip
    foot: Row = {"part": "foot", "kind": "oval", "w_mm": 0.7 * wide_mm, "d_mm": 0.7 * deep_mm}
    area = math.pi * wide_mm * deep_mm / 4 + math.pi * (wide_mm + deep_mm) / 2 * high_mm * 0.7
    pile: Row = {"way": "piled", "step_mm": 11.0, "most_pieces": 3}
    return Ware(code=code, name=name, parts=(base, body, foot), wall_mm=5.0, area_mm2=area, flatware=high_mm < 40,
                stacking=(pile,), tags=frozenset({"dish"}))  # fmt: skip


def square(code: str, name: str, wide_mm: float, deep_mm: float, high_mm: float) -> Ware:
    """A dish with rounded corners."""
    body: Row = {"part": "body", "kind": "rounded rectangle", "from_z_mm": 0.3 * high_mm, "to_z_mm": high_mm,
                 "w_mm": wide_mm, "d_mm": deep_mm, "round_mm": 0.16 * deep_mm}  # fmt: skip
    base: Row = {"part": "base", "kind": "rounded rectangle", "from_z_mm": 0.0, "to_z_mm": 0.3 * high_mm,
                 "w_mm": 0.8 * wide_mm, "d_mm": 0.8 * deep_mm, "round_mm": 0.13 * deep_mm}  # fmt: skip
    foot: Row = {"part": "foot", "kind": "rounded rectangle", "w_mm": 0.74 * wide_mm, "d_mm": 0.74 * deep_mm,
                 "round_mm": 0.12 * deep_mm}  # fmt: skip
    area = wide_mm * deep_mm + 2 * (wide_mm + deep_mm) * high_mm * 0.8
    pile: Row = {"way": "piled", "step_mm": 11.0, "most_pieces": 3}
    return Ware(code=code, name=name, parts=(base, body, foot), wall_mm=5.0, area_mm2=area, flatware=high_mm < 40,
                stacking=(pile,), tags=frozenset({"dish"}))  # fmt: skip
