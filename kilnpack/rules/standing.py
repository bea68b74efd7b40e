"""Standing: the forms in which ware may stand in a firing, or the rule that bars it (W4, W5, W9)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from kilnpack.model.furniture import Setter
from kilnpack.model.loads import BodyForm
from kilnpack.model.pieces import StackWay, Stage
from kilnpack.rules.supports import Barred, supports_for, unsuited
from kilnpack.shapes.bodies import piece_kg, stand, support

if TYPE_CHECKING:
    from collections.abc import Iterator

    from kilnpack.model.furniture import Spacer
    from kilnpack.model.pieces import Product, RouteStep, Shape, Stacking
    from kilnpack.model.works import Works

NEAR_KG = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Firing:
    """What the ways of standing depend on: `furniture_degc` is what furniture must stand anywhere in the kiln (F1)."""

    stage: Stage
    peak_degc: float
    furniture_degc: float
    on_car: bool = False


Ways = tuple[tuple[BodyForm, ...], tuple[Barred, ...]]


def ways_to_stand(works: Works, firing: Firing, product: Product, step: RouteStep) -> Ways:
    """W4-W10: the forms in which a piece may stand in a firing, or what bars it.

    Raw ware stands alone or stacked (W4) unless a support is asked for; glazed ware one piece a place outside
    setters (W5).

    References
    ----------
    `porcelain-handbook`, `pottery-forum` (W5); the others at `stacked_forms`, `is_lid` and `supports_for`.
    """
    shape = works.shape(product.shape)
    if firing.stage is not Stage.DECORATION and is_lid(works, shape):
        return (), (Barred(rule="W9", reason=f"{shape.code} is a lid", change="fire it on its pot"),)
    if firing.stage is Stage.BISCUIT and not step.supports:
        stacked = stacked_forms(works, shape, firing.furniture_degc)
        firm = (form for form in stacked if not (firing.on_car and is_loose_pile(form)))
        return (_bare(shape, firing.stage), *firm), ()
    codes = supports_for(works, product, step, peak_degc=firing.peak_degc, asked_degc=firing.furniture_degc)
    if isinstance(codes, Barred):
        return (), (codes,)
    forms: list[BodyForm] = []
    barred: list[Barred] = []
    for code in codes:
        found = _on_support(works, shape, firing.stage, code)
        barred += [found] if isinstance(found, Barred) else []
        forms += [] if isinstance(found, Barred) else found
    return (tuple(forms), ()) if forms else ((), tuple(barred[:1]))


def is_lid(works: Works, shape: Shape) -> bool:
    """W9: whether a shape is the lid of another; in biscuit and glost it is then fired on its pot.

    References
    ----------
    `pottery-forum`.
    """
    return any(row.lid is not None and row.lid.shape == shape.code for row in works.shapes)


def _bare(shape: Shape, stage: Stage) -> BodyForm:
    return BodyForm(code=f"{shape.code}-{stage.value[0]}", shape=shape.code, stage=stage)


def is_loose_pile(form: BodyForm) -> bool:
    """C10: whether ware is piled bare, so that a moving car could shake it apart.

    References
    ----------
    `trade-journal`, `memory`.
    """
    return form.way is StackWay.PILED and form.spacer is None


def stacked_forms(works: Works, shape: Shape, asked_degc: float) -> Iterator[BodyForm]:
    """W4: raw ware on raw ware, from two pieces to the most that the shape, the weight and the spacers allow.

    Weight goes straight down; what stands on the lowest piece is at most so many times its own mass. Nested ware
    needs play, piled ware above its bare number needs spacers, and those stand the heat (F1). Ware with its lid in
    place is not stacked.

    References
    ----------
    `pottery-forum`, `teaching-notes`; the weights are from `memory`.
    """
    for way in () if shape.lid else shape.stackings:
        if way.way is StackWay.NESTED and way.loose_mm < works.settings.nest_loose_mm:
            continue
        for pieces in range(2, way.most_pieces + 1):
            spaced = way.way is StackWay.PILED and pieces > way.bare_most_pieces
            spacer = next((row for row in works.furniture.spacers if spaced and row.code == way.spacer), None)
            if (spaced and spacer is None) or not _bears(works, shape, way, pieces, spacer, asked_degc):
                break
            tail = f"-{spacer.code}" if spacer else ""
            yield BodyForm(
                code=f"{shape.code}-b-{way.way.value}{pieces}{tail}",
                shape=shape.code,
                stage=Stage.BISCUIT,
                way=way.way,
                pieces=pieces,
                spacer=spacer.code if spacer else None,
            )


def _bears(works: Works, shape: Shape, way: Stacking, pieces: int, spacer: Spacer | None, asked_degc: float) -> bool:
    """Return whether the lowest piece carries the others, and the spacers stand the heat."""
    own_kg = piece_kg(works, shape, Stage.BISCUIT)
    spacer_kg = spacer.mass_kg * spacer.pieces_per_gap if spacer else 0.0
    if spacer is not None and spacer.top_degc < asked_degc:
        return False
    return (pieces - 1) * (own_kg + spacer_kg) <= way.load_limit_factor * own_kg + NEAR_KG


def _on_support(works: Works, shape: Shape, stage: Stage, code: str | None) -> list[BodyForm] | Barred:
    bare = _bare(shape, stage)
    if code is None:
        return [bare]
    under, body = support(works, code), stand(works, bare)
    barred = unsuited(works.settings, under, body)
    if barred is not None:
        return barred
    if not isinstance(under, Setter):
        return [BodyForm(code=f"{bare.code}-{code}", shape=shape.code, stage=stage, support=code)]
    most = under.most_pieces if body.top_mm <= under.pitch_mm else 1
    return [
        BodyForm(code=f"{bare.code}-{code}x{pieces}", shape=shape.code, stage=stage, pieces=pieces, support=code)
        for pieces in range(1, most + 1)
    ]
