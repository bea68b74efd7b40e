"""Half sections and outlines from SVG and DXF, measured against areas and volumes known from geometry."""

from __future__ import annotations

import builtins
import math
from typing import TYPE_CHECKING, Any

import pytest
import shapely
from ezdxf.filemanagement import new
from hypothesis import given
from hypothesis import strategies as st

from kilnpack.errors import InputFaulty
from kilnpack.model.geometry import ExtrudedPart, TurnedPart
from kilnpack.shapes.outlines import outline_polygon
from kilnpack.works_folder import read_works
from kilnpack.works_folder.build_parts import is_convex
from kilnpack.works_folder.drawn_geometry import convex_pieces, ring_of, silhouette
from tests.works_folder.small import small_files, write_files

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from kilnpack.model.geometry import Point
    from kilnpack.model.pieces import Shape

HEADINGS = "drawing;drawing_shows;drawing_part;mm_per_unit;axis_x_units;axis_y_units;drawn_height_mm"


def with_drawing(tmp_path: Path, cells: str, *, draw: Callable[[Path], object]) -> Shape:
    """Return the shape VASE of the small works with a drawing."""
    files = small_files()
    files["shapes.csv"] = files["shapes.csv"].replace("lid_seat_mm\n", f"lid_seat_mm;{HEADINGS}\n")
    files["shapes.csv"] += f"VASE;;0,5;0,46;0,48;0,01;0,1;;;;;{cells}\n"
    folder = write_files(tmp_path, files)
    draw(folder)
    return read_works(folder).shape("VASE")


def svg(body: str, attributes: str = "") -> Callable[[Path], object]:
    """Return what writes an SVG file with a body."""
    text = f'<svg xmlns="http://www.w3.org/2000/svg" {attributes}>{body}</svg>'
    return lambda folder: (folder / "vase.svg").write_text(text, encoding="utf-8")


def area_of(shape: Shape) -> float:
    """Return the area of a drawn outline."""
    (part,) = shape.parts
    assert isinstance(part, ExtrudedPart)
    return outline_polygon(part.outline).area


def volume_of(shape: Shape) -> float:
    """Return the volume inside a turned part: frustums between its points."""
    (part,) = shape.parts
    assert isinstance(part, TurnedPart)
    pairs = zip(part.profile_mm, part.profile_mm[1:], strict=False)
    return sum(math.pi * (z1 - z0) * (r0 * r0 + r0 * r1 + r1 * r1) / 3 for (z0, r0), (z1, r1) in pairs)


def test_circle_of_an_svg_has_its_area(tmp_path: Path) -> None:
    """Guards scale and axis: a circle of radius 20 units of 2 mm has the area pi 40^2, round the axis."""
    draw = svg('<circle id="rim" cx="50" cy="60" r="20"/><circle id="x" cx="0" cy="0" r="7"/>')
    shape = with_drawing(tmp_path, "vase.svg;outline;rim;2;50;60;80", draw=draw)
    assert area_of(shape) == pytest.approx(math.pi * 40**2, rel=0.003)
    assert outline_polygon(shape.foot).centroid.coords[0] == pytest.approx((0, 0), abs=0.1)
    assert shape.parts[0].to_z_mm == 80.0  # type: ignore[union-attr]


def test_size_of_the_page_does_not_matter(tmp_path: Path) -> None:
    """Guards units: width, height and view box scale to the screen, not to the ware."""
    draw = svg('<ellipse cx="0" cy="0" rx="30" ry="20"/>', 'width="500mm" height="300mm" viewBox="-50 -30 100 60"')
    assert area_of(with_drawing(tmp_path, "vase.svg;outline;;1;;;50", draw=draw)) == pytest.approx(
        math.pi * 30 * 20, rel=0.003
    )


def test_transforms_and_bezier_curves_are_followed(tmp_path: Path) -> None:
    """Guards groups and curves: y = x^2 / 40 over 80 as a quadratic curve, closed, has 2/3 of its box 80 x 40."""
    body = '<g transform="translate(10 0) scale(2)"><path id="p" d="M -25 -10 Q -5 30 15 -10 Z"/></g>'
    shape = with_drawing(tmp_path, "vase.svg;outline;p;1;0;10;50", draw=svg(body))
    assert area_of(shape) == pytest.approx(2 / 3 * 80 * 40, rel=0.002)


