"""What if there were one more shelf, four more posts, lower ware: works changed in one thing, to be packed again."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from kilnpack.packing.firing_rules import FiringRules

if TYPE_CHECKING:
    from collections.abc import Iterator

    from kilnpack.model.furniture import PostType, ShelfType
    from kilnpack.model.kilns import Kiln
    from kilnpack.model.programmes import Programme
    from kilnpack.model.settings import WorksSettings
    from kilnpack.model.works import Works

LOWER_MM = 5.0
LEAST_HEADROOM_MM = 6.0
"""Less than this over the ware is not proposed: a rim must not touch the shelf that sags above it."""
MORE_OVERHANG_MM = 10.0
MOST_OVERHANG_MM = 40.0
FINER_TURN_DEG = 5.0
NO_LIMIT = 999


@dataclass(frozen=True, slots=True)
class WhatIf:
    """A works that differs in one thing, and that thing in words."""

    what: str
    works: Works


def what_ifs(works: Works, kiln: Kiln, programme: Programme) -> list[WhatIf]:
    """Return the works as it is, first, and one for every change worth asking about for this firing."""
    rules = FiringRules(works, kiln, programme)
    found = [WhatIf("as it is", works)]
    found += _shelves(rules)
    found += _posts(rules)
    found += _limits(rules)
    return found


def _shelves(rules: FiringRules) -> Iterator[WhatIf]:
    used = {shelf.code: shelf for place in rules.kiln.places if (shelf := rules.shelf(place)) is not None}
    for shelf in used.values():
        yield WhatIf(f"1 more shelf {shelf.code}", _with_shelf(rules.works, shelf))


def _with_shelf(works: Works, shelf: ShelfType) -> Works:
    flat = min(range(len(shelf.lots)), key=lambda k: shelf.lots[k].bow_mm)
    lots = tuple(replace(lot, count_pieces=lot.count_pieces + (k == flat)) for k, lot in enumerate(shelf.lots))
    shelves = tuple(replace(row, lots=lots) if row.code == shelf.code else row for row in works.furniture.shelves)
    return replace(works, furniture=replace(works.furniture, shelves=shelves))


def _posts(rules: FiringRules) -> Iterator[WhatIf]:
    """One tier's posts more of every height that may be used in this heat."""
    points = max((len(shelf.posts_mm) for place in rules.kiln.places if (shelf := rules.shelf(place))), default=0)
    for post in rules.posts if points else ():
        words = f"{points} more posts of {post.nominal_mm:g} ({post.code})"
        yield WhatIf(words, _with_posts(rules.works, post, points))


def _with_posts(works: Works, post: PostType, count: int) -> Works:
    posts = tuple(
        replace(row, count_pieces=row.count_pieces + count) if row.code == post.code else row
        for row in works.furniture.posts
    )
    return replace(works, furniture=replace(works.furniture, posts=posts))


def _limits(rules: FiringRules) -> Iterator[WhatIf]:
    """Other numbers of the works: lower ware, more overhang, no limit of settings, finer turns."""
    settings = rules.settings
    lower_mm = min(LOWER_MM, settings.headroom_mm - LEAST_HEADROOM_MM)
    if lower_mm > 0:
        words = f"ware {lower_mm:g} mm lower, or so much less headroom (now {settings.headroom_mm:g})"
        yield _with(rules.works, words, replace(settings, headroom_mm=settings.headroom_mm - lower_mm))
    over_mm = min(MOST_OVERHANG_MM, settings.overhang_most_mm + MORE_OVERHANG_MM)
    if over_mm > settings.overhang_most_mm:
        words = f"rims {over_mm:g} mm over the shelf edge (now {settings.overhang_most_mm:g})"
        yield _with(rules.works, words, replace(settings, overhang_most_mm=over_mm))
    words = f"no limit of different settings (now {settings.settings_most})"
    yield _with(rules.works, words, replace(settings, settings_most=NO_LIMIT))
    if settings.turn_step_deg > FINER_TURN_DEG:
        words = f"turns in steps of {FINER_TURN_DEG:g} degrees (now {settings.turn_step_deg:g})"
        yield _with(rules.works, words, replace(settings, turn_step_deg=FINER_TURN_DEG))


def _with(works: Works, words: str, settings: WorksSettings) -> WhatIf:
    return WhatIf(words, replace(works, settings=settings))
