"""From a works to the rows of its tables, heading -> value; what follows from elsewhere is left empty."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING, Any

from kilnpack.model.geometry import Disc, HalfDisc, Rectangle, RoundedPolygon, TurnedPart
from kilnpack.model.pieces import StackWay
from kilnpack.works_folder.build_backlog import FINISHED
from kilnpack.works_folder.build_parts import FOOT, TURNED
from kilnpack.works_folder.writer_routes import product_rows

if TYPE_CHECKING:
    from collections.abc import Iterator

    from kilnpack.model.furniture import ShelfType
    from kilnpack.model.geometry import Part
    from kilnpack.model.orders import Lot
    from kilnpack.model.pieces import Shape
    from kilnpack.model.works import Works

Cells = dict[str, Any]


def table_rows(works: Works) -> dict[str, list[Cells]]:
    """Return the rows of every table of a works."""
    products, routes = product_rows(works)
    rows = {
        "shapes": [_shape(shape) for shape in works.shapes],
        "profiles": [cells for shape in works.shapes for cells in _profiles(shape)],
        "parts": [cells for shape in works.shapes for cells in _parts(shape)],
        "stacking": [cells for shape in works.shapes for cells in _stackings(shape)],
        "glazes": [_plain(one) for one in works.glazes],
        "decorations": [_plain(one) for one in works.decorations],
        "routes": routes,
        "products": products,
        "sets": [cells for one in works.sets for cells in _set(one)],
        "orders": [_plain(line) for line in works.lines],
        "lots": [_lot(works, lot) for lot in works.lots],
        "moulds": [_plain(one) for one in works.supply.moulds],
        "holidays": [{"date": day} for day in works.calendar.holidays],
        "offsets": list(_offsets(works)),
        "meter_readings": [_plain(one) for one in works.measured.meter],
        "cone_readings": [_plain(one) for one in works.measured.cones],
        "cooling_readings": [_plain(one) for one in works.measured.coolings],
        "cone_series": [_plain(one) for one in works.measured.cone_points],
    }
    return rows | _furniture(works)


def _plain(value: Any) -> Cells:
    """Return the fields of a dataclass under their own names, the name left empty where it is the code."""
    cells = {item.name: getattr(value, item.name) for item in dataclasses.fields(value)}
    if "name" in cells and cells["name"] == cells["code"]:
        cells["name"] = None
    return cells


def _furniture(works: Works) -> dict[str, list[Cells]]:
    furniture = works.furniture
    shelves = [_shelf(shelf) for shelf in furniture.shelves]
    lots = [{"shelf": shelf.code, **_plain(lot)} for shelf in furniture.shelves for lot in shelf.lots[1:]]
    names = ("posts", "stubs", "stilts", "setters", "catch_discs", "spacers", "consumables")
    rows = {name: [_plain(one) for one in getattr(furniture, name)] for name in names}
    return {"shelves": shelves, "shelf_lots": lots, **rows}


def _shelf(shelf: ShelfType) -> Cells:
    cells = _plain(shelf)
    outline = cells.pop("outline")
    cells.pop("lots")
    if isinstance(outline, Rectangle):
        cells |= {"form": "rectangle", "w_mm": outline.w_mm, "d_mm": outline.d_mm}
    elif isinstance(outline, Disc | HalfDisc):
        cells |= {"form": "disc" if isinstance(outline, Disc) else "half disc", "r_mm": outline.r_mm}
    else:
        cells |= {"form": "polygon", "corners_mm": outline.corners_mm}
    return cells | _plain(shelf.lots[0])


def _shape(shape: Shape) -> Cells:
    cells = _plain(shape)
    for name in ("parts", "foot", "stackings", "lid"):
        cells.pop(name)
    if len(shape.foot) == 1 and _is_ring(shape.foot[0]):
        cells["foot_r_mm"] = shape.foot[0].r_mm  # type: ignore[union-attr]
    if shape.lid is not None:
        cells |= {"lid": shape.lid.shape, "lid_seat_mm": shape.lid.seat_mm}
    return cells


def _is_ring(member: Disc | RoundedPolygon) -> bool:
    return isinstance(member, Disc) and member.x_mm == member.y_mm == 0.0


def _named_parts(shape: Shape) -> list[tuple[str, Part]]:
    """Return the parts with the names they get in the files; the first turned one round the axis is the body."""
    names: list[tuple[str, Part]] = []
    for number, part in enumerate(shape.parts, start=1):
        body = number == 1 and isinstance(part, TurnedPart) and part.x_mm == part.y_mm == 0.0
        names.append(("" if body else f"part{number}", part))
    return names


def _profiles(shape: Shape) -> Iterator[Cells]:
    for name, part in _named_parts(shape):
        if isinstance(part, TurnedPart):
            for z_mm, r_mm in part.profile_mm:
                yield {"shape": shape.code, "part": name, "z_mm": z_mm, "r_mm": r_mm}


def _parts(shape: Shape) -> Iterator[Cells]:
    for name, part in _named_parts(shape):
        if isinstance(part, TurnedPart):
            if name:
                yield {"shape": shape.code, "part": name, "kind": TURNED, "x_mm": part.x_mm, "y_mm": part.y_mm}
            continue
        for member in part.outline:
            heights = {"from_z_mm": part.from_z_mm, "to_z_mm": part.to_z_mm}
            yield {"shape": shape.code, "part": name, **heights, **_member(member)}
    if len(shape.foot) > 1 or not _is_ring(shape.foot[0]):
        for member in shape.foot:
            yield {"shape": shape.code, "part": FOOT, **_member(member)}


def _member(member: Disc | RoundedPolygon) -> Cells:
    if isinstance(member, Disc):
        return {"kind": "disc", "x_mm": member.x_mm, "y_mm": member.y_mm, "r_mm": member.r_mm}
    if len(member.corners_mm) == 2:
        (x_mm, y_mm), (x2_mm, y2_mm) = member.corners_mm
        return {"kind": "bar", "x_mm": x_mm, "y_mm": y_mm, "x2_mm": x2_mm, "y2_mm": y2_mm, "r_mm": member.round_mm}
    return {"kind": "polygon", "corners_mm": member.corners_mm, "round_mm": member.round_mm}


def _stackings(shape: Shape) -> Iterator[Cells]:
    for one in shape.stackings:
        cells = {"shape": shape.code, **_plain(one)}
        if one.way is StackWay.BOXED:
            del cells["step_mm"]
        if one.way is not StackWay.PILED:
            del cells["bare_most_pieces"]
        yield cells


def _set(one: Any) -> Iterator[Cells]:
    for number, item in enumerate(one.items):
        first = {"name": None if one.name == one.code else one.name, "sold_singly": one.sold_singly}
        yield {"set": one.code, **({} if number else first), **_plain(item)}


def _lot(works: Works, lot: Lot) -> Cells:
    cells = _plain(lot)
    step = cells.pop("step")
    programmes = [one.programme for one in works.product(lot.product).route]
    if step == len(programmes):
        cells["next_firing"] = FINISHED
    elif programmes.count(programmes[step]) == 1 and programmes[step].lower() != FINISHED:
        cells["next_firing"] = programmes[step]
    else:
        cells["next_firing"] = str(step + 1)
    return cells


def _offsets(works: Works) -> Iterator[Cells]:
    for kiln in works.kilns:
        for one in kiln.offsets:
            for reading in one.readings:
                yield {"kiln": kiln.code, "stage": one.stage, **_plain(reading)}
