"""From rows to the parts of a shape: profiles, discs, bars, ovals, rounded rectangles, polygons."""

from __future__ import annotations

import math
from collections import defaultdict
from typing import TYPE_CHECKING

from kilnpack.model.geometry import Disc, ExtrudedPart, Part, RoundedPolygon, TurnedPart
from kilnpack.works_folder.reading import misfilled

if TYPE_CHECKING:
    from kilnpack.errors import Finding
    from kilnpack.model.geometry import Point
    from kilnpack.works_folder.rows import Row

FOOT = "foot"
TURNED = "turned"
OVAL_CORNERS = 48
"""Corners of the polygon drawn round an oval; it stands out by at most 0.2 % of the half axis."""

_USED = {
    "disc": ("r_mm",),
    "bar": ("x2_mm", "y2_mm", "r_mm"),
    "oval": ("w_mm", "d_mm", "turn_deg"),
    "rounded rectangle": ("w_mm", "d_mm", "round_mm", "turn_deg"),
    "polygon": ("corners_mm", "round_mm"),
    TURNED: (),
}
_GEOMETRY = ("x2_mm", "y2_mm", "r_mm", "w_mm", "d_mm", "round_mm", "turn_deg", "corners_mm")


def build_profile(rows: list[Row], faults: list[Finding]) -> tuple[Point, ...]:
    """Return (height, radius) from the bottom up; note points that go down or stand still twice."""
    points: list[Point] = []
    for row in rows:
        z_mm, r_mm = row.number_at("z_mm"), row.number_at("r_mm")
        if points and z_mm < points[-1][0]:
            faults.append(
                row.fault("z_mm", z_mm, f"a height of at least {points[-1][0]:g}; profiles go from the foot up")
            )
        elif len(points) > 1 and z_mm == points[-1][0] == points[-2][0]:
            faults.append(row.fault("z_mm", z_mm, "at most two radii at one height"))
        points.append((z_mm, r_mm))
    if points[0][0] == points[-1][0]:
        faults.append(rows[0].fault("z_mm", points[0][0], "a profile with two heights at least"))
    if not any(r_mm for _, r_mm in points):
        faults.append(rows[0].fault("r_mm", 0.0, "a radius above 0 somewhere in the profile"))
    return tuple(points)


def build_parts(rows: list[Row], profiles: dict[str, list[Row]], faults: list[Finding]) -> list[Part]:
    """Return the parts in the order of their first rows."""
    groups: dict[tuple[object, ...], list[Row]] = defaultdict(list)
    for row in rows:
        if row.text("part") != FOOT:
            groups[row.text("part"), row.get("from_z_mm"), row.get("to_z_mm")].append(row)
    parts = [part for group in groups.values() if (part := _part(group, profiles, faults))]
    turned = {row.text("part") for row in rows if row.text("kind") == TURNED}
    for name in profiles:
        if name and name not in turned:
            first = profiles[name][0]
            faults.append(first.fault("part", name, "a row in parts of the kind turned for this part"))
    return parts


def _part(rows: list[Row], profiles: dict[str, list[Row]], faults: list[Finding]) -> Part | None:
    first = rows[0]
    if first.text("kind") == TURNED:
        return _turned(rows, profiles, faults)
    before = len(faults)
    faults += misfilled(first, ("from_z_mm", "to_z_mm"), (), "for a part that is not turned")
    members = [build_outline(row, faults) for row in rows]
    if len(faults) > before:
        return None
    low, high = first.number_at("from_z_mm"), first.number_at("to_z_mm")
    if low >= high:
        faults.append(first.fault("to_z_mm", high, f"a height above from_z_mm {low:g}"))
        return None
    return ExtrudedPart(from_z_mm=low, to_z_mm=high, outline=tuple(member for member in members if member))


def _turned(rows: list[Row], profiles: dict[str, list[Row]], faults: list[Finding]) -> Part | None:
    row = rows[0]
    faults += misfilled(row, (), ("from_z_mm", "to_z_mm", *_GEOMETRY), "for a turned part")
    faults += [more.fault("part", more.text("part"), "one row for a turned part") for more in rows[1:]]
    points = profiles.get(row.text("part"))
    if points is None:
        faults.append(row.fault("part", row.text("part"), "rows of this shape and part in profiles"))
        return None
    return TurnedPart(
        profile_mm=build_profile(points, faults), x_mm=row.number_at("x_mm"), y_mm=row.number_at("y_mm")
    )  # fmt: skip


