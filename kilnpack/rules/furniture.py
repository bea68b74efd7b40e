"""Furniture: what stands the heat, and how posts and stubs carry a shelf (F1, F3, F4, F12, F14, C6)."""

from __future__ import annotations

from itertools import combinations_with_replacement
from typing import TYPE_CHECKING, TypeAlias

from kilnpack.model.pieces import Stage

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from kilnpack.model.furniture import PostType, Stub
    from kilnpack.model.pieces import RouteStep, Shape
    from kilnpack.model.settings import WorksSettings

Column: TypeAlias = tuple["tuple[PostType, ...]", float]
"""Posts end to end, the lowest first, and their height together, mm."""

NEAR_MM = 1e-9


def usable_posts(settings: WorksSettings, posts: Iterable[PostType], asked_degc: float) -> tuple[PostType, ...]:
    """F1, F4: post types that stand the heat and are even enough to stand alone.

    References
    ----------
    `furniture-suppliers` (F1); `pottery-forum`, `common-practice` (F4).
    """
    return tuple(
        post for post in posts if post.top_degc >= asked_degc and post.spread_mm <= settings.post_spread_mm + NEAR_MM
    )


def post_columns(settings: WorksSettings, posts: Sequence[PostType]) -> list[Column]:
    """F3, F4: every way posts may stand end to end, tallest lowest, slender and uneven ones left out.

    How uneven they are adds up over the posts of a column; its height is held against its narrowest post.

    References
    ----------
    `kiln-maker-guide`, `pottery-forum`; the ratios are from `memory`.
    """
    return [
        (parts, sum(post.height_mm for post in parts))
        for parts in _joined(posts, settings.posts_end_to_end_most)
        if _is_sturdy(settings, parts)
    ]


def _joined(posts: Sequence[PostType], most: int) -> Iterator[tuple[PostType, ...]]:
    for count in range(1, most + 1):
        for parts in combinations_with_replacement(posts, count):
            yield tuple(sorted(parts, key=lambda post: -post.height_mm))


def _is_sturdy(settings: WorksSettings, parts: tuple[PostType, ...]) -> bool:
    single, joined = settings.single_post_slender_ratio, settings.joined_post_slender_ratio
    ratio = single if len(parts) == 1 else joined
    even = sum(post.spread_mm for post in parts) <= settings.post_spread_mm + NEAR_MM
    return even and sum(post.height_mm for post in parts) <= ratio * min(post.side_mm for post in parts) + NEAR_MM


def usable_stubs(settings: WorksSettings, stubs: Iterable[Stub], asked_degc: float, points: int) -> list[Stub]:
    """F1, F14, C6: stubs that lift the bottom shelf far enough off the floor, stand the heat and are enough, low first.

    References
    ----------
    `common-practice` (F14); `kiln-maker-guide` (C6).
    """
    fit = [
        stub
        for stub in stubs
        if stub.top_degc >= asked_degc and stub.height_mm >= settings.bottom_clear_mm and stub.count_pieces >= points
    ]
    return sorted(fit, key=lambda stub: stub.height_mm)


def wants_flat(shape: Shape, step: RouteStep) -> bool:
    """F12: whether ware wants a shelf with a small bow: flatware in glost, and what asks for it.

    References
    ----------
    `pottery-forum`, `common-practice`.
    """
    return step.flat_shelf or (step.stage is Stage.GLOST and shape.flatware)
