"""The backlog in shelf-equivalents: how many shelves full are still to be fired, by the posts their height asks for."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from kilnpack.model.loads import BodyForm
from kilnpack.model.orders import in_zone
from kilnpack.model.pieces import Stage
from kilnpack.model.questions import BacklogByHeight, HeightClass
from kilnpack.planning.bounds import pieces_to_fire
from kilnpack.planning.estimate import extent_mm, region_mm2
from kilnpack.planning.ready import is_ready
from kilnpack.shapes.bodies import stand

if TYPE_CHECKING:
    from kilnpack.model.furniture import PostType, ShelfType
    from kilnpack.model.pieces import Product
    from kilnpack.model.programmes import Programme
    from kilnpack.model.works import Works


def backlog_by_height(works: Works) -> BacklogByHeight:
    """Return what is still to be fired by programme and height class, the lowest posts first.

    A piece covers the box round it, its gap included, as it stands alone; stacking in the biscuit is left out.
    """
    rows: dict[tuple[str, str, float], list[float]] = defaultdict(lambda: [0, 0, 0.0, 0.0])
    posts: dict[float, PostType] = {}
    for post in sorted(works.furniture.posts, key=lambda row: (row.height_mm, row.code)):
        posts.setdefault(post.height_mm, post)
    wanted = pieces_to_fire(works)
    for programme in works.programmes:
        shelf = _shelf(works, programme)
        if shelf is None:
            continue
        for product in works.products:
            pieces, ready = wanted.get((product.code, programme.code), 0), _ready(works, product, programme)
            if not max(pieces, ready):
                continue
            height_mm, covers_mm2 = _box(works, product, programme)
            room = next((room for room in posts if room + works.settings.tier_allowance_mm >= height_mm), float("inf"))
            row = rows[programme.code, shelf.code, room]
            for at, count in ((0, max(pieces, ready)), (1, ready)):
                row[at] += count
                row[at + 2] += count * covers_mm2 / region_mm2(shelf.outline)
    order = {row.code: number for number, row in enumerate(works.programmes)}
    classes = tuple(
        HeightClass(
            programme=programme,
            shelf=shelf_code,
            posts=posts[room].code if room in posts else None,
            room_mm=room if room in posts else None,
            pieces=int(row[0]),
            ready_pieces=int(row[1]),
            all_shelves=row[2],
            ready_shelves=row[3],
        )
        for (programme, shelf_code, room), row in sorted(rows.items(), key=lambda each: (order[each[0][0]], each[0][2]))
    )
    return BacklogByHeight(works=works.name, now=in_zone(works.now, works.calendar.time_zone), classes=classes)


def _shelf(works: Works, programme: Programme) -> ShelfType | None:
    """Return the shelf that most places of the kilns that fire a programme carry."""
    places = [place.shelf for kiln in works.kilns if programme.code in kiln.programmes for place in kiln.places]
    known = {row.code: row for row in works.furniture.shelves}
    codes = sorted({code for code in places if code in known}, key=lambda code: (-places.count(code), code))
    return known[codes[0]] if codes else None


def _ready(works: Works, product: Product, programme: Programme) -> int:
    """Return the pieces of a product that could go into a firing of a programme now."""
    return sum(
        lot.pieces for lot in works.lots if lot.product == product.code and is_ready(works, lot, programme, works.now)
    )


def _box(works: Works, product: Product, programme: Programme) -> tuple[float, float]:
    """Return the height of a piece with its headroom (mm), and what it covers with its gap (mm2)."""
    settings = works.settings
    body = stand(works, BodyForm(code="bare", shape=product.shape, stage=programme.stage))
    gap = {
        Stage.BISCUIT: settings.gap_biscuit_mm,
        Stage.GLOST: settings.gap_glost_mm,
        Stage.DECORATION: settings.gap_decoration_mm,
    }[programme.stage] + settings.placing_mm
    wide, deep = extent_mm(body)
    return body.top_mm + settings.headroom_mm, (wide + gap) * (deep + gap)
