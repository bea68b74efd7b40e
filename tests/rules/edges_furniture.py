"""Edges of the rules of shelves and posts, walls and roof, cone packs and keep-outs."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from hypothesis import strategies as st

from kilnpack.model.furniture import ShelfLot
from kilnpack.model.geometry import Disc
from kilnpack.model.kilns import ChamberKind, KeepOut
from kilnpack.rules.check_stacks import bending_mpa
from tests.rules.edges import BIS, GLO, SIGNS, STAGES, TURNS, Case, Edge, away, bare_works, bench
from tests.rules.small_audit import (
    POSTS,
    rewrite,
    small_load,
    small_works,
    with_kiln,
    with_settings,
    with_standing,
    with_stock,
    with_tier,
)

if TYPE_CHECKING:
    from kilnpack.model.loads import Load

WARE_KG = {"CUP": 0.3, "MUG": 0.4, "SAUCER": 0.2, "BOWL": 0.5, "PLATE": 0.4}


def f1(data: st.DataObject, x: float) -> Case:
    """Furniture for 1410 degC is asked for: peak 1390, 10 K of offset, 10 K of overshoot."""
    kind, code = data.draw(st.sampled_from((("shelves", "S"), ("posts", "P150"), ("stubs", "ST30"))))
    return with_stock(small_works(), kind, code, top_degc=1410.0 - x), small_load()


def f2(data: st.DataObject, x: float) -> Case:
    """Four shelves are used, some more are condemned."""
    condemned = data.draw(st.integers(0, 3))
    sound = 4 - round(x)
    lots = (ShelfLot(count_pieces=max(0, sound) + condemned, condemned_pieces=condemned),)
    return with_stock(small_works(), "shelves", "S", lots=lots), small_load()


def f3(data: st.DataObject, x: float) -> Case:
    """A post 150 mm high may be 8 times as high as wide; eight posts are used."""
    if data.draw(st.booleans()):
        return with_stock(small_works(), "posts", "P150", side_mm=150.0 / (8.0 + x / 10)), small_load()
    return with_stock(small_works(), "posts", "P150", count_pieces=8 - math.ceil(x)), small_load()


def f4(_data: st.DataObject, x: float) -> Case:
    """Posts may be 1 mm uneven."""
    return with_stock(small_works(), "posts", "P150", spread_mm=max(0.0, 1.0 + x)), small_load()


def f6(data: st.DataObject, x: float) -> Case:
    """The posts of the upper shelf stand aside by 5 mm and more, in any direction."""
    dx, dy = away(0.0, 0.0, data.draw(TURNS), 5.0 + x)
    works = with_stock(small_works(), "shelves", "S2", posts_mm=tuple((px + dx, py + dy) for px, py in POSTS))
    load = with_tier(with_tier(small_load(), 2, shelf="S2"), 2, "B", shelf="S2")
    return works, replace(load, settings=rewrite(load.settings, "HIGH", shelf="S2"))


def f7(_data: st.DataObject, x: float) -> Case:
    """The faces of the posts lie 40 mm inside the edge."""
    return with_settings(small_works(), post_inset_mm=40.0 + x), small_load()


def f9(data: st.DataObject, x: float) -> Case:
    """A shelf of just the strength that its load asks for; known hot or cold; on four posts or, for F16, on three."""
    works = bare_works()
    shelf = works.furniture.shelves[0]
    if data.draw(st.booleans()):
        shelf = replace(shelf, posts_mm=(POSTS[0], POSTS[1], (200.0, 290.0)))
    rows = [("CUP", 150.0 + 90.0 * k, 175.0) for k in range(data.draw(st.integers(0, 2)))]
    wanted = bending_mpa(shelf, 0.3 * len(rows)) / (1.0 + x / 20)
    hot, cold = (wanted / 0.1, None) if data.draw(st.booleans()) else (None, wanted / 0.05)
    return with_stock(works, "shelves", "S", posts_mm=shelf.posts_mm, strength_mpa=hot, cold_strength_mpa=cold), bench(
        rows
    )


def f10(data: st.DataObject, x: float) -> Case:
    """Shelves lie 60 mm off the wall and 80 mm off each other."""
    if data.draw(st.booleans()):
        return with_settings(small_works(), shelf_wall_electric_mm=60.0 + x), small_load()
    return with_settings(small_works(), shelf_gap_mm=80.0 + x), small_load()


def f12(_data: st.DataObject, x: float) -> Case:
    """Flatware wants a bow of 1 mm at most."""
    lots = (ShelfLot(count_pieces=6, bow_mm=max(0.0, 1.0 + x)),)
    return with_stock(small_works(), "shelves", "S", lots=lots), small_load()


def inside_mm(load: Load) -> float:
    """Return how far inside the posts (60 to 340, 60 to 290 mm) the centre of mass stays, piece after piece."""
    found = []
    for setting in load.settings:
        mass, mx, my = 4.0, 800.0, 700.0
        for at in setting.standings:
            kg = WARE_KG[at.form]
            mass, mx, my = mass + kg, mx + kg * at.x_mm, my + kg * at.y_mm
            found.append(min(mx / mass - 60.0, 340.0 - mx / mass, my / mass - 60.0, 290.0 - my / mass))
    return min([115.0, *found])


def f13(data: st.DataObject, x: float) -> Case:
    """The short side of the posts is 230 mm; the share asked for is what the load has, and more."""
    load = with_standing(small_load(), "LOW", 3, x_mm=data.draw(st.floats(180.0, 220.0)))
    return with_settings(small_works(), balance_share=(inside_mm(load) + x) / 230.0), load


def f14(data: st.DataObject, x: float) -> Case:
    """The bottom shelf lies on stubs of 30 mm; eight of them are used."""
    if data.draw(st.booleans()):
        return with_stock(small_works(), "stubs", "ST30", count_pieces=8 - math.ceil(x)), small_load()
    base = 30.0 + data.draw(SIGNS) * (0.5 + x if x > 0 else 0.5 + max(x, -0.5))
    load = with_tier(bench([("CUP", 150.0, 175.0)]), 1, base_mm=base, room_mm=765.0 - base)
    return with_settings(bare_works(), bottom_clear_mm=0.0), load


def f15(data: st.DataObject, x: float) -> Case:
    """The upper shelf's underside lies at 192 mm, within half a millimetre; so does the room of the lower tier."""
    off = data.draw(SIGNS) * (0.5 + x if x > 0 else 0.5 + max(x, -0.5))
    load = bench([("CUP", 150.0, 175.0)], posts=True)
    if data.draw(st.booleans()):
        return bare_works(), with_tier(load, 2, base_mm=192.0 + off, room_mm=573.0 - off)
    return bare_works(), with_tier(load, 1, room_mm=150.0 + off)


