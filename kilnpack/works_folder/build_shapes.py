"""From rows to shapes: profiles, parts, foot, stacking, lid and drawing."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from kilnpack.model.geometry import Disc, ExtrudedPart, Outline, Part, TurnedPart
from kilnpack.model.pieces import Lid, Shape, Stacking, StackWay
from kilnpack.works_folder.build_parts import FOOT, build_outline, build_parts, build_profile
from kilnpack.works_folder.drawings import drawn_part
from kilnpack.works_folder.reading import misfilled

if TYPE_CHECKING:
    from collections.abc import Iterator

    from kilnpack.errors import Finding
    from kilnpack.works_folder.reading import Reading
    from kilnpack.works_folder.rows import Row

_DRAWING = ("drawing_shows", "drawing_part", "mm_per_unit", "axis_x_units", "axis_y_units", "drawn_height_mm")
LOAD_LIMITS = {True: 5.0, False: 3.0}
"""Weight above the lowest piece in multiples of its mass: flatware, other ware (common practice)."""


def build_shapes(reading: Reading) -> tuple[Shape, ...]:
    """Return every shape whose rows have no finding; note what is wrong with the others."""
    profiles = _profiles(reading)
    parts = _by_shape(reading, "parts")
    stackings = _by_shape(reading, "stacking")
    spoilt = {row.get("shape") for name in ("profiles", "parts", "stacking") for row in _unsound(reading, name)}
    shapes = []
    for row in reading.sound_rows("shapes"):
        code = row.text("code")
        reading.origins["shapes", code] = row
        shape = _shape(reading, row, profiles.get(code, {}), parts.get(code, []), stackings.get(code, []))
        if shape is not None and code not in spoilt:
            shapes.append(shape)
    return _with_lids(shapes)


def _with_lids(shapes: list[Shape]) -> tuple[Shape, ...]:
    """Leave out the pots whose lid could not be read."""
    known = {shape.code for shape in shapes}
    return tuple(shape for shape in shapes if shape.lid is None or shape.lid.shape in known)


def _unsound(reading: Reading, name: str) -> list[Row]:
    sound = {row.number for row in reading.sound_rows(name)}
    return [row for row in reading.tables[name].rows if row.number not in sound]


def _by_shape(reading: Reading, name: str) -> dict[str, list[Row]]:
    rows: dict[str, list[Row]] = defaultdict(list)
    for row in reading.sound_rows(name):
        rows[row.text("shape")].append(row)
    return rows


def _profiles(reading: Reading) -> dict[str, dict[str, list[Row]]]:
    """Return the rows of each profile by shape and part; the body's part is empty."""
    profiles: dict[str, dict[str, list[Row]]] = defaultdict(lambda: defaultdict(list))
    for row in reading.sound_rows("profiles"):
        profiles[row.text("shape")][row.optional_text("part") or ""].append(row)
    return profiles


def _shape(
    reading: Reading, row: Row, profiles: dict[str, list[Row]], parts: list[Row], stackings: list[Row]
) -> Shape | None:
    """Build one shape, or note its findings."""
    faults: list[Finding] = []
    bodies = _bodies(reading, row, profiles, faults)
    bodies += build_parts(parts, profiles, faults)
    feet = [build_outline(part, faults) for part in parts if part.text("part") == FOOT]
    if not bodies and not faults:
        faults.append(row.fault("code", row.text("code"), "a profile, parts or a drawing of this shape"))
    foot = _foot(row, tuple(member for member in feet if member), bodies, faults)
    ways = tuple(_stacking(reading, row, one, faults) for one in stackings)
    lid = _lid(row, faults)
    faults += misfilled(row, (), _DRAWING if "drawing" not in row.filled else (), "without a drawing")
    if reading.add(faults):
        return None
    number = row.number_at
    return Shape(
        code=row.text("code"), name=row.optional_text("name") or row.text("code"), parts=tuple(bodies), foot=foot,
        dry_kg=number("dry_kg"), biscuit_kg=number("biscuit_kg"), glazed_kg=number("glazed_kg"),
        biscuit_shrinkage_share=number("biscuit_shrinkage_share"),
        glost_shrinkage_share=number("glost_shrinkage_share"),
        decoration_shrinkage_share=number("decoration_shrinkage_share"), wall_mm=number("wall_mm"), stackings=ways,
        lid=lid, flatware=row.yes("flatware"), handle_deg=row.optional_number("handle_deg"),
    )  # fmt: skip


