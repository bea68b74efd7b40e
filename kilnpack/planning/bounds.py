"""The fewest firings of each programme that can hold what is still to be fired: a bound that no plan goes under.

Pieces are counted as few as they can be: what stock further along gives is taken off, and every loss is rounded in the
pieces' favour. Of what a firing can hold, only what no packing gets round is taken:

- room: solid bodies do not overlap, so their volumes add up to no more than the chamber's section times its usable
  height;
- columns: over the foot of every body stand its shelf, the body and the headroom, and columns over feet on one shelf do
  not overlap, so they add up to no more than the shelves' area times the usable height;
- shelves: feet stand on shelves, so their areas add up to no more than all sound shelves have.

Bodies keep their gap, so each is grown by half of it, a foot by no more than it stays inside the shelf's edge. Each
piece is taken in the body that asks for least, stacked or bare. Nothing is assumed of densities, so the bound is low;
where it meets the plan, the plan has as few firings as there can be.
"""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from kilnpack.model.geometry import Disc, ExtrudedPart, TurnedPart
from kilnpack.model.loads import BodyForm
from kilnpack.model.orders import Lot, LotKind
from kilnpack.model.pieces import Stage
from kilnpack.model.plans import ProgrammeBound
from kilnpack.packing.firing_rules import FiringRules
from kilnpack.planning.estimate import region_mm2
from kilnpack.planning.routes import good_share, items_of, open_quantity
from kilnpack.planning.soonest import fewest_pieces, most_good
from kilnpack.shapes.bodies import stand

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from kilnpack.model.geometry import Outline, RoundedPolygon
    from kilnpack.model.kilns import Kiln
    from kilnpack.model.pieces import Product
    from kilnpack.model.programmes import Programme
    from kilnpack.model.works import Works
    from kilnpack.shapes.bodies import Body

MM3_PER_DM3 = 1e6
MM2_PER_DM2 = 1e4


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """What one piece, or a whole firing's worth of them, asks for at least."""

    room_dm3: float
    column_dm3: float
    shelf_dm2: float


def least_firings(works: Works, planned: Mapping[str, int]) -> tuple[ProgrammeBound, ...]:
    """Return the bound of every programme that something is still to be fired in, or that is planned.

    Parameters
    ----------
    works
        With order lines and lots.
    planned
        Firings of the plan by programme.
    """
    pieces = pieces_to_fire(works)
    found = []
    for programme in works.programmes:
        rows = {code: count for (code, p), count in pieces.items() if p == programme.code and count > 0}
        if not rows and not planned.get(programme.code):
            continue
        least, binds = _least(works, programme, rows)
        found.append(
            ProgrammeBound(
                programme=programme.code,
                least_firings=least,
                planned_firings=planned.get(programme.code, 0),
                binds=binds,
            )
        )
    return tuple(found)


def pieces_to_fire(works: Works) -> dict[tuple[str, str], int]:
    """Return the fewest pieces of each product that must go through each programme: (product, programme) -> pieces."""
    found: dict[tuple[str, str], int] = defaultdict(int)
    wanted: dict[tuple[str, str], int] = defaultdict(int)
    for line in works.lines:
        for code, count in items_of(works, line).items():
            wanted[code, line.code] += count * open_quantity(line)
    for product in works.products:
        lines = {line: count for (code, line), count in wanted.items() if code == product.code}
        for step, row in enumerate(product.route):
            found[product.code, row.programme] += _through(works, product, step, lines)
    return found


def _through(works: Works, product: Product, step: int, wanted: Mapping[str, int]) -> int:
    """Return the fewest pieces that must go into one firing of a product's route."""
    free, bound = 0, dict.fromkeys(wanted, 0)
    for lot in works.lots:
        if lot.product == product.code and lot.step > step and lot.kind not in {LotKind.SAMPLE, LotKind.FILLER}:
            good = most_good(product, lot.step, lot.pieces)
            if lot.order_line in bound:
                bound[lot.order_line] += good
            else:
                free += good
    if any(good_share(row) <= 0.0 for row in product.route):
        return 0
    need = sum(fewest_pieces(product, step, max(0, count - bound[line])) for line, count in wanted.items())
    saved = math.prod(math.ceil(1.0 / good_share(row)) for row in product.route[step:])
    return max(0, need - free * saved)


