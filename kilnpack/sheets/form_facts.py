"""The kinds of bodies on a setting page: what they are, on what they stand, and their size as loaded."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from kilnpack.model.furniture import CatchDisc, Setter
from kilnpack.model.pieces import StackWay
from kilnpack.shapes.bodies import support
from kilnpack.sheets.rows import half_foot
from kilnpack.sheets.words import runs, whole_mm

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from kilnpack.model.loads import BodyForm, Load
    from kilnpack.model.works import Works
    from kilnpack.sheets.figures import Figure
    from kilnpack.sheets.rows import Spot


@dataclass(frozen=True, slots=True, kw_only=True)
class FormFacts:
    """A kind of body of the page: what it is, on what it stands, its size as loaded."""

    places: str
    numbers: tuple[int, ...]
    name: str
    support: str
    size: str
    half_foot: str


def form_facts(works: Works, load: Load, spots: Sequence[Spot], figures: Mapping[str, Figure]) -> tuple[FormFacts, ...]:
    """Return the kinds of bodies of a page, in order of their first place."""
    places: dict[str, list[int]] = {}
    for spot in spots:
        places.setdefault(spot.form, []).append(spot.place)
    return tuple(_form(works, load.form(code), numbers, figures[code]) for code, numbers in places.items())


def _form(works: Works, form: BodyForm, places: Sequence[int], figure: Figure) -> FormFacts:
    left, front, right, back = figure.rim.bounds
    size = f"{whole_mm(right - left)} × {whole_mm(back - front)}, {whole_mm(figure.body.top_mm)} high"
    return FormFacts(
        places=runs(places),
        numbers=tuple(places),
        name=works.shape(form.shape).name,
        support=_support_words(works, form),
        size=size,
        half_foot=half_foot(figure),
    )


def _support_words(works: Works, form: BodyForm) -> str:
    """On what, or how, the body stands."""
    if form.way is not None:
        spacer = f", spacers {form.spacer} between" if form.spacer else ""
        how = {
            StackWay.NESTED: "nested in each other",
            StackWay.BOXED: "rim on rim, foot on foot",
            StackWay.PILED: "piled",
        }[form.way]
        return f"{form.pieces} {how}{spacer}"
    if form.support is None:
        return "on the shelf"
    under = support(works, form.support)
    if isinstance(under, Setter):
        return f"{form.pieces} in setters {form.support}" if form.pieces > 1 else f"in setter {form.support}"
    kind = "catch disc" if isinstance(under, CatchDisc) else "stilt"
    return f"on {kind} {form.support}"