def build_outline(row: Row, faults: list[Finding]) -> Disc | RoundedPolygon | None:
    """Return what one row of parts draws, or note why it cannot be drawn."""
    kind = row.text("kind")
    used = _USED[kind]
    unused = [heading for heading in _GEOMETRY if heading not in used]
    if kind == "polygon":
        unused += ["x_mm", "y_mm"]
    if row.text("part") == FOOT:
        unused += ["from_z_mm", "to_z_mm"]
    before = len(faults)
    faults += misfilled(row, used, unused, f"for {kind} as {row.text('part')}")
    if kind == TURNED:
        faults.append(row.fault("kind", kind, "discs, bars, ovals, rounded rectangles or polygons in this part"))
    return None if len(faults) > before else _drawn(row, kind, faults)


def _drawn(row: Row, kind: str, faults: list[Finding]) -> Disc | RoundedPolygon | None:
    x_mm, y_mm = row.number_at("x_mm"), row.number_at("y_mm")
    if kind == "disc":
        return Disc(x_mm=x_mm, y_mm=y_mm, r_mm=row.number_at("r_mm"))
    if kind == "bar":
        end = (row.number_at("x2_mm"), row.number_at("y2_mm"))
        return RoundedPolygon(corners_mm=((x_mm, y_mm), end), round_mm=row.number_at("r_mm"))
    if kind == "polygon":
        return _polygon(row, faults)
    half_w, half_d, turn = row.number_at("w_mm") / 2, row.number_at("d_mm") / 2, row.number_at("turn_deg")
    if kind == "oval":
        return RoundedPolygon(corners_mm=_moved(_oval(half_w, half_d), x_mm, y_mm, turn))
    round_mm = row.number_at("round_mm")
    if round_mm > min(half_w, half_d):
        faults.append(row.fault("round_mm", round_mm, "at most half of the shorter side"))
        return None
    w, d = half_w - round_mm, half_d - round_mm
    corners = tuple(dict.fromkeys(((-w, -d), (w, -d), (w, d), (-w, d))))
    return RoundedPolygon(corners_mm=_moved(corners, x_mm, y_mm, turn), round_mm=round_mm)


def _oval(half_w: float, half_d: float) -> tuple[Point, ...]:
    """Return the corners of a polygon whose sides touch the oval from outside."""
    grow = 1.0 / math.cos(math.pi / OVAL_CORNERS)
    steps = [2 * math.pi * (k + 0.5) / OVAL_CORNERS for k in range(OVAL_CORNERS)]
    return tuple((half_w * grow * math.cos(a), half_d * grow * math.sin(a)) for a in steps)


def _moved(points: tuple[Point, ...], x_mm: float, y_mm: float, turn_deg: float) -> tuple[Point, ...]:
    cos, sin = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    # A millionth of a millimetre is drawn nowhere; rounding keeps the files that are written readable.
    return tuple((round(x_mm + x * cos - y * sin, 6), round(y_mm + x * sin + y * cos, 6)) for x, y in points)


def _polygon(row: Row, faults: list[Finding]) -> RoundedPolygon | None:
    corners: tuple[Point, ...] = row.get("corners_mm")  # type: ignore[assignment]
    round_mm = row.number_at("round_mm")
    if len(corners) < 3 and round_mm > 0:
        return RoundedPolygon(corners_mm=corners, round_mm=round_mm)
    if not is_convex(corners):
        wanted = "corners of a convex polygon, counter-clockwise; say another outline as several rows of one part"
        faults.append(row.fault("corners_mm", _as_points(corners), wanted))
        return None
    return RoundedPolygon(corners_mm=corners, round_mm=round_mm)


def _as_points(corners: tuple[Point, ...]) -> str:
    return " | ".join(f"{x:g} {y:g}" for x, y in corners)


def is_convex(corners: tuple[Point, ...]) -> bool:
    """Tell whether corners go counter-clockwise once round a convex polygon with an area."""
    turns, turned = [], 0.0
    count = len(corners)
    if count < 3:
        return False
    for k in range(count):
        (ax, ay), (bx, by), (cx, cy) = corners[k], corners[(k + 1) % count], corners[(k + 2) % count]
        cross = (bx - ax) * (cy - by) - (by - ay) * (cx - bx)
        turns.append(cross)
        turned += math.atan2(cross, (bx - ax) * (cx - bx) + (by - ay) * (cy - by))
    return min(turns) >= -1e-9 and max(turns) > 0 and math.isclose(turned, 2 * math.pi, rel_tol=1e-6)
