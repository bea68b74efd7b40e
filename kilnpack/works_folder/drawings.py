"""Half sections and outlines of shapes from SVG and DXF drawings."""

from __future__ import annotations

import math
import warnings
from itertools import islice
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

from kilnpack.model.geometry import ExtrudedPart, Part, TurnedPart
from kilnpack.works_folder.drawn_geometry import convex_pieces, ring_of, silhouette
from kilnpack.works_folder.grids import TooLarge, bytes_of
from kilnpack.works_folder.reading import misfilled

if TYPE_CHECKING:
    from pathlib import Path

    from kilnpack.errors import Finding
    from kilnpack.model.geometry import Point
    from kilnpack.works_folder.rows import Row

Line = list["Point"]

FLAT_MM = 0.05
"""How far a curve may stand off the polygon that is drawn for it."""
MOST_DRAWING_BYTES = 10_000_000
MOST_POINTS = 4000
"""Of all lines of a drawing, curves already drawn as polygons; a cup has some hundred."""
MOST_STEPS = 512
"""Of one curve, whatever the tolerance asks for."""
MOST_CORNERS = 600
"""Of an outline, as it is cut into convex pieces one by one."""
MOST_DRAWN_MM = 10_000.0
_BREAKS = (
    ArithmeticError, AttributeError, AssertionError, ET.ParseError, LookupError, RecursionError, RuntimeError,
    StopIteration, TypeError, ValueError,
)  # fmt: skip
"""What the two libraries that read drawings fall over with where a drawing is none; they have no fault of their own."""


class DrawingFault(ValueError):
    """A drawing that cannot be used: heading, what was found, what is wanted."""

    def __init__(self, heading: str, found: str, wanted: str) -> None:
        self.heading, self.found, self.wanted = heading, found, wanted
        super().__init__(f"{heading}: {found}; wanted {wanted}")


def drawn_part(folder: Path, row: Row, faults: list[Finding]) -> list[Part]:
    """Return the body that the drawing of a shape shows, or note why it cannot be had."""
    before = len(faults)
    faults += misfilled(row, ("drawing_shows", "mm_per_unit"), (), "with a drawing")
    half = row.get("drawing_shows") == "half section"
    if "drawing_shows" in row.filled:
        height = ("drawn_height_mm",)
        used, unused = ((), (*height, "axis_y_units")) if half else (height, ())
        faults += misfilled(row, used, unused, f"for a drawing that shows a {row.text('drawing_shows')}")
    if len(faults) > before:
        return []
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", RuntimeWarning)  # points far away overflow; they are found out afterwards
            lines = _lines(folder, row)
            return [_half_section(row, lines) if half else _outline(row, lines)]
    except DrawingFault as fault:
        faults.append(row.fault(fault.heading, fault.found, fault.wanted))
        return []


def _lines(folder: Path, row: Row) -> list[Line]:
    """Return the lines of the drawing in mm from the axis, y up."""
    name = row.text("drawing")
    path = folder / name
    if not path.resolve().is_relative_to(folder.resolve()) or not path.is_file():
        raise DrawingFault("drawing", name, "a drawing inside the works folder")
    scale = row.number_at("mm_per_unit")
    readers = {".svg": svg_lines, ".dxf": dxf_lines}
    if path.suffix.lower() not in readers:
        raise DrawingFault("drawing", name, "a file that ends in .svg or .dxf")
    try:
        bytes_of(path, MOST_DRAWING_BYTES)
        lines = readers[path.suffix.lower()](path, row.optional_text("drawing_part"), FLAT_MM / scale)
    except TooLarge as fault:
        raise DrawingFault("drawing", f"{name} of {fault}", fault.wanted) from fault
    except ImportError as missing:
        wanted = "the extra kilnpack[cad], which reads drawings, to be installed"
        raise DrawingFault("drawing", f"{name}, but no {missing.name}", wanted) from missing
    if not lines:
        part = row.optional_text("drawing_part")
        raise DrawingFault("drawing_part" if part else "drawing", part or name, "a part of the drawing with a path")
    up = -1.0 if path.suffix.lower() == ".svg" else 1.0
    axis_x, axis_y = row.number_at("axis_x_units"), row.number_at("axis_y_units")
    placed = [[((x - axis_x) * scale, (y - axis_y) * scale * up) for x, y in line] for line in lines]
    if not all(abs(x) <= MOST_DRAWN_MM and abs(y) <= MOST_DRAWN_MM for line in placed for x, y in line):
        wanted = f"a drawing within {MOST_DRAWN_MM:.0f} mm of the axis; mm_per_unit says how large a unit is"
        raise DrawingFault("drawing", f"{name} with points far away", wanted)
    return placed


