"""What a works folder holds, in a few lines."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from kilnpack.model.works import Works


def summary(works: Works) -> tuple[tuple[str, str], ...]:
    """Return what was read of a works as pairs of words: what, how much."""
    furniture = works.furniture
    shelves = sum(shelf.sound_pieces for shelf in furniture.shelves)
    posts = sum(post.count_pieces for post in furniture.posts)
    ordered = sum(line.quantity_pieces - line.delivered_pieces for line in works.lines)
    stages: dict[str, int] = {}
    for lot in works.lots:
        route = works.product(lot.product).route
        stage = f"before {route[lot.step].stage.value}" if lot.step < len(route) else "finished"
        stages[stage] = stages.get(stage, 0) + lot.pieces
    pieces = ", ".join(f"{count} {stage}" for stage, count in stages.items())
    return (
        ("works", f"{works.name}, {works.now.isoformat(' ', 'minutes')}"),
        ("kilns", ", ".join(kiln.code for kiln in works.kilns) or "none"),
        ("programmes", ", ".join(f"{one.code} {one.peak_degc:g} degC" for one in works.programmes) or "none"),
        ("shapes", str(len(works.shapes))),
        ("products", f"{len(works.products)}, and {len(works.sets)} sets"),
        ("furniture", f"{shelves} sound shelves, {posts} posts"),
        ("order lines", f"{len(works.lines)}, {ordered} pieces or sets to deliver"),
        ("lots", f"{len(works.lots)}{': ' if pieces else ''}{pieces}"),
    )
