"""Preferences missed are remarks, never findings; and the measuring of bodies agrees with sampling points in space."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kilnpack.model.geometry import Disc, ExtrudedPart, Rectangle, RoundedPolygon, TurnedPart
from kilnpack.model.kilns import KeepOut, OffsetMap, OffsetReading, WallKind
from kilnpack.model.loads import BodyForm
from kilnpack.model.pieces import Stage
from kilnpack.rules.check_notes import Notes, Tight
from kilnpack.rules.check_room import Gaps
from kilnpack.rules.check_solids import NEVER_MM, between_mm, past_mm, solid, way_down, widest_mm
from kilnpack.rules.checker import audit
from kilnpack.shapes.outlines import region_polygon
from tests.rules.small_audit import (
    rewrite,
    small_load,
    small_works,
    with_fills,
    with_form,
    with_kiln,
    with_settings,
    with_standing,
)

if TYPE_CHECKING:
    from kilnpack.model.loads import Load
    from kilnpack.model.works import Works


def remarks(works: Works, load: Load, rule: str) -> list[str]:
    """Return the remarks of one rule; the load has no finding."""
    found = audit(works, load)
    assert found.findings == ()
    return [line for line in found.remarks if line.startswith(f"{rule}:")]


def test_furniture_that_outweighs_the_ware() -> None:
    """Guards F11: four shelves of 4 kg and eight posts of 0.4 kg against 4.4 kg of ware in twelve pieces."""
    assert remarks(small_works(), small_load(), "F11") == ["F11: 19 kg of furniture for 4 kg of ware, 1.60 kg a piece"]
    works = small_works()
    works = replace(works, shapes=rewrite(works.shapes, "CUP", glazed_kg=5.0))
    assert remarks(works, small_load(), "F11") == []


def test_open_section_of_a_gas_kiln() -> None:
    """Guards C9: two shelves of 400 x 350 in a section of 1000 x 600 leave 1 - 0.28 / 0.6 = 53 %."""
    works = with_kiln(small_works(), wall=WallKind.GAS)
    assert remarks(works, small_load(), "C9") == []
    works = with_settings(works, flame_open_share=0.54)
    assert remarks(works, small_load(), "C9") == ["C9: 53% of the section open at 35 mm, 54% wanted for the flame"]


def test_large_flatware() -> None:
    """Guards W11: not on the bottom tier, and on pins in decoration."""
    works = with_settings(small_works(), large_flat_mm=119, pin_flat_mm=119)
    assert remarks(works, small_load(), "W11") == []
    low = small_load(Stage.DECORATION)
    low = replace(low, stacks=tuple(replace(stack, tiers=stack.tiers[:1]) for stack in low.stacks))
    low = with_standing(low, "LOW", 2, form="PLATE", x_mm=260, y_mm=180)
    for place in ("A", "B"):
        low = with_fills(low, lambda fill: replace(fill, lot="PLATE2") if fill.place == 2 else fill, place=place)
    tops = tuple(replace(stack, tiers=(replace(stack.tiers[0], posts=(), room_mm=735.0),)) for stack in low.stacks)
    assert remarks(works, replace(low, stacks=tops), "W11") == [
        "W11: 2 of flatware over 119 mm on the bottom tier",
        "W11: 2 of flatware over 119 mm without pins",
    ]
    pins = with_form(small_load(Stage.DECORATION), "PLATE", support="STILT")
    assert remarks(works, pins, "W11") == []


def test_turns_and_handles() -> None:
    """Guards W12: a mug turned by 7 degrees, and one whose handle points at an element."""
    assert remarks(small_works(), small_load(), "W12") == []
    odd = with_standing(small_load(), "LOW", 3, turn_deg=7.0)
    assert remarks(small_works(), odd, "W12") == ["W12: 2 bodies turned off the steps of 15 degrees"]
    assert remarks(with_settings(small_works(), turn_step_deg=0.0), odd, "W12") == []
    element = KeepOut(
        code="E", what="element", outline=Rectangle(x_mm=255, y_mm=485, w_mm=10, d_mm=5), from_z_mm=50, to_z_mm=80
    )
    works = with_kiln(small_works(), keep_outs=(element,))
    works = with_settings(works, shelf_wall_electric_mm=13)
    facing = with_standing(small_load(), "LOW", 3, turn_deg=90.0, y_mm=255.0)
    lines = audit(works, facing).remarks
    assert "W12: 1 handles point at an element or flame close by" in lines


def test_many_settings() -> None:
    """Guards W14: two different settings where one is wanted."""
    assert remarks(with_settings(small_works(), settings_most=2), small_load(), "W14") == []
    works = with_settings(small_works(), settings_most=1)
    assert remarks(works, small_load(), "W14") == ["W14: 2 different settings, at most 1 wanted"]


def test_ware_in_many_settings() -> None:
    """Guards W14: cups in both settings of a load where each kind of ware shall stand in one of them."""
    load = with_standing(small_load(), "HIGH", 1, form="CUP", x_mm=310.0, y_mm=265.0)
    for place in ("A", "B"):
        load = with_fills(load, lambda fill: replace(fill, lot="CUP1") if fill.lot == "SAUCER1" else fill, 2, place)
    assert remarks(with_settings(small_works(), settings_per_ware_most=2), load, "W14") == []
    works = with_settings(small_works(), settings_per_ware_most=1)
    assert remarks(works, load, "W14") == ["W14: CUP in 2 different settings, at most 1 wanted"]


def test_matching_pieces_at_one_heat() -> None:
    """Guards Z3: cups of one order line at the left and at the right of a kiln that is 20 K uneven."""
    works = small_works()
    works = replace(
        works,
        products=rewrite(works.products, "CUP", matching_k=5.0),
        lots=rewrite(works.lots, "CUP1", order_line="1/1"),
    )
    assert remarks(works, small_load(), "Z3") == []
    ends = tuple(OffsetReading(x_mm=x, y_mm=300, z_mm=40, offset_k=k) for x, k in ((0, -10.0), (1000, 10.0)))
    works = with_kiln(works, offsets=(OffsetMap(stage=Stage.GLOST, readings=ends),))
    assert len(remarks(works, small_load(), "Z3")) == 1


def test_even_mass() -> None:
    """Guards Z6 and Z7: tiers, sides, height and the least mass of ware."""
    assert remarks(small_works(), small_load(), "Z6") == []
    assert len(remarks(with_settings(small_works(), tier_mass_ratio=1.01), small_load(), "Z6")) == 1
    one_side = replace(small_load(Stage.BISCUIT), stacks=small_load(Stage.BISCUIT).stacks[:1], cone_packs=())
    works = with_kiln(small_works(), peepholes=())
    assert remarks(works, one_side, "Z6") == ["Z6: 2 kg of ware left and 0 kg right, at most 1.3 times wanted"]
    lines = remarks(with_kiln(small_works(), usual_ware_kg=20, least_ware_kg=9), small_load(), "Z7")
    assert lines == ["Z7: 4.2 kg of ware, at least 9 kg wanted: add fillers"]


def test_a_load_high_in_the_kiln() -> None:
    """Guards Z6: the middle of the mass at 122 mm in a kiln of 240 mm."""
    load = small_load()
    for stack in load.stacks:
        upper = replace(stack.tiers[1], room_mm=13.0, fills=(), setting="NONE")
        load = replace(
            load,
            stacks=tuple(
                replace(row, tiers=(row.tiers[0], upper)) if row.place == stack.place else row for row in load.stacks
            ),
        )
    empty = replace(load.setting("HIGH"), code="NONE", standings=())
    load = replace(load, settings=(load.setting("LOW"), empty))
    works = with_kiln(small_works(), usable_height_mm=240)
    works = replace(works, furniture=replace(works.furniture, shelves=works.furniture.shelves[:1]))
    light = replace(works, shapes=tuple(replace(shape, glazed_kg=0.01) for shape in works.shapes))
    lines = remarks(light, load, "Z6")
    assert lines == ["Z6: centre of mass at 121 mm, above the middle of the kiln"]


def test_bodies_that_share_no_height_have_no_gap() -> None:
    """Guards the tightest gap: a bowl hung over a saucer is nowhere beside it."""
    works = small_works()
    shapes = rewrite(works.shapes, "BOWL", parts=(TurnedPart(profile_mm=((20, 60), (60, 70))),))
    works = replace(works, shapes=shapes)
    load = with_standing(small_load(), "HIGH", 3, x_mm=110, y_mm=270)
    found = audit(works, load)
    assert found.tightest_gap is not None
    assert found.tightest_gap.mm < 100


def test_bodies_of_two_stacks_that_share_no_height_have_no_gap() -> None:
    """Guards the tightest gap across stacks: a hung bowl of one stack is nowhere beside the saucer of the other."""
    works = small_works()
    shapes = rewrite(works.shapes, "BOWL", parts=(TurnedPart(profile_mm=((20, 60), (60, 70))),))
    places = (works.kilns[0].places[0], replace(works.kilns[0].places[1], x_mm=472.0))
    works = with_kiln(replace(works, shapes=shapes), places=places, peepholes=())
    load = replace(small_load(Stage.BISCUIT), cone_packs=())
    tops = {"A": ("SAUCER", 345.0), "B": ("BOWL", 75.0)}
    settings, stacks = [], []
    for stack in load.stacks:
        form, x_mm = tops[stack.place]
        at = replace(load.setting("HIGH").standings[0], form=form, x_mm=x_mm, y_mm=175.0)
        settings.append(replace(load.setting("HIGH"), code=form, standings=(at,)))
        fill = replace(stack.tiers[1].fills[0], lot=f"{form}0")
        low = replace(stack.tiers[0], setting="NONE", fills=())
        stacks.append(replace(stack, tiers=(low, replace(stack.tiers[1], setting=form, fills=(fill,)))))
    empty = replace(load.setting("HIGH"), code="NONE", standings=())
    found = audit(works, replace(load, settings=(*settings, empty), stacks=tuple(stacks)))
    assert found.findings == ()
    assert found.tightest_gap is None


def test_notes_keep_each_line_once_and_the_tightest() -> None:
    """Guards the report: no line twice, the narrower of two gaps and the lower of two headrooms."""
    notes = Notes(name="K P")
    for _ in range(2):
        notes.fault("C1", "here", "1", "2")
        notes.remark("Z7", "little ware")
    for mm in (5.0, 3.0, 4.0):
        notes.gap(Tight(mm=mm, place="A", tier=1, what="a and b"))
        notes.headroom(Tight(mm=mm, place="A", tier=1, what="a"))
    assert (len(notes.findings), len(notes.remarks)) == (1, 1)
    assert notes.tightest_gap == Tight(mm=3.0, place="A", tier=1, what="a and b")
    assert notes.tightest_headroom == Tight(mm=3.0, place="A", tier=1, what="a")


# --- measuring --------------------------------------------------------------------------------------------------------

PROFILES = st.lists(
    st.tuples(st.integers(0, 12).map(lambda k: 5.0 * k), st.integers(0, 8).map(lambda k: 5.0 * k)),
    min_size=2,
    max_size=6,
).map(lambda rows: tuple(sorted(rows, key=lambda row: row[0])))


def _section(profile: tuple[tuple[float, float], ...], z: float) -> float | None:
    """Return the radius at a height off the corners, plain interpolation."""
    heights = [row[0] for row in profile]
    if not heights[0] <= z <= heights[-1]:
        return None
    return float(np.interp(z, heights, [row[1] for row in profile]))


@given(first=PROFILES, second=PROFILES)
def test_widest_sum_against_sampling(
    first: tuple[tuple[float, float], ...], second: tuple[tuple[float, float], ...]
) -> None:
    """Guards W3: the greatest sum of two radii over common heights, against heights sampled between the corners."""
    found = widest_mm(first, second)
    sums = [
        a + b
        for z in np.arange(0.005, 60.0, 0.1)
        if (a := _section(first, z)) is not None and (b := _section(second, z)) is not None
    ]
    if not sums:
        touching = max(first[0][0], second[0][0]) == min(first[-1][0], second[-1][0])
        assert touching or found == NEVER_MM
        return
    assert max(sums) <= found + 1e-9
    corners = {row[0] for row in first + second}
    if len(corners) == len(first) + len(second):
        assert max(sums) >= found - 1.7


@given(profile=PROFILES)
def test_way_down_against_sampling(profile: tuple[tuple[float, float], ...]) -> None:
    """Guards W13: at every height the way down is as wide as the widest section at or below it."""
    way = way_down(profile)
    for z in np.arange(profile[0][0] + 0.005, profile[-1][0], 2.5):
        below = max(_section(profile, low) or 0.0 for low in np.arange(profile[0][0] + 0.005, z + 1e-6, 0.5))
        steps = [r for level, r in profile if level <= z]
        assert between_mm(way, z, z) == pytest.approx(max(below, *steps, _section(profile, z) or 0.0), abs=1e-6)


@pytest.mark.parametrize("seed", range(8))
def test_gap_of_two_mugs_against_points_in_space(seed: int) -> None:
    """Guards C1: surface points of two mugs with handles, taken at common heights, come as near as the checker says."""
    dice = np.random.default_rng(seed)
    turn = float(dice.uniform(0, 360))
    load = with_standing(small_load(), "LOW", 3, turn_deg=turn, x_mm=200.0, y_mm=250.0)
    load = with_standing(load, "LOW", 1, form="MUG", turn_deg=float(dice.uniform(0, 360)), x_mm=60.0, y_mm=250.0)
    notes = Notes(name="K GLO")
    from kilnpack.rules.check_codes import resolve

    scene = resolve(small_works(), load, small_works().lots, notes)
    assert scene is not None
    level = scene.levels[0]
    measured = {(i, j): gap for i, j, gap in Gaps(scene).of(level)}[0, 2]
    rings = [_mug_points(level.bodies[k].standing.x_mm, 250.0, level.bodies[k].standing.turn_deg) for k in (0, 2)]
    nearest = min(
        float(np.min(np.linalg.norm(one[:, None, :] - other[None, :, :], axis=2)))
        for one, other in ((rings[0][z], rings[1][z]) for z in (10.0, 45.0, 80.0))
    )
    assert nearest == pytest.approx(measured, abs=0.15)


def _mug_points(x: float, y: float, turn_deg: float) -> dict[float, np.ndarray]:
    """Return points of a mug's sections: a circle of 35 mm; from 20 to 70 mm also a handle to 60 mm, 6 mm round."""
    around = np.radians(np.arange(0.0, 360.0, 0.5))
    circle = 35.0 * np.stack([np.cos(around), np.sin(around)], axis=1)
    tip = np.array([60.0, 0.0]) + 6.0 * np.stack([np.cos(around), np.sin(around)], axis=1)
    along = np.arange(35.0, 60.0, 0.25)
    sides = np.concatenate([np.stack([along, np.full_like(along, side)], axis=1) for side in (-6.0, 6.0)])
    turn = math.radians(turn_deg)
    matrix = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    with_handle = np.concatenate([circle, tip, sides])
    return {z: (with_handle if 20 <= z <= 70 else circle) @ matrix + (x, y) for z in (10.0, 45.0, 80.0)}


