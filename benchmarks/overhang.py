"""What three dimensions bring on one shelf: plain footprints, profiles, overhang, both, and both set from above.

python3 run.py bench overhang --instances DIR [--evaluations 60000] [--seeds 3]
python3 run.py bench overhang --works FOLDER --kiln CODE --programme CODE ...

Reads whole-load instances, or the ware of a works that is ready for a firing, and fills one shelf with everything low
enough for a post height, at several heights.
"""

from __future__ import annotations

import argparse
import json
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

from kilnpack.model.geometry import ExtrudedPart, RoundedPolygon, TurnedPart
from kilnpack.packing.firing_rules import FiringRules
from kilnpack.packing.ready_ware import able
from kilnpack.packing.shelf.pack import pack_shelf
from kilnpack.packing.shelf.setting import Ease
from kilnpack.packing.works_problem import works_problem
from kilnpack.planning.ready import ready_lots
from kilnpack.shapes.decompose import primitives_of
from kilnpack.shapes.primitives import Primitive, ShelfBody
from kilnpack.shapes.room import HalfDiscOutline, PostSquare, RectOutline, Room
from kilnpack.works_folder.reader import read_works

if TYPE_CHECKING:
    from collections.abc import Iterator

CASES = (
    ("footprints", False, False, Ease()),
    ("profiles", True, False, Ease()),
    ("overhang", False, True, Ease()),
    ("both", True, True, Ease()),
    ("both, from above", True, True, Ease(free_way_down=True)),
)


def room_of(data: dict[str, Any], post_mm: float) -> Room:
    """Return the shelf of an instance under posts of this height."""
    shelf, half = data["shelf"], data["post_side"] / 2
    is_rect = shelf["kind"] == "rect"
    return Room(
        outline=RectOutline(width_mm=shelf["w"], depth_mm=shelf["h"])
        if is_rect
        else HalfDiscOutline(radius_mm=shelf["R"], x_mm=shelf["w"] / 2),
        posts=tuple(
            PostSquare(x0_mm=x - half, y0_mm=y - half, x1_mm=x + half, y1_mm=y + half) for x, y in data["posts"]
        ),
        gap_mm=data["gap"],
        post_gap_mm=data["gap"],
        clear_height_mm=post_mm - data["headroom"],
        load_limit_kg=data["shelf_load_kg"],
    )


def body_of(kind: dict[str, Any], overhang_mm: float) -> ShelfBody:
    """Return the body of one type of piece."""
    if "profile_zr" in kind:
        cover = primitives_of((TurnedPart(profile_mm=tuple((z, r) for z, r in kind["profile_zr"])),))
    else:
        cover = primitives_of(
            tuple(
                ExtrudedPart(
                    from_z_mm=part["from_z"],
                    to_z_mm=part["to_z"],
                    outline=(RoundedPolygon(corners_mm=tuple((x, y) for x, y in part["outline"])),),
                )
                for part in kind["slices"]
            )
        )
    return ShelfBody(
        code=kind["id"],
        primitives=cover,
        height_mm=kind["height"],
        mass_kg=kind["mass_kg"],
        value=kind["value"],
        count=kind["demand"],
        overhang_mm=overhang_mm,
    )


def flattened(body: ShelfBody, *, keeps_foot: bool) -> ShelfBody:
    """Return the body with its widest section at every height: what a plan of footprints knows.

    With `keeps_foot` the true foot stays what has to stand on the shelf.
    """
    foot = tuple(p for p in body.primitives if p.profile[0][0] == 0.0)
    wide = tuple(_widest(p, body.height_mm) for p in body.primitives)
    return replace(body, primitives=wide, foot=foot if keeps_foot else ())


def _widest(p: Primitive, height_mm: float) -> Primitive:
    radius_mm = max(r for _, r in p.profile)
    return replace(p, profile=((0.0, radius_mm), (height_mm, radius_mm)))


Shelves: TypeAlias = "Iterator[tuple[str, float, Room, list[ShelfBody]]]"


def shelves_of_instances(folder: Path, posts_mm: list[float]) -> Shelves:
    """Return name, post height, room and bodies for every instance and post height."""
    for path in sorted(folder.glob("*.json")):
        data = json.loads(path.read_text(encoding="utf-8"))
        for post_mm in posts_mm:
            yield (
                path.stem,
                post_mm,
                room_of(data, post_mm),
                [body_of(kind, data["overhang"]) for kind in data["types"]],
            )


def shelves_of_works(folder: Path, kiln: str, programme: str, posts_mm: list[float]) -> Shelves:
    """Return the same for the lowest shelf of a kiln and the ware that is ready, one way of setting each kind."""
    works = read_works(folder)
    rules = FiringRules(works, works.kiln(kiln), works.programme(programme))
    lots, _ = able(rules, ready_lots(works, rules.kiln, rules.programme, works.now))
    built = works_problem(rules, lots, reserve_share=0.0)
    single = {ware.group: ware for ware in reversed(built.problem.wares) if ware.pieces == 1}
    bodies = [replace(ware.body, count=built.problem.counts[group]) for group, ware in sorted(single.items())]
    base_mm = built.problem.stacks[0].bottoms[0].base_mm
    for post_mm in posts_mm:
        room = built.site.room(0, base_mm, post_mm)
        if room is not None:
            yield f"{kiln} {programme}", post_mm, room, bodies


def main(words: list[str]) -> int:
    """Print the mean value of a shelf, case by case, and what it gains over plain footprints."""
    parser = argparse.ArgumentParser(prog="bench overhang", description="What three dimensions bring on one shelf.")
    which = parser.add_mutually_exclusive_group(required=True)
    which.add_argument("--instances", type=Path)
    which.add_argument("--works", type=Path)
    parser.add_argument("--kiln", default="", help="with --works: code of the kiln")
    parser.add_argument("--programme", default="", help="with --works: code of the programme")
    parser.add_argument("--evaluations", type=int, default=60_000)
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--posts", type=float, nargs="+", default=[65.0, 100.0, 150.0])
    asked = parser.parse_args(words)
    shelves = (
        shelves_of_works(asked.works, asked.kiln, asked.programme, asked.posts)
        if asked.works
        else shelves_of_instances(asked.instances, asked.posts)
    )
    print(f"{'instance':10} {'posts':>6} " + " ".join(f"{name:>18}" for name, _, _, _ in CASES))
    for name, post_mm, room, leaning in shelves:
        means = []
        for _, has_profiles, has_overhang, ease in CASES:
            bodies = leaning if has_overhang else [replace(body, overhang_mm=0.0) for body in leaning]
            if not has_profiles:
                bodies = [flattened(body, keeps_foot=has_overhang) for body in bodies]
            values = [
                pack_shelf(room, bodies, evaluations=asked.evaluations, seed=s, ease=ease).value
                for s in range(asked.seeds)
            ]
            means.append(sum(values) / len(values))
        gains = (100 * (mean / means[0] - 1) if means[0] else 0.0 for mean in means)
        cells = " ".join(f"{mean:9.2f} {gain:+6.1f} %" for mean, gain in zip(means, gains, strict=True))
        print(f"{name:10} {post_mm:6g} {cells}", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