def svg_lines(path: Path, part: str | None, flat: float) -> list[Line]:
    """Return the paths of an SVG file as lines in its own units: the one with an id, or all.

    Width, height and view box of the drawing are left aside: they scale to the screen, not to the ware.

    Raises
    ------
    DrawingFault
        The file is no SVG.
    """
    import io

    import svgelements

    try:
        root = ET.parse(path).getroot()
        for attribute in ("width", "height", "viewBox", "preserveAspectRatio"):
            root.attrib.pop(attribute, None)
        drawing = svgelements.SVG.parse(io.BytesIO(ET.tostring(root)))
        lines: list[Line] = []
        for element in drawing.elements():
            if isinstance(element, svgelements.Shape) and part in (None, element.id):
                for piece in svgelements.Path(element).as_subpaths():
                    lines.append(_flattened(svgelements.Path(piece), flat))
                    _few_enough(path, lines)
    except (*_BREAKS, OSError) as fault:
        if isinstance(fault, DrawingFault):
            raise
        raise DrawingFault("drawing", f"{path.name}, which is no SVG", "a drawing in SVG") from fault
    return [line for line in lines if len(line) > 1]


def _few_enough(path: Path, lines: list[Line]) -> None:
    if sum(map(len, lines)) > MOST_POINTS:
        found = f"{path.name} with more than {MOST_POINTS} points once its curves are drawn"
        raise DrawingFault("drawing", found, "one plain line round the ware; drawing_part picks it out")


def _flattened(piece: object, flat: float) -> Line:
    """Return one continuous path as a line that keeps within `flat` of it."""
    import svgelements

    line: Line = []
    for segment in piece:  # type: ignore[attr-defined]
        if isinstance(segment, (svgelements.Move, svgelements.Line | svgelements.Close)):
            line.append((segment.end.x, segment.end.y))
        else:
            line += _curve(segment, flat)
    return line


def _curve(segment: object, flat: float) -> Line:
    """Return points along a curve, halving the steps until no middle stands off its chord by more than `flat`."""
    count = 8
    while True:
        found = [segment.point(k / (2 * count)) for k in range(2 * count + 1)]  # type: ignore[attr-defined]
        points = [(point.x, point.y) for point in found]
        off = max(
            abs(mx - (ax + bx) / 2) + abs(my - (ay + by) / 2)
            for (ax, ay), (mx, my), (bx, by) in zip(points[::2], points[1::2], points[2::2], strict=False)
        )
        if off <= flat or count >= MOST_STEPS or not math.isfinite(off):
            return points[1:]
        count *= 2


def dxf_lines(path: Path, layer: str | None, flat: float) -> list[Line]:
    """Return the lines and curves of a DXF file in its own units: those of a layer, or all.

    Raises
    ------
    DrawingFault
        The file is no DXF.
    """
    from ezdxf.filemanagement import readfile
    from ezdxf.lldxf.const import DXFError
    from ezdxf.path import make_path

    lines: list[Line] = []
    try:
        for entity in readfile(path).modelspace():
            if layer is not None and entity.dxf.layer != layer:
                continue
            try:
                points = make_path(entity).flattening(flat)
            except TypeError:
                continue  # texts and dimensions have no path
            lines.append([(point.x, point.y) for point in islice(points, MOST_POINTS + 1)])
            _few_enough(path, lines)
    except (*_BREAKS, OSError, DXFError) as fault:
        if isinstance(fault, DrawingFault):
            raise
        raise DrawingFault("drawing", f"{path.name}, which is no DXF", "a drawing in DXF") from fault
    return [line for line in lines if len(line) > 1]


def _half_section(row: Row, lines: list[Line]) -> TurnedPart:
    left = min(x for line in lines for x, _ in line)
    if left < -FLAT_MM:
        wanted = "a half section to the right of the axis; axis_x_units says where the axis is"
        raise DrawingFault("drawing", f"a point {-left:.2f} mm left of the axis", wanted)
    bottom = min(y for line in lines for _, y in line)
    profile = silhouette([[(y - bottom, max(x, 0.0)) for x, y in line] for line in lines])
    if len(profile) < 2:
        raise DrawingFault("drawing", row.text("drawing"), "a half section with a height, without a scribble of lines")
    return TurnedPart(profile_mm=profile)


def _outline(row: Row, lines: list[Line]) -> ExtrudedPart:
    ring = ring_of(lines, FLAT_MM)
    if ring is not None and len(ring) > MOST_CORNERS:
        found = f"{row.text('drawing')}, an outline of {len(ring)} corners"
        raise DrawingFault("drawing", found, f"at most {MOST_CORNERS} corners; a plainer outline")
    if ring is None:
        raise DrawingFault("drawing", row.text("drawing"), "one closed path that does not cross itself")
    return ExtrudedPart(from_z_mm=0.0, to_z_mm=row.number_at("drawn_height_mm"), outline=convex_pieces(ring))