def test_how_far_cores_reach_past_an_edge() -> None:
    """Guards W2 and C4: inside, over one edge, and beyond a corner (3-4-5) of a rectangle 100 x 80."""
    works = small_works()
    foot = (
        Disc(r_mm=5),
        RoundedPolygon(corners_mm=((-10.0, -10.0), (10.0, -10.0), (0.0, 20.0)), round_mm=2),
        RoundedPolygon(corners_mm=((30.0, 0.0), (40.0, 0.0)), round_mm=1),
    )
    block = ExtrudedPart(from_z_mm=0, to_z_mm=10, outline=foot)
    works = replace(works, shapes=rewrite(works.shapes, "CUP", foot=foot, parts=(block,)))
    built = solid(works, BodyForm(code="CUP", shape="CUP", stage=Stage.GLOST))
    region = region_polygon(Rectangle(w_mm=100, d_mm=80))
    from kilnpack.rules.check_solids import moved

    at = past_mm(region, moved(built.cores, 50, 40, 0), built.radii_mm)
    assert at == pytest.approx([5 - 40, 2 - 20, 1 - 10])
    out = past_mm(region, moved(built.cores, 103, 84, 0), built.radii_mm)
    assert out[0] == pytest.approx(5 + 5)
    assert built.rim_reach_mm == built.foot_reach_mm == pytest.approx(41.0)
    # The triangle's edge from (10, -10) to (0, 20): distance of the axis 200 / sqrt(1000), grown by 2 mm.
    assert built.foot_inner_mm == pytest.approx(200 / math.sqrt(1000) + 2)
