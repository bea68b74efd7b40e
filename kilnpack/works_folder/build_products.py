"""From rows to glazes, decorations, products with their routes resolved, and sets."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace
from itertools import groupby
from typing import TYPE_CHECKING, Any

from kilnpack.model.pieces import (
    Decoration,
    FootState,
    Glaze,
    Product,
    ProductSet,
    RouteStep,
    SetItem,
    Shape,
    Stage,
)
from kilnpack.works_folder.cells import NONE_MARK

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from kilnpack.errors import Finding
    from kilnpack.model.programmes import Programme
    from kilnpack.model.settings import WorksSettings
    from kilnpack.works_folder.reading import Reading
    from kilnpack.works_folder.rows import Row


@dataclass(frozen=True, slots=True, kw_only=True)
class Catalogue:
    """What products are made of, by code."""

    shapes: Mapping[str, Shape]
    glazes: Mapping[str, Glaze]
    decorations: Mapping[str, Decoration]
    programmes: Mapping[str, Programme]
    settings: WorksSettings


def build_glazes(reading: Reading) -> tuple[Glaze, ...]:
    """Return the glazes."""
    glazes = []
    for row in reading.sound_rows("glazes"):
        reading.origins["glazes", row.text("code")] = row
        glazes.append(
            Glaze(
                code=row.text("code"),
                name=row.optional_text("name") or row.text("code"),
                softening_degc=row.number_at("softening_degc"),
                vapour=row.optional_text("vapour"),
                runny=row.yes("runny"),
                low_degc=row.optional_number("low_degc"),
                high_degc=row.optional_number("high_degc"),
            )
        )
    return tuple(glazes)


def build_decorations(reading: Reading) -> tuple[Decoration, ...]:
    """Return the decorations."""
    decorations = []
    for row in reading.sound_rows("decorations"):
        reading.origins["decorations", row.text("code")] = row
        decorations.append(
            Decoration(
                code=row.text("code"),
                name=row.optional_text("name") or row.text("code"),
                programme=row.text("programme"),
                vapour=row.optional_text("vapour"),
                low_degc=row.optional_number("low_degc"),
                high_degc=row.optional_number("high_degc"),
            )
        )
    return tuple(decorations)


def routes_of(reading: Reading) -> dict[str, list[Row]]:
    """Return the rows of every route that has no finding."""
    routes: dict[str, list[Row]] = defaultdict(list)
    sound = {row.number for row in reading.sound_rows("routes")}
    spoilt = {row.get("route") for row in reading.tables["routes"].rows if row.number not in sound}
    for row in reading.sound_rows("routes"):
        if row.text("route") not in spoilt:
            routes[row.text("route")].append(row)
    return routes


def build_products(reading: Reading, catalogue: Catalogue) -> tuple[Product, ...]:
    """Return every product all of whose parts have no finding."""
    routes = routes_of(reading)
    products = []
    for row in reading.sound_rows("products"):
        reading.origins["products", row.text("code")] = row
        rows = routes.get(row.text("route"), [])
        if not _is_complete(row, rows, catalogue):
            continue
        products.append(product_of(row, rows, catalogue))
    return tuple(products)


def _is_complete(row: Row, route: list[Row], catalogue: Catalogue) -> bool:
    """Tell whether all that a product names was read without a finding."""
    glaze = row.optional_text("glaze")
    decorations = {code for step in route for code in step.codes("decorations")} | set(row.codes("decorations"))
    return (
        bool(route)
        and row.text("shape") in catalogue.shapes
        and (glaze is None or glaze in catalogue.glazes)
        and decorations <= set(catalogue.decorations)
        and {step.text("programme") for step in route} <= set(catalogue.programmes)
        and {catalogue.decorations[code].programme for code in decorations} <= set(catalogue.programmes)
    )


def product_of(row: Row, route: list[Row], catalogue: Catalogue) -> Product:
    """Return one product with its route resolved."""
    steps = [_listed_step(row, one, catalogue) for one in route]
    if not any(step.stage is Stage.DECORATION for step in steps):
        steps += decoration_steps(row, catalogue)
    return Product(
        code=row.text("code"),
        name=row.optional_text("name") or row.text("code"),
        shape=row.text("shape"),
        glaze=row.optional_text("glaze"),
        decorations=row.codes("decorations"),
        route=tuple(steps),
        price_money=row.number_at("price_money"),
        second_price_money=row.number_at("second_price_money"),
        matching_k=row.optional_number("matching_k"),
    )


def decoration_steps(row: Row, catalogue: Catalogue) -> Iterator[RouteStep]:
    """Yield one firing a programme, hottest first, or as the decorations are listed (rule T5)."""
    decorations = [catalogue.decorations[code] for code in row.codes("decorations")]
    if row.text("decoration_order") == "hottest first":
        peaks = {one.programme: catalogue.programmes[one.programme].peak_degc for one in decorations}
        order = sorted(peaks, key=lambda code: -peaks[code])
        decorations.sort(key=lambda one: order.index(one.programme))
    for programme, group in groupby(decorations, key=lambda one: one.programme):
        codes = tuple(one.code for one in group)
        yield derived_step(row, catalogue.programmes[programme], codes, catalogue)


def _listed_step(row: Row, step: Row, catalogue: Catalogue) -> RouteStep:
    """Return the firing that a row of a route lists, with what the row overrules."""
    programme = catalogue.programmes[step.text("programme")]
    own = tuple(c for c in row.codes("decorations") if catalogue.decorations[c].programme == programme.code)
    codes = own if step.get("decorations") is None else step.codes("decorations")
    derived = derived_step(row, programme, codes, catalogue)
    return replace(derived, **dict(_overruled(step)))


def _overruled(step: Row) -> Iterator[tuple[str, Any]]:
    """Yield the fields of a step that a row of a route sets."""
    for heading in ("ready_after_h", "rest_after_h", "flat_shelf", "scrap_share", "second_share"):
        if step.get(heading) is not None:
            yield heading, step.get(heading)
    for heading in ("low_degc", "high_degc"):
        if step.get(heading) is not None:
            yield heading, None if step.get(heading) == NONE_MARK else step.get(heading)
    for heading in ("supports", "vapours"):
        if step.get(heading) is not None:
            yield heading, step.codes(heading)
    if step.get("foot") is not None:
        yield "foot", FootState(step.text("foot"))


def derived_step(row: Row, programme: Programme, codes: tuple[str, ...], catalogue: Catalogue) -> RouteStep:
    """Return a firing as it follows from product, glaze, decorations and settings."""
    stage = programme.stage
    settings = catalogue.settings
    decorations = [catalogue.decorations[code] for code in codes]
    glaze = catalogue.glazes[row.text("glaze")] if row.get("glaze") else None
    givers: list[Glaze | Decoration] = [*decorations]
    if stage is Stage.GLOST and glaze is not None:
        givers.insert(0, glaze)
    lows, highs = [giver.low_degc for giver in givers], [giver.high_degc for giver in givers]
    if stage is Stage.GLOST:
        lows.append(row.optional_number("glost_low_degc"))
        highs.append(row.optional_number("glost_high_degc"))
    ready_after_h = {Stage.BISCUIT: settings.raw_drying_h, Stage.GLOST: settings.glaze_drying_h}
    return RouteStep(
        stage=stage,
        programme=programme.code,
        decorations=codes,
        ready_after_h=ready_after_h.get(stage, 0.0),
        rest_after_h=settings.rest_after_biscuit_h if stage is Stage.BISCUIT else 0.0,
        foot=_foot(row, stage),
        supports=row.codes(f"support_{stage.value}"),
        flat_shelf=stage is Stage.GLOST and _wants_flat(row, catalogue.shapes[row.text("shape")]),
        low_degc=max((low for low in lows if low is not None), default=None),
        high_degc=min((high for high in highs if high is not None), default=None),
        vapours=tuple(dict.fromkeys(giver.vapour for giver in givers if giver.vapour)),
        scrap_share=_share(row, f"scrap_{stage.value}_share", getattr(settings, f"scrap_{stage.value}_share")),
        second_share=_second_share(row, stage, settings),
    )


def _foot(row: Row, stage: Stage) -> FootState:
    if stage is Stage.BISCUIT:
        return FootState.DRY
    glost = row.text("foot_glost")
    if stage is Stage.GLOST:
        return FootState(glost)
    return FootState(row.optional_text("foot_decoration") or glost)


def _wants_flat(row: Row, shape: Shape) -> bool:
    return shape.flatware if row.get("flat_shelf") is None else row.yes("flat_shelf")


def _share(row: Row, heading: str, default: float) -> float:
    share = row.optional_number(heading)
    return default if share is None else share


def _second_share(row: Row, stage: Stage, settings: WorksSettings) -> float:
    if stage is Stage.BISCUIT:
        return 0.0
    default = settings.second_glost_share if stage is Stage.GLOST else 0.0
    return _share(row, f"second_{stage.value}_share", default)


def build_sets(reading: Reading, products: Iterable[Product]) -> tuple[ProductSet, ...]:
    """Return the sets all of whose products are known; note products listed twice."""
    known = {product.code for product in products}
    groups: dict[str, list[Row]] = defaultdict(list)
    sound = {row.number for row in reading.sound_rows("sets")}
    spoilt = {row.get("set") for row in reading.tables["sets"].rows if row.number not in sound}
    for row in reading.sound_rows("sets"):
        groups[row.text("set")].append(row)
    sets = []
    for code, rows in groups.items():
        reading.origins["sets", code] = rows[0]
        if reading.add(_set_faults(rows)) or code in spoilt or not {row.text("product") for row in rows} <= known:
            continue
        items = tuple(SetItem(product=row.text("product"), count_pieces=row.whole("count_pieces")) for row in rows)
        name = rows[0].optional_text("name") or code
        sets.append(ProductSet(code=code, name=name, items=items, sold_singly=rows[0].yes("sold_singly")))
    return tuple(sets)


def _set_faults(rows: list[Row]) -> Iterator[Finding]:
    seen = set()
    for row in rows:
        if row.text("product") in seen:
            yield row.fault("product", row.text("product"), "each product of a set once, with its count")
        seen.add(row.text("product"))
    for row in rows[1:]:
        for heading in ("name", "sold_singly"):
            if heading in row.filled and row.get(heading) != rows[0].get(heading):
                yield row.fault(heading, row.get(heading), "an empty cell, or the same as on the first row of the set")
