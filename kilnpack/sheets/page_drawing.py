"""The top view of one setting page, for all of its tiers or for some of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from kilnpack.sheets.marks import marks_of
from kilnpack.sheets.post_words import post_marks, posts_words
from kilnpack.sheets.tones import PLAIN
from kilnpack.sheets.top_view import Look, TopView, best_scale, draw_top_view, legible_tall_mm

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from kilnpack.model.loads import Load, PlaceFill
    from kilnpack.model.works import Works
    from kilnpack.sheets.figures import Figure
    from kilnpack.sheets.frames import ShelfView
    from kilnpack.sheets.order import Page, TierPlace
    from kilnpack.sheets.rows import Row, Spot
    from kilnpack.sheets.svg import Drawing
    from kilnpack.sheets.tones import Tone

VIEW_WIDE_MM = 190.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PageDrawer:
    """Draws the top view of one page for all of its tiers or for some of them."""

    works: Works
    load: Load
    page: Page
    view: ShelfView
    spots: tuple[Spot, ...]
    rows: tuple[Row, ...]
    figures: Mapping[str, Figure]
    tones: Mapping[str, Tone]

    def draw(self, tiers: Sequence[TierPlace], tall_mm: float, *, name: str = "all") -> tuple[float, Drawing]:
        """Return the scale and the drawing, with what the tiers agree on and the rulers of its rows."""
        top = self._top(tiers)
        one_to = best_scale(top, self.figures, width_mm=VIEW_WIDE_MM, height_mm=tall_mm)
        return one_to, draw_top_view(top, self.figures, one_to=one_to, prefix=f"s{self.page.name}-{name}-")

    def legible_tall_mm(self) -> float:
        """Return how tall the drawing must be on paper for every place number to be read, mm."""
        return legible_tall_mm(self._top(self.page.tiers), self.figures, width_mm=VIEW_WIDE_MM)

    def _top(self, tiers: Sequence[TierPlace]) -> TopView:
        return TopView(
            title=f"Setting {self.page.name} from above: {', '.join(row.name for row in tiers)}",
            view=self.view,
            spots=self.spots,
            rows=self.rows,
            looks=_looks(self.works, self.load, self.spots, [row.tier.fills for row in tiers], self.tones),
            post_side_mm=_post_side(self.works, tiers),
            post_words=_post_words(self.works, self.load, tiers),
            marks=marks_of(self.works, self.load, self.view, tiers),
        )


def _looks(
    works: Works,
    load: Load,
    spots: Sequence[Spot],
    fills: Sequence[Sequence[PlaceFill]],
    tones: Mapping[str, Tone],
) -> dict[int, Look]:
    """Tone and code of every place: those of its product, or plain where the tiers do not agree."""
    products: dict[int, set[str]] = {}
    for rows in fills:
        for fill in rows:
            products.setdefault(fill.place, set()).add(works.lot(fill.lot).product)
    looks = {}
    for spot in spots:
        found = products.get(spot.place, set())
        code = next(iter(found)) if len(found) == 1 else ""
        looks[spot.place] = Look(tone=tones.get(code, PLAIN), code=code, pieces=load.form(spot.form).pieces)
    return looks


def _post_side(works: Works, tiers: Sequence[TierPlace]) -> float | None:
    """Side of the thickest post that stands on the page's shelves; None where all tiers are open at the top."""
    sides = {post.code: post.side_mm for post in works.furniture.posts}
    return max((sides[code] for row in tiers for code in row.tier.posts), default=None)


def _post_words(works: Works, load: Load, tiers: Sequence[TierPlace]) -> str:
    """Marks of the posts where all tiers with posts have the same ones, else nothing."""
    marks = post_marks(works, load)
    said = {posts_words(row.tier.posts, marks) for row in tiers if row.tier.posts}
    return said.pop() if len(said) == 1 else ""
