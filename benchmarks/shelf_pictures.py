"""Draw settings of one-shelf instances beside plain bottom-left.

python3 run.py bench shelf_pictures --instances DIR --layouts DIR --pictures DIR NAME...
"""

from __future__ import annotations

import argparse
import json
import math
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from shapely import affinity

from benchmarks.bottom_left import bottom_left
from benchmarks.shelf_instances import Instance, outline_of, read

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

MARGIN_MM = 12.0
FILLS = ("#f2e3c6", "#d5e3ee", "#e4d9ea", "#dcead2", "#f3d9d2", "#e7e7e7")


def path_of(shape: BaseGeometry) -> str:
    """Return a polygon as the path of an SVG, y upwards."""
    points = [f"{x:.1f} {-y:.1f}" for x, y in shape.simplify(0.1).boundary.coords]
    return "M" + " L".join(points) + " Z"


def drawing(instance: Instance, rows: list[list[float]], shift_mm: float, title: str) -> list[str]:
    """Return the SVG elements of one shelf, moved to the right."""
    shelf = instance.data["shelf"]
    is_rect = shelf["kind"] == "rect"
    left, top = (0.0, -shelf["h"]) if is_rect else (-shelf["R"], -shelf["R"])
    if is_rect:
        edge = f'<rect x="0" y="{-shelf["h"]}" width="{shelf["w"]}" height="{shelf["h"]}"/>'
    else:
        r = shelf["R"]
        edge = f'<path d="M{-r} 0 A{r} {r} 0 0 1 {r} 0 Z"/>'
    parts = [f'<g transform="translate({shift_mm - left:.1f} {-top + 30:.1f})">']
    parts.append(f'<text x="{left}" y="{top - 10}" font-size="17" font-family="sans-serif">{title}</text>')
    parts.append(f'<g fill="#fff" stroke="#222" stroke-width="2">{edge}</g>')
    for x0, y0, x1, y1 in instance.data["posts"]:
        parts.append(f'<rect x="{x0}" y="{-y1}" width="{x1 - x0}" height="{y1 - y0}" fill="#555"/>')
    for number, (kind, angle, x, y) in enumerate(rows, start=1):
        solid = outline_of(instance.data["types"][int(kind)]["parts"])
        placed = affinity.translate(affinity.rotate(solid, angle, origin=(0, 0)), x, y)
        fill = FILLS[int(kind) % len(FILLS)]
        parts.append(f'<path d="{path_of(placed)}" fill="{fill}" stroke="#222" stroke-width="1.2"/>')
        middle = f'x="{x:.1f}" y="{-y + 6:.1f}" text-anchor="middle"'
        parts.append(f'<text {middle} font-size="17" font-family="sans-serif">{number}</text>')
    return [*parts, "</g>"]


def picture(instance: Instance, rows: list[list[float]]) -> str:
    """Return the SVG of bottom-left and of a layout side by side."""
    plain = [[float(k), math.degrees(a), x, y] for k, x, y, a in bottom_left(instance.room, instance.bodies)]
    shelf = instance.data["shelf"]
    width, height = (shelf["w"], shelf["h"]) if shelf["kind"] == "rect" else (2 * shelf["R"], shelf["R"])
    covered = [sum(instance.bodies[int(row[0])].value for row in each) for each in (plain, rows)]
    body = drawing(instance, plain, MARGIN_MM, f"plain bottom-left: {100 * covered[0]:.1f} % covered")
    body += drawing(instance, rows, width + 3 * MARGIN_MM, f"shelf engine: {100 * covered[1]:.1f} % covered")
    size = (2 * width + 4 * MARGIN_MM, height + 30 + MARGIN_MM)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {size[0]:.0f} {size[1]:.0f}" width="{size[0]:.0f}">'
        + "".join(body)
        + "</svg>\n"
    )


def main(words: list[str]) -> int:
    """Draw the named instances."""
    parser = argparse.ArgumentParser(prog="bench shelf_pictures", description="Draw layouts beside bottom-left.")
    parser.add_argument("--instances", type=Path, required=True)
    parser.add_argument("--layouts", type=Path, required=True)
    parser.add_argument("--pictures", type=Path, required=True)
    parser.add_argument("names", nargs="+")
    asked = parser.parse_args(words)
    for number, name in enumerate(asked.names, start=1):
        instance = read(asked.instances / f"{name}.json")
        layout = json.loads((asked.layouts / f"{name}.layout.json").read_text(encoding="utf-8"))
        target = asked.pictures / f"one_shelf_{number}.svg"
        target.write_text(picture(instance, layout["shelves"][0]), encoding="utf-8")
        print(target)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
