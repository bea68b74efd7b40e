"""How much of a kiln a piece takes, before anything is packed: what it covers times its height, over the kiln's room.

An estimate steers which firing comes next and saves packing what cannot fit. It is never the answer: what a firing
holds comes from the packer. It learns: `Learned` takes the share that a full load of the packer really reached.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Protocol

from kilnpack.model.geometry import Disc, HalfDisc, Rectangle
from kilnpack.model.loads import BodyForm
from kilnpack.model.pieces import StackWay, Stage
from kilnpack.shapes.bodies import stand

if TYPE_CHECKING:
    from kilnpack.model.furniture import ShelfType
    from kilnpack.model.geometry import Region
    from kilnpack.model.kilns import Kiln
    from kilnpack.model.pieces import Shape
    from kilnpack.model.programmes import Programme
    from kilnpack.model.works import Works
    from kilnpack.shapes.bodies import Body

FIRST_DENSITY_SHARE = 0.5
"""Share of the bare room that a full load is taken to cover until one was packed. From memory."""

FADING_SHARE = 0.05
"""How much a load that is less full than the fullest one moves the estimate."""


class Estimate(Protocol):
    """Says what share of a full kiln one piece of a product takes before a firing."""

    def piece_share(self, kiln: Kiln, programme: Programme, product: str, step: int) -> float:
        """Share of a full load of this kiln and programme that one piece takes."""


def region_mm2(region: Region) -> float:
    """Return the area of a region, mm2."""
    if isinstance(region, Rectangle):
        return region.w_mm * region.d_mm
    if isinstance(region, Disc):
        return 3.141592653589793 * region.r_mm**2
    if isinstance(region, HalfDisc):
        return 3.141592653589793 * region.r_mm**2 / 2
    corners = region.corners_mm
    pairs = zip(corners, corners[1:] + corners[:1], strict=True)
    return abs(sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in pairs)) / 2


@dataclass(slots=True)
class AreaHeight:
    """Area times height of the smallest body a piece may stand in, over shelf area times usable height.

    `density_share` is learnt by kiln and programme.
    """

    works: Works
    density_share: dict[tuple[str, str], float] = field(default_factory=dict)
    _piece_dm3: dict[tuple[str, str], float] = field(default_factory=dict)

    def piece_share(self, kiln: Kiln, programme: Programme, product: str, step: int) -> float:
        """Share of a full load of this kiln and programme that one piece takes."""
        del step
        room = self.room_dm3(kiln) * self.density_share.get((kiln.code, programme.code), FIRST_DENSITY_SHARE)
        return self.piece_dm3(product, programme.stage) / room if room > 0 else float("inf")

    def learn(self, kiln: Kiln, programme: Programme, taken: dict[tuple[str, int], int]) -> None:
        """Take a load that left ware out as full: what it holds, by product and step, is what fits.

        A load may also be small because furniture was elsewhere: the fullest one counts, and fades slowly.
        """
        room = self.room_dm3(kiln)
        held = sum(self.piece_dm3(product, programme.stage) * pieces for (product, _), pieces in taken.items())
        if room > 0 and held > 0:
            key = (kiln.code, programme.code)
            before = self.density_share.get(key, held / room)
            self.density_share[key] = max(held / room, (1.0 - FADING_SHARE) * before + FADING_SHARE * held / room)

    def room_dm3(self, kiln: Kiln) -> float:
        """Shelf area times usable height, all stacks, dm3."""
        shelves = {shelf.code: shelf for shelf in self.works.furniture.shelves}
        area = sum(region_mm2(_outline(shelves[p.shelf])) for p in kiln.places if p.shelf in shelves)
        return area * kiln.usable_height_mm / 1e6

    def piece_dm3(self, product: str, stage: Stage) -> float:
        """Room a piece takes in its thriftiest body, gap and headroom included, dm3."""
        shape = self.works.shape(self.works.product(product).shape)
        key = (shape.code, stage.value)
        if key not in self._piece_dm3:
            self._piece_dm3[key] = min(self._body_dm3(stand(self.works, form)) for form in _forms(shape, stage))
        return self._piece_dm3[key]

    def _body_dm3(self, body: Body) -> float:
        width, depth = extent_mm(body)
        gap = self.works.settings.gap_glost_mm
        height = body.top_mm + self.works.settings.headroom_mm
        return 0.85 * (width + gap) * (depth + gap) * height / 1e6 / body.pieces


def _outline(shelf: ShelfType) -> Region:
    return shelf.outline


def _forms(shape: Shape, stage: Stage) -> list[BodyForm]:
    """Return the bare form, and in biscuit the tallest stack of each way."""
    forms = [BodyForm(code="bare", shape=shape.code, stage=stage)]
    if stage is not Stage.BISCUIT:
        return forms
    for row in shape.stackings:
        most = row.most_pieces if row.way is not StackWay.PILED else min(row.most_pieces, row.bare_most_pieces)
        if most > 1:
            forms.append(BodyForm(code=row.way.value, shape=shape.code, stage=stage, way=row.way, pieces=most))
    return forms


def extent_mm(body: Body) -> tuple[float, float]:
    """Return width and depth of the box round a body, mm."""
    xs: list[float] = []
    ys: list[float] = []
    for part in body.parts:
        for x, y, r in _rounds(part):
            xs += [x - r, x + r]
            ys += [y - r, y + r]
    return max(xs) - min(xs), max(ys) - min(ys)


def _rounds(part: object) -> list[tuple[float, float, float]]:
    """Return discs whose hull holds a part."""
    from kilnpack.model.geometry import ExtrudedPart, TurnedPart

    if isinstance(part, TurnedPart):
        return [(part.x_mm, part.y_mm, max(r for _, r in part.profile_mm))]
    found: list[tuple[float, float, float]] = []
    if isinstance(part, ExtrudedPart):
        for member in part.outline:
            if isinstance(member, Disc):
                found.append((member.x_mm, member.y_mm, member.r_mm))
            else:
                found += [(x, y, member.round_mm) for x, y in member.corners_mm]
    return found