def test_outline_with_a_dent_is_cut_into_convex_pieces(tmp_path: Path) -> None:
    """Guards outlines that are not convex: a five-pointed star has the area known from its corners."""
    points = [(r * math.sin(k * math.pi / 5), r * math.cos(k * math.pi / 5)) for k, r in enumerate([50, 20] * 5)]
    drawn = " ".join(f"{x:.6f},{y:.6f}" for x, y in points)
    shape = with_drawing(tmp_path, "vase.svg;outline;;1;;;30", draw=svg(f'<polygon points="{drawn}"/>'))
    # Ten triangles round the middle, each of two sides 50 and 20 with 36 degrees between them.
    assert area_of(shape) == pytest.approx(10 * 0.5 * 50 * 20 * math.sin(math.pi / 5), rel=1e-5)
    (part,) = shape.parts
    assert isinstance(part, ExtrudedPart)
    assert 1 < len(part.outline) <= 8


def test_half_section_of_an_svg_is_turned_over(tmp_path: Path) -> None:
    """Guards half sections: a cone of radii 30 and 50 over 60, drawn as SVG draws, y down, with its wall closed."""
    draw = svg('<path d="M 130 90 L 150 30 L 146 30 L 127 86 L 100 86 L 100 90 Z"/>')
    shape = with_drawing(tmp_path, "vase.svg;half section;;1;100;;", draw=draw)
    (part,) = shape.parts
    assert isinstance(part, TurnedPart)
    assert part.profile_mm == ((0.0, 30.0), (60.0, 50.0))
    assert volume_of(shape) == pytest.approx(math.pi * 60 * (900 + 1500 + 2500) / 3)


def dxf(draw: Callable[[Any], object]) -> Callable[[Path], object]:
    """Return what writes a DXF file."""

    def write(folder: Path) -> None:
        drawing = new()
        draw(drawing.modelspace())
        drawing.saveas(folder / "vase.dxf")

    return write


def test_half_sphere_of_a_dxf_has_its_volume(tmp_path: Path) -> None:
    """Guards arcs, layers, scale and stray entities: a bowl of radius 60 mm holds 2/3 pi 60^3."""

    def draw(space: Any) -> None:
        space.add_arc((0, 0), 3, -90, 0, dxfattribs={"layer": "wall"})
        space.add_line((0, 0), (900, 900), dxfattribs={"layer": "frame"})
        space.add_text("vase", dxfattribs={"layer": "wall"})

    shape = with_drawing(tmp_path, "vase.dxf;half section;wall;20;;;", draw=dxf(bowl(draw)))
    assert volume_of(shape) == pytest.approx(2 / 3 * math.pi * 60**3 + math.pi * 20**2 * 2, rel=0.003)


def bowl(draw: Callable[[Any], None]) -> Callable[[Any], None]:
    """Return a drawing with a foot ring of radius 20 mm, 2 mm high, under it."""

    def with_foot(space: Any) -> None:
        draw(space)
        space.add_lwpolyline([(0, -3.1), (1, -3.1), (1, -3), (0, -3)], dxfattribs={"layer": "wall"})

    return with_foot


def test_outline_of_a_dxf_may_be_of_many_pieces(tmp_path: Path) -> None:
    """Guards outlines of lines and arcs: a slot of two half circles and two lines, 100 long and 40 wide."""

    def draw(space: Any) -> None:
        space.add_line((-30, -20), (30, -20))
        space.add_line((-30, 20), (30, 20))
        space.add_arc((30, 0), 20, -90, 90)
        space.add_arc((-30, 0), 20, 90, 270)

    shape = with_drawing(tmp_path, "vase.dxf;outline;;1;;;25", draw=dxf(draw))
    assert area_of(shape) == pytest.approx(60 * 40 + math.pi * 20**2, rel=0.003)


RECT = svg('<rect id="r" x="-30" y="-20" width="60" height="40"/>')


@pytest.mark.parametrize(
    ("cells", "draw", "heading", "wanted"),
    [
        ("gone.svg;outline;;1;;;20", RECT, "drawing", "inside the works folder"),
        ("../vase.svg;outline;;1;;;20", RECT, "drawing", "inside the works folder"),
        ("shapes.csv;outline;;1;;;20", RECT, "drawing", ".svg or .dxf"),
        ("vase.svg;outline;q;1;;;20", RECT, "drawing_part", "with a path"),
        ("vase.svg;outline;;1;;;", RECT, "drawn_height_mm", "a value"),
        ("vase.svg;outline;;;;;20", RECT, "mm_per_unit", "a value"),
        ("vase.svg;;;1;;;20", RECT, "drawing_shows", "a value"),
        ("vase.svg;half section;;1;;;20", RECT, "drawn_height_mm", "an empty cell"),
        ("vase.svg;half section;;1;;;", RECT, "drawing", "right of the axis"),
        ("vase.svg;half section;;1;;;", svg('<path d="M 0 0 L 9 0"/>'), "drawing", "with a height"),
        ("vase.svg;outline;;1;;;20", svg('<path d="M 0 0 L 9 0 L 9 9"/>'), "drawing", "one closed path"),
        (
            "vase.svg;outline;;1;;;20",
            svg('<rect x="0" y="0" width="9" height="9"/><rect x="20" y="0" width="9" height="9"/>'),
            "drawing",
            "one closed path",
        ),
        ("vase.svg;outline;;1;;;20", svg("<g>"), "drawing", "in SVG"),
        ("vase.svg;outline;;1;;;20", svg("<g/>"), "drawing", "with a path"),
        (
            "vase.dxf;outline;;1;;;20",
            lambda folder: (folder / "vase.dxf").write_text("no drawing"),
            "drawing",
            "in DXF",
        ),
    ],
)
def test_drawings_that_cannot_be_used_are_findings(
    tmp_path: Path, cells: str, draw: Callable[[Path], object], heading: str, wanted: str
) -> None:
    """Guards what may be wrong with a drawing, said at the shape that names it."""
    with pytest.raises(InputFaulty) as caught:
        with_drawing(tmp_path, cells, draw=draw)
    (finding,) = caught.value.findings
    assert (finding.file, finding.row, finding.field) == ("shapes.csv", 7, heading)
    assert wanted in finding.wanted


