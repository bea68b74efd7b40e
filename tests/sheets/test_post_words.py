"""Posts are named by what is marked on them."""

from __future__ import annotations

from dataclasses import replace

from kilnpack.sheets.facts import Tightest, loading_facts
from kilnpack.sheets.post_words import post_marks, posts_measured, posts_words
from tests.sheets.small_works import LOAD, WORKS, tall_posts_works


def test_a_tier_is_said_by_the_marks_of_its_posts_from_the_lowest_up() -> None:
    """Guards the words a loader fetches posts by."""
    marks = {"P100": "100", "P50": "50"}
    assert posts_words(("P100", "P50"), marks) == "100 + 50"
    assert posts_words(("P50",), marks) == "50"
    assert posts_words((), marks) == "open top"


def test_the_measured_height_stands_beside_only_where_the_marks_do_not_say_it() -> None:
    """Guards the small print: 149.5 under a mark of 150, 150 + 50 in sum, nothing for one post as marked."""
    short = {post.code: post for post in tall_posts_works().furniture.posts}
    assert posts_measured([short["P150"]]) == "149.5 high"
    assert posts_measured([short["P150"], short["P50"]]) == "199.5 high"
    assert posts_measured([short["P50"]]) == ""
    assert posts_measured([]) == ""


def test_a_post_shrunk_in_use_keeps_its_mark_on_every_drawing() -> None:
    """Guards the whole sheet: no drawing and no tier names a post by its measured height."""
    facts = loading_facts(tall_posts_works(), LOAD, title="x", tightest=Tightest())
    a4 = next(tier for tier in facts.tiers if tier.name == "A4")
    assert (a4.posts, a4.posts_measured) == ("150", "149.5 high")
    assert "149.5" not in facts.elevation.body
    assert all("149.5" not in page.drawing.body for page in facts.pages)


def test_two_post_types_with_the_same_mark_are_told_by_code() -> None:
    """Guards against a mix of two posts that are marked alike but are not the same."""
    posts = tuple(replace(post, nominal_mm=100.0) if post.code == "P75" else post for post in WORKS.furniture.posts)
    works = replace(WORKS, furniture=replace(WORKS.furniture, posts=posts))
    marks = post_marks(works, LOAD)
    assert (marks["P100"], marks["P75"], marks["P50"]) == ("P100", "P75", "50")
