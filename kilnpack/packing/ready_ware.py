"""What is ready, sorted into groups of like ware, and every way its bodies may stand.

Lots whose pieces may stand in the same forms, under the same heat and on the same shelves, form one group: any of its
places may be filled from any of its lots.
"""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

import shapely

from kilnpack.model.furniture import Setter
from kilnpack.model.loads import LeftOut
from kilnpack.packing.covers import cover_of, foot_reach_mm, outline_axes
from kilnpack.packing.late import LATE_FACTOR, is_late
from kilnpack.packing.problem import Ware
from kilnpack.packing.worth import lot_factor, setting_volume_dm3
from kilnpack.shapes.bodies import Body, stand
from kilnpack.shapes.primitives import Primitive, ShelfBody

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from kilnpack.model.loads import BodyForm
    from kilnpack.model.orders import Lot
    from kilnpack.model.works import Works
    from kilnpack.packing.firing_rules import FiringRules

COVER_MM = 0.4
"""Half of what the cover of a body may stand out over its outline."""

QUARTERS_DEG = (0.0, 90.0, 180.0, 270.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Like ware: its lots with the most worthwhile first, its window and whether it wants a flat shelf."""

    lots: tuple[Lot, ...]
    forms: tuple[BodyForm, ...]
    low_degc: float | None
    high_degc: float | None
    flat: bool
    late: bool = False
    """True for pieces that are not there yet: their places are kept free."""

    @property
    def pieces(self) -> int:
        """All pieces of the group."""
        return sum(lot.pieces for lot in self.lots)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadyWare:
    """Groups, wares and supports of one load."""

    groups: tuple[Group, ...]
    wares: tuple[Ware, ...]
    forms: tuple[BodyForm, ...]
    """The form of each ware."""
    bodies: tuple[Body, ...]
    """The body of each ware."""
    supports: tuple[str, ...]
    support_pieces: tuple[int, ...]


def able(rules: FiringRules, lots: Sequence[Lot]) -> tuple[list[Lot], list[LeftOut]]:
    """Return the lots that may stand in this firing at all, and the others with the rule that bars each."""
    fit: list[Lot] = []
    barred: list[LeftOut] = []
    for lot in lots:
        _, reasons = rules.forms(lot)
        if not reasons:
            fit.append(lot)
        for why in reasons:
            row = LeftOut(lot=lot.code, pieces=lot.pieces, rule=why.rule, reason=why.reason, change=why.change)
            barred.append(row)
    return fit, barred


def groups_of(works: Works, rules: FiringRules, lots: Sequence[Lot]) -> tuple[Group, ...]:
    """Return the groups of lots that may all stand in this firing."""
    together: dict[tuple[tuple[BodyForm, ...], float | None, float | None, bool, bool], list[Lot]] = defaultdict(list)
    for lot in lots:
        low, high = rules.window(lot)
        together[rules.forms(lot)[0], low, high, rules.wants_flat(lot), is_late(lot)].append(lot)
    return tuple(
        Group(
            lots=tuple(sorted(own, key=lambda lot: (-lot_factor(works, lot), lot.order_line or "~", lot.code))),
            forms=forms,
            low_degc=low,
            high_degc=high,
            flat=flat,
            late=late,
        )
        for (forms, low, high, flat, late), own in together.items()
    )


def ready_ware(works: Works, groups: Sequence[Group], *, gap_mm: float, headroom_mm: float) -> ReadyWare:
    """Return every way the bodies of the groups may stand, with their worth."""
    supports = _supports(works, groups)
    index = {code: k for k, (code, _) in enumerate(supports)}
    wares, forms, bodies = [], [], []
    for number, group in enumerate(groups):
        single = min(group.forms, key=lambda form: form.pieces)
        worth = _piece_worth(works, group, stand(works, single), gap_mm, headroom_mm)
        for form in group.forms:
            if form.pieces > group.pieces:
                continue
            body = stand(works, form)
            wares.append(_ware(works, group, number, form, body, worth, index))
            forms.append(form)
            bodies.append(body)
    return ReadyWare(
        groups=tuple(groups),
        wares=tuple(wares),
        forms=tuple(forms),
        bodies=tuple(bodies),
        supports=tuple(code for code, _ in supports),
        support_pieces=tuple(count for _, count in supports),
    )


def _supports(works: Works, groups: Iterable[Group]) -> list[tuple[str, int]]:
    """Return the supports and spacers that any form uses, with their stock."""
    stock = {item.code: item.count_pieces for item in works.furniture.stilts}
    stock |= {item.code: item.count_pieces for item in works.furniture.setters}
    stock |= {item.code: item.count_pieces for item in works.furniture.catch_discs}
    stock |= {item.code: item.count_pieces for item in works.furniture.spacers}
    used = {code for group in groups for form in group.forms for code in (form.support, form.spacer) if code}
    return [(code, stock[code]) for code in sorted(used)]


def support_use(works: Works, form: BodyForm) -> tuple[str, int] | None:
    """Return the support or spacer a form stands on and how many of it one body takes."""
    if form.spacer is not None:
        spacer = next(item for item in works.furniture.spacers if item.code == form.spacer)
        return form.spacer, spacer.pieces_per_gap * (form.pieces - 1)
    if form.support is None:
        return None
    is_setter = any(item.code == form.support and isinstance(item, Setter) for item in works.furniture.setters)
    return form.support, form.pieces if is_setter else 1


def _piece_worth(works: Works, group: Group, body: Body, gap_mm: float, headroom_mm: float) -> float:
    """Return the mean worth of a piece of the group: setting volume times the lots' factors."""
    outlines = [
        shapely.LineString([(p.x_mm - p.hx_mm, p.y_mm - p.hy_mm), (p.x_mm + p.hx_mm, p.y_mm + p.hy_mm)])
        if p.reach_mm
        else shapely.Point(p.x_mm, p.y_mm)
        for p in cover_of(body.parts)
    ]
    radii = [max(r for _, r in p.profile) + gap_mm / 2 for p in cover_of(body.parts)]
    area_mm2 = float(shapely.union_all([o.buffer(r, quad_segs=8) for o, r in zip(outlines, radii, strict=True)]).area)
    factor = sum(lot_factor(works, lot) * lot.pieces for lot in group.lots) / max(1, group.pieces)
    return setting_volume_dm3(area_mm2, body.top_mm, headroom_mm) * factor * (LATE_FACTOR if group.late else 1.0)


def _ware(
    works: Works, group: Group, number: int, form: BodyForm, body: Body, worth: float, index: dict[str, int]
) -> Ware:
    settings = works.settings
    use = support_use(works, form)
    primitives = cover_of(body.parts)
    foot = tuple(
        Primitive(x_mm=x, y_mm=y, hx_mm=hx, hy_mm=hy, profile=((0.0, r), (0.0, r)))
        for (x, y, hx, hy), r in outline_axes(body.foot)
    )
    return Ware(
        code=form.code,
        body=ShelfBody(
            code=form.code,
            primitives=primitives,
            foot=foot,
            height_mm=body.top_mm,
            mass_kg=body.mass_kg,
            value=worth * form.pieces,
            count=group.pieces // form.pieces,
            overhang_mm=overhang_mm(settings.overhang_most_mm, body),
            turn_step_deg=settings.turn_step_deg,
        ),
        group=number,
        pieces=form.pieces,
        support=index[use[0]] if use else None,
        support_pieces=use[1] if use else 0,
        turns_deg=distinct_turns(primitives + foot),
    )


def overhang_mm(most_mm: float, body: Body) -> float:
    """Return how far the rim may reach past the shelf: the works' limit, at most half of rim less foot (W2).

    Both are measured from the axis: how far any part of the body gets, and how far its foot.
    """
    rim = max(p.reach_mm + max(r for _, r in p.profile) for p in cover_of(body.parts))
    return max(0.0, min(most_mm, (rim - foot_reach_mm(body)) / 2 - COVER_MM))


def distinct_turns(primitives: Sequence[Primitive]) -> tuple[float, ...]:
    """Return the quarter turns that do not look the same as an earlier one."""
    seen: list[set[tuple[float, ...]]] = []
    turns = []
    for turn in QUARTERS_DEG:
        cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
        look = set()
        for p in primitives:
            ends = sorted(
                (
                    round(cos * x - sin * y, 2) + 0.0,
                    round(sin * x + cos * y, 2) + 0.0,
                )
                for x, y in (
                    (p.x_mm + p.hx_mm, p.y_mm + p.hy_mm),
                    (p.x_mm - p.hx_mm, p.y_mm - p.hy_mm),
                )
            )
            look.add((*ends[0], *ends[1], *(round(v, 2) for point in p.profile for v in point)))
        if look not in seen:
            seen.append(look)
            turns.append(turn)
    return tuple(turns)