def test_a_drawing_and_a_profile_are_too_much(tmp_path: Path) -> None:
    """Guards against two truths for one body."""
    files = small_files()
    files["profiles.csv"] += "VASE;;0;30\nVASE;;60;40\n"
    files["shapes.csv"] = files["shapes.csv"].replace("lid_seat_mm\n", f"lid_seat_mm;{HEADINGS}\n")
    files["shapes.csv"] += "VASE;;0,5;0,46;0,48;0,01;0,1;;;;;vase.svg;outline;;1;;;20\n"
    folder = write_files(tmp_path, files)
    RECT(folder)
    with pytest.raises(InputFaulty, match="a drawing or a profile, not both"):
        read_works(folder)


@pytest.mark.parametrize(("library", "name"), [("svgelements", "vase.svg"), ("ezdxf", "vase.dxf")])
def test_without_the_extra_a_drawing_is_a_finding(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, library: str, name: str
) -> None:
    """Guards installations without the extra for drawings: a plain finding instead of a failed import."""
    real = builtins.__import__

    def without(wanted: str, *args: Any, **more: Any) -> Any:
        if wanted.split(".", maxsplit=1)[0] == library:
            raise ImportError(f"no {library}", name=library)
        return real(wanted, *args, **more)

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(InputFaulty) as caught:
        with_drawing(tmp_path, f"{name};outline;;1;;;20", draw=lambda folder: (folder / name).write_text("x"))
    (finding,) = caught.value.findings
    assert "kilnpack[cad]" in finding.wanted
    assert library in finding.found


def test_silhouette_takes_the_farthest_line() -> None:
    """Guards crossings and steps: two crossing lines, then a step inward.

    Lines r = 10 + z and r = 30 - z over 0..20 cross at z = 10, r = 20; the farthest is a V; then r = 5 up to 40.
    """
    lines: list[list[Point]] = [[(0, 10), (20, 30)], [(0, 30), (20, 10)], [(20, 5), (40, 5)], [(7, 3), (7, 90)]]
    assert silhouette(lines) == ((0, 30), (10, 20), (20, 30), (20, 5), (40, 5))


def test_silhouette_bridges_a_gap() -> None:
    """Guards a section drawn in two pieces with nothing between: the profile goes straight from one to the other."""
    assert silhouette([[(0, 10), (20, 10)], [(30, 5), (40, 5)]]) == ((0, 10), (20, 10), (30, 5), (40, 5))


@given(radii=st.lists(st.floats(min_value=5, max_value=60), min_size=4, max_size=14))
def test_convex_pieces_cover_any_star(radii: list[float]) -> None:
    """Guards the cutting of outlines: the pieces cover a star-shaped ring exactly, and each is convex."""
    turns = [2 * math.pi * k / len(radii) for k in range(len(radii))]
    ring = tuple((r * math.cos(a), r * math.sin(a)) for r, a in zip(radii, turns, strict=True))
    pieces = convex_pieces(ring)
    whole = shapely.Polygon(ring)
    assert outline_polygon(pieces).symmetric_difference(whole).area < 1e-6 * whole.area
    assert all(is_convex(piece.corners_mm) for piece in pieces)


def test_ring_forgets_holes_and_direction() -> None:
    """Guards outlines drawn clockwise, with an ornament inside."""
    outer: list[Point] = [(0, 0), (0, 10), (10, 10), (10, 0), (0, 0)]
    inner: list[Point] = [(2, 2), (4, 2), (4, 4), (2, 2)]
    ring = ring_of([outer, inner], 0.01)
    assert ring is not None
    assert set(ring) == {(0, 0), (10, 0), (10, 10), (0, 10)}
    (piece,) = convex_pieces(ring)
    assert outline_polygon((piece,)).area == pytest.approx(100)