def _bodies(reading: Reading, row: Row, profiles: dict[str, list[Row]], faults: list[Finding]) -> list[Part]:
    """Return the body round the axis, from its profile or its drawing."""
    bodies: list[Part] = []
    if "" in profiles:
        bodies.append(TurnedPart(profile_mm=build_profile(profiles[""], faults)))
    if "drawing" in row.filled:
        drawn = drawn_part(reading.folder, row, faults)
        if "" in profiles:
            faults.append(row.fault("drawing", row.text("drawing"), "a drawing or a profile, not both"))
        bodies += drawn
    return bodies


def _foot(row: Row, drawn: Outline, bodies: list[Part], faults: list[Finding]) -> Outline:
    """Return the foot: as drawn, as a ring, or what of the body stands at the bottom."""
    radius = row.optional_number("foot_r_mm")
    if radius is not None and drawn:
        faults.append(row.fault("foot_r_mm", radius, "a foot radius or rows of the part foot, not both"))
    if radius is not None:
        return (Disc(r_mm=radius),)
    return drawn or _standing(row, bodies, faults)


def _standing(row: Row, bodies: list[Part], faults: list[Finding]) -> Outline:
    for part in bodies:
        if isinstance(part, ExtrudedPart) and part.from_z_mm == 0:
            return part.outline
        if isinstance(part, TurnedPart):
            radius = max((r for z, r in part.profile_mm if z == 0), default=0.0)
            if radius > 0:
                return (Disc(x_mm=part.x_mm, y_mm=part.y_mm, r_mm=radius),)
    if not faults:
        faults.append(row.fault("foot_r_mm", "", "a foot; nothing of the shape stands at height 0"))
    return ()


def _stacking(reading: Reading, shape: Row, row: Row, faults: list[Finding]) -> Stacking:
    way = StackWay(row.text("way"))
    boxed, piled = way is StackWay.BOXED, way is StackWay.PILED
    used = () if boxed else ("step_mm",)
    unused = (("step_mm",) if boxed else ()) + (() if piled else ("spacer", "bare_most_pieces"))
    faults += misfilled(row, used, unused, f"for {way.value} ware")
    loose_mm = row.optional_number("loose_mm")
    return Stacking(
        way=way,
        step_mm=row.optional_number("step_mm") or 0.0,
        most_pieces=row.whole("most_pieces"),
        load_limit_factor=row.optional_number("load_limit_factor") or LOAD_LIMITS[shape.yes("flatware")],
        loose_mm=reading.settings.nest_loose_mm if loose_mm is None else loose_mm,
        spacer=row.optional_text("spacer"),
        bare_most_pieces=row.whole("bare_most_pieces"),
    )


def _lid(row: Row, faults: list[Finding]) -> Lid | None:
    lid = row.optional_text("lid")
    if lid is None:
        faults += misfilled(row, (), ("lid_seat_mm",), "without a lid")
    else:
        faults += misfilled(row, ("lid_seat_mm",), (), "with a lid")
    seat_mm = row.optional_number("lid_seat_mm")
    return Lid(shape=lid, seat_mm=seat_mm) if lid is not None and seat_mm is not None else None


def doubled_ways(reading: Reading) -> Iterator[Finding]:
    """Yield a second row of the same shape and way in stacking."""
    seen = set()
    for row in reading.tables["stacking"].rows:
        pair = (row.get("shape"), row.get("way"))
        if None not in pair and pair in seen:
            yield row.fault("way", row.get("way"), "each way once for a shape")
        seen.add(pair)
