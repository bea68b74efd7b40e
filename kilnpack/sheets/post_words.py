"""How posts are named on a sheet: by the height marked on them, which is how a loader finds them."""

from __future__ import annotations

import math
from collections import Counter
from typing import TYPE_CHECKING

from kilnpack.sheets.words import short_mm

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from kilnpack.model.furniture import PostType
    from kilnpack.model.loads import Load
    from kilnpack.model.works import Works

OPEN_TOP = "open top"
PLUS = " + "


def post_marks(works: Works, load: Load) -> dict[str, str]:
    """Return what is marked on each post type of a load; its code where two types of the load are marked alike."""
    used = {code for stack in load.stacks for tier in stack.tiers for code in tier.posts}
    marks = {post.code: short_mm(post.nominal_mm) for post in works.furniture.posts if post.code in used}
    alike = Counter(marks.values())
    return {code: code if alike[mark] > 1 else mark for code, mark in marks.items()}


def posts_words(posts: Sequence[str], marks: Mapping[str, str]) -> str:
    """Return the posts of a tier by their marks, lowest post first: "150 + 38"."""
    return PLUS.join(marks[code] for code in posts) if posts else OPEN_TOP


def posts_measured(posts: Sequence[PostType]) -> str:
    """Return how high posts stand in all, "187.2 high", where their marks do not already say it; else nothing."""
    height_mm = math.fsum(post.height_mm for post in posts)
    if len(posts) <= 1 and all(post.nominal_mm == post.height_mm for post in posts):
        return ""
    return f"{short_mm(height_mm)} high"