def c3(_data: st.DataObject, x: float) -> Case:
    """A mug of 90 mm stands under 150 mm of posts."""
    return with_settings(small_works(), headroom_mm=60.0 + x), small_load()


def walled(data: st.DataObject) -> tuple[Load, float]:
    """Return a shelf with a cup somewhere, and how far its rim is from the nearest wall (1000 x 600 mm)."""
    x, y = data.draw(st.floats(60.0, 340.0)), data.draw(st.floats(60.0, 290.0))
    return bench([("CUP", x, y)]), min(60.0 + x, 940.0 - x, 125.0 + y, 475.0 - y) - 40.0


def c4(data: st.DataObject, x: float) -> Case:
    """A cup stands anywhere on the shelf; works or kiln say how far off the wall."""
    load, off = walled(data)
    if data.draw(st.booleans()):
        return with_kiln(bare_works(), wall_clear_mm=off + x), load
    return with_settings(bare_works(), ware_wall_electric_mm=off + x), load


def c10(data: st.DataObject, x: float) -> Case:
    """The same on a car, off its edge."""
    load, off = walled(data)
    works = with_kiln(with_settings(bare_works(), car_edge_mm=off + x), kind=ChamberKind.CAR)
    return works, replace(load, car="CAR")


def _kept_out(data: st.DataObject, x: float, what: str, clear_mm: float) -> Case:
    """Return a cup beside a rod of 5 mm radius, both over the shelf at one height, so far apart less x."""
    at = away(260.0, 300.0, data.draw(TURNS), 40.0 + 5.0 + clear_mm - x)
    keep = KeepOut(
        code="X", what=what, outline=Disc(x_mm=at[0], y_mm=at[1], r_mm=5.0), from_z_mm=41.0 + clear_mm,
        to_z_mm=130.0 + clear_mm, clear_mm=clear_mm,
    )  # fmt: skip
    works = with_kiln(bare_works(), keep_outs=(keep,))
    return works, bench([("CUP", 200.0, 175.0)])


def c5(data: st.DataObject, x: float) -> Case:
    """A thermocouple's bubble of 50 mm."""
    return _kept_out(data, x, "thermocouple", 50.0)


def c8(data: st.DataObject, x: float) -> Case:
    """What else the kiln holds, with clearances of their own."""
    what = data.draw(st.sampled_from(("burner", "flue", "vent", "bag wall", "element", "flame trench")))
    return _kept_out(data, x, what, data.draw(st.floats(21.0, 60.0)))