def _least(works: Works, programme: Programme, pieces: Mapping[str, int]) -> tuple[int, str]:
    """Return the fewest firings, and what asks for them."""
    if not pieces:
        return 0, ""
    need = {"room": 0.0, "columns": 0.0, "shelves": 0.0}
    kilns = [kiln for kiln in works.kilns if programme.code in kiln.programmes]
    for code, count in pieces.items():
        product = works.product(code)
        step = next(n for n, row in enumerate(product.route) if row.programme == programme.code)
        one = piece_need(works, product, step, kilns, programme)
        need["room"] += count * one.room_dm3
        need["columns"] += count * one.column_dm3
        need["shelves"] += count * one.shelf_dm2
    rooms = [_room(works, kiln) for kiln in kilns]
    have = {
        "room": max((row.room_dm3 for row in rooms), default=0.0),
        "columns": max((row.column_dm3 for row in rooms), default=0.0),
        "shelves": max((row.shelf_dm2 for row in rooms), default=0.0),
    }
    ratios = {name: need[name] / have[name] for name in need if have[name] > 0}
    if not ratios:
        return 1, "a kiln"
    binds = max(ratios, key=lambda name: (ratios[name], name))
    return max(1, math.ceil(ratios[binds] - 1e-9)), binds


def piece_need(works: Works, product: Product, step: int, kilns: Sequence[Kiln], programme: Programme) -> Need:
    """Return what a piece asks for at least, each figure in the body that asks for least of it."""
    lot = Lot(code="any", product=product.code, step=step, pieces=1)
    forms = {form for kiln in kilns for form in FiringRules(works, kiln, programme).forms(lot)[0]}
    forms = forms or {BodyForm(code="bare", shape=product.shape, stage=programme.stage)}
    settings = works.settings
    thinnest = min((row.thickness_mm for row in works.furniture.shelves), default=0.0)
    over = thinnest + min(settings.headroom_mm, settings.top_clear_mm)
    gap = {
        Stage.BISCUIT: settings.gap_biscuit_mm,
        Stage.GLOST: settings.gap_glost_mm,
        Stage.DECORATION: min(settings.gap_decoration_mm, settings.gap_decoration_hot_mm),
    }[programme.stage]
    needs = [_body_need(stand(works, form), over, gap / 2.0, min(gap / 2.0, settings.foot_edge_mm)) for form in forms]
    return Need(
        room_dm3=min(row.room_dm3 for row in needs),
        column_dm3=min(row.column_dm3 for row in needs),
        shelf_dm2=min(row.shelf_dm2 for row in needs),
    )


def _body_need(body: Body, over_mm: float, grown_mm: float, foot_grown_mm: float) -> Need:
    foot_mm2 = outline_mm2(body.foot, foot_grown_mm)
    return Need(
        room_dm3=max((_part_mm3(part, grown_mm) for part in body.parts), default=0.0) / MM3_PER_DM3 / body.pieces,
        column_dm3=foot_mm2 * (over_mm + body.top_mm) / MM3_PER_DM3 / body.pieces,
        shelf_dm2=foot_mm2 / MM2_PER_DM2 / body.pieces,
    )


def outline_mm2(outline: Outline, grown_mm: float = 0.0) -> float:
    """Return an area that lies inside a grown outline: that of its largest member, mm2."""
    return max((_member_mm2(member, grown_mm) for member in outline), default=0.0)


def _member_mm2(member: Disc | RoundedPolygon, grown_mm: float) -> float:
    if isinstance(member, Disc):
        return math.pi * (member.r_mm + grown_mm) ** 2
    corners = member.corners_mm
    pairs = list(zip(corners, corners[1:] + corners[:1], strict=True))
    area = abs(sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in pairs)) / 2.0
    around = sum(math.dist(one, other) for one, other in pairs)
    return area + around * (member.round_mm + grown_mm) + math.pi * (member.round_mm + grown_mm) ** 2


def _part_mm3(part: object, grown_mm: float) -> float:
    if isinstance(part, TurnedPart):
        rows = [(z, r + grown_mm) for z, r in part.profile_mm]
        return sum(
            math.pi / 3.0 * abs(z1 - z0) * (r0 * r0 + r0 * r1 + r1 * r1) for (z0, r0), (z1, r1) in pairwise(rows)
        )
    if isinstance(part, ExtrudedPart):
        return (part.to_z_mm - part.from_z_mm) * outline_mm2(part.outline, grown_mm)
    return 0.0


def _room(works: Works, kiln: Kiln) -> Need:
    """Return the most that a firing of a kiln has."""
    height = kiln.usable_height_mm
    shelves = {row.code: row for row in works.furniture.shelves}
    areas = [region_mm2(shelves[place.shelf].outline) for place in kiln.places if place.shelf in shelves]
    here = {place.shelf for place in kiln.places}
    stock = sum(row.sound_pieces * region_mm2(row.outline) for row in works.furniture.shelves if row.code in here)
    return Need(
        room_dm3=region_mm2(kiln.chamber) * height / MM3_PER_DM3,
        column_dm3=sum(areas) * height / MM3_PER_DM3,
        shelf_dm2=stock / MM2_PER_DM2,
    )