def c6(data: st.DataObject, x: float) -> Case:
    """Stubs of 30 mm; a heat source under the shelf; a cup of 80 mm on a top shelf at 40 mm under the roof."""
    which = data.draw(st.sampled_from(("floor", "heat", "roof")))
    load = bench([("CUP", 200.0, 175.0)])
    if which == "floor":
        return with_settings(bare_works(), bottom_clear_mm=30.0 + x), load
    if which == "roof":
        low = with_tier(load, 1, room_mm=80.0 - x)
        return with_kiln(bare_works(), usable_height_mm=145.0 - x), low
    what = data.draw(st.sampled_from(("element", "burner", "vent")))
    top = data.draw(st.floats(1.0, 9.0))
    keep = KeepOut(code="X", what=what, outline=Disc(x_mm=300.0, y_mm=300.0, r_mm=9.0), from_z_mm=0.0, to_z_mm=top)
    works = with_settings(with_kiln(bare_works(), keep_outs=(keep,)), bottom_clear_hot_mm=30.0 - top + x)
    return works, load


def c7(data: st.DataObject, x: float) -> Case:
    """Packs 200 mm from their holes, lifted 70 mm, square on the axis; the sight 80 mm wide, its end at y = 95 mm."""
    which = data.draw(st.sampled_from(("near", "far", "aside", "lift", "ware")))
    works, load = small_works(), small_load()
    pack, other = load.cone_packs
    if which == "near":
        return with_settings(works, pack_away_least_mm=200.0 + x), load
    if which == "far":
        return with_settings(works, pack_away_least_mm=0.0, pack_away_most_mm=200.0 - x), load
    if which == "ware":
        return works, with_standing(load, "LOW", 1, x_mm=data.draw(st.floats(190.0, 210.0)), y_mm=135.0 - x)
    inside = x if x > 0 else max(x, -0.5)
    if which == "aside":
        moved = replace(pack, x_mm=200.0 + data.draw(SIGNS) * (5.0 + inside))
        return works, replace(load, cone_packs=(moved, other))
    lifted = replace(pack, lift_mm=70.0 + data.draw(SIGNS) * (0.5 + inside))
    return works, replace(load, cone_packs=(lifted, other))


def c2(data: st.DataObject, x: float) -> Case:
    """A cup beside the post whose corner is at 80, 80: 2 mm in biscuit, else 6, and 3 for the hand."""
    stage = data.draw(STAGES)
    gap = (2.0 if stage is BIS else 6.0) + 3.0
    at = away(80.0, 80.0, data.draw(st.floats(0.0, math.pi / 2)), 40.0 + gap - x)
    return bare_works(), bench([("CUP", *at)], stage, posts=True)


def f17(data: st.DataObject, x: float) -> Case:
    """Posts on the top tier, or none under a shelf."""
    load = bench([("CUP", 200.0, 175.0)], data.draw(STAGES), posts=True)
    if x <= 0:
        return bare_works(), load
    if data.draw(st.booleans()):
        return bare_works(), with_tier(load, 2, posts=("P100",), room_mm=100.0)
    return bare_works(), with_tier(load, 1, posts=())


def f5(data: st.DataObject, x: float) -> Case:
    """So many of the four posts of a shelf."""
    left = data.draw(st.integers(1, 2)) if x > 0 else data.draw(st.integers(3, 4))
    works = with_settings(bare_works(), balance_share=0.0)
    return with_stock(works, "shelves", "S", posts_mm=POSTS[:left]), bench([], GLO)


FURNITURE: dict[str, Edge] = {
    "F1": Edge(rule="F1", build=f1, slack=0.0),
    "F2": Edge(rule="F2", build=f2, slack=1.0, most=4.0),
    "F3": Edge(rule="F3", build=f3, slack=0.01),
    "F4": Edge(rule="F4", build=f4, slack=0.0),
    "F5": Edge(rule="F5", build=f5),
    "F6": Edge(rule="F6", build=f6, most=9.0, room=5.0),
    "F7": Edge(rule="F7", build=f7),
    "F9 and F16": Edge(rule="F9", build=f9, slack=0.001),
    "F10": Edge(rule="F10", build=f10),
    "F12": Edge(rule="F12", build=f12, slack=0.0),
    "F13": Edge(rule="F13", build=f13),
    "F14": Edge(rule="F14", build=f14, slack=0.01),
    "F15": Edge(rule="F15", build=f15, slack=0.01, most=8.0),
    "F17": Edge(rule="F17", build=f17),
    "C2": Edge(rule="C2", build=c2, most=9.0),
    "C3": Edge(rule="C3", build=c3),
    "C4": Edge(rule="C4", build=c4),
    "C5": Edge(rule="C5", build=c5),
    "C6": Edge(rule="C6", build=c6, room=15.0),
    "C7": Edge(rule="C7", build=c7, room=15.0),
    "C8": Edge(rule="C8", build=c8),
    "C10": Edge(rule="C10", build=c10),
}
