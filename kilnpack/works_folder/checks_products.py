"""Checks of products and their routes: order of stages, windows, feet and supports, yields, vapours."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from kilnpack.model.pieces import FootState, Stage
from kilnpack.rules.supports import Barred, supports_left
from kilnpack.words import listed, nearest

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from kilnpack.errors import Finding
    from kilnpack.model.pieces import Product, RouteStep
    from kilnpack.model.works import Works
    from kilnpack.works_folder.reading import Reading

_STAGES = tuple(Stage)


def stage_order(reading: Reading, works: Works) -> Iterator[Finding]:
    """Biscuit comes before glost and glost before decoration; a glaze is fired in glost."""
    for product in works.products:
        stages = [step.stage for step in product.route]
        if any(_STAGES.index(b) < _STAGES.index(a) for a, b in pairwise(stages)):
            wanted = "a route with biscuit before glost before decoration"
            yield reading.at("products", product.code, "route", listed(stage.value for stage in stages), wanted)
        if product.glaze is not None and Stage.GLOST not in stages:
            wanted = f"a route with a glost firing, or no glaze ({product.glaze})"
            yield reading.at("products", product.code, "route", listed(stage.value for stage in stages), wanted)


def decorations_fired(reading: Reading, works: Works) -> Iterator[Finding]:
    """Every decoration of a product is fired once, and none that it does not have."""
    for product in works.products:
        fired = [code for step in product.route for code in step.decorations]
        if sorted(fired) != sorted(product.decorations):
            wanted = f"a route that fires each of {listed(fired)} that the product lists, once"
            found = listed(product.decorations)
            yield reading.at("products", product.code, "decorations", found, wanted)


def columns_used(reading: Reading, works: Works) -> Iterator[Finding]:
    """A product says nothing of a stage that its route does not have; it would not be read."""
    for product in works.products:
        stages = {step.stage for step in product.route}
        row = reading.origins["products", product.code]
        for stage in _STAGES:
            for heading in sorted(row.filled if stage not in stages else ()):
                if stage.value in heading.split("_") and heading != "decoration_order":
                    wanted = f"an empty cell, as the route has no {stage.value} firing"
                    yield row.fault(heading, row.get(heading), wanted)


def windows(reading: Reading, works: Works) -> Iterator[Finding]:
    """The windows of glaze, decorations and product overlap in every firing."""
    for product in works.products:
        for step in product.route:
            if step.low_degc is not None and step.high_degc is not None and step.low_degc > step.high_degc:
                heading = {Stage.GLOST: "glost_low_degc", Stage.DECORATION: "decorations"}.get(step.stage, "route")
                found = f"from {step.low_degc:g} to {step.high_degc:g} degC in {step.programme}"
                wanted = "windows of glaze, decorations and product that overlap"
                yield reading.at("products", product.code, heading, found, wanted)


def feet(reading: Reading, works: Works) -> Iterator[Finding]:
    """A glazed foot needs a support where the firing is hotter than the point at which it softens (rule W6)."""
    glazes = {glaze.code: glaze for glaze in works.glazes}
    for product in works.products:
        for step in product.route:
            if step.foot is not FootState.GLAZED:
                continue
            glaze = glazes.get(product.glaze or "")
            heading = "route" if step.stage is Stage.BISCUIT else f"foot_{step.stage.value}"
            if step.stage is Stage.BISCUIT or glaze is None:
                yield reading.at("products", product.code, heading, "glazed", "dry; there is no glaze on it (W6)")
            elif _barred_by(works, product, step) == "W6":
                wanted = (
                    f"a dry foot, or a stilt or setter as support_{step.stage.value}; "
                    f"{glaze.code} softens at {glaze.softening_degc:g} degC (W6, W7)"
                )
                yield reading.at("products", product.code, heading, f"glazed in {step.programme}", wanted)


def _barred_by(works: Works, product: Product, step: RouteStep) -> str | None:
    """Return the rule that leaves a piece nothing to stand on at the peak of its programme, or None."""
    left = supports_left(works, product, step, works.programme(step.programme).peak_degc)
    return left.rule if isinstance(left, Barred) else None


def runny_glazes(reading: Reading, works: Works) -> Iterator[Finding]:
    """A runny glaze stands on a catch disc in glost, and the route says on which (rule W10)."""
    runny = {glaze.code for glaze in works.glazes if glaze.runny}
    discs = {disc.code for disc in works.furniture.catch_discs}
    for product in works.products:
        for step in product.route:
            if step.stage is not Stage.GLOST or product.glaze not in runny:
                continue
            if _barred_by(works, product, step) == "W10" or not step.supports or not set(step.supports) <= discs:
                found = listed(step.supports) if step.supports else ""
                wanted = f"catch discs only, as {product.glaze} runs (W10)"
                yield reading.at("products", product.code, "support_glost", found, wanted)


def yields(reading: Reading, works: Works) -> Iterator[Finding]:
    """Firsts, seconds and scrap are all that there is, and something is left of every firing (rule T8)."""
    for product in works.products:
        for step in product.route:
            lost = step.scrap_share + step.second_share
            if lost >= 1.0:
                found = f"scrap {step.scrap_share:g} and seconds {step.second_share:g} in {step.programme}"
                wanted = "together less than 1, so that firsts are left"
                yield reading.at("products", product.code, f"scrap_{step.stage.value}_share", found, wanted)


def vapours(reading: Reading, works: Works) -> Iterator[Finding]:
    """A class of vapour is one that the works' excluded pairs name; a misspelt one would exclude nothing."""
    known = sorted({name for pair in works.settings.excluded_vapours for name in pair})
    givers = [("glazes", one.code, one.vapour) for one in works.glazes]
    givers += [("decorations", one.code, one.vapour) for one in works.decorations]
    for table, code, vapour in givers:
        if vapour is not None and vapour not in known:
            wanted = f"a class named in excluded_vapours of the settings (Z5): {listed(known)}{nearest(vapour, known)}"
            yield reading.at(table, code, "vapour", vapour, wanted)
    for product in works.products:
        for vapour in _own_vapours(product, works):
            if vapour not in known:
                wanted = f"routes with classes named in excluded_vapours (Z5): {listed(known)}{nearest(vapour, known)}"
                yield reading.at("products", product.code, "route", vapour, wanted)


def _own_vapours(product: Product, works: Works) -> set[str]:
    """Return the classes that only the product's route names."""
    said = {one.vapour for one in works.glazes} | {one.vapour for one in works.decorations}
    return {vapour for step in product.route for vapour in step.vapours} - said


PRODUCT_CHECKS: tuple[Callable[[Reading, Works], Iterator[Finding]], ...] = (
    stage_order,
    decorations_fired,
    columns_used,
    windows,
    feet,
    runny_glazes,
    yields,
    vapours,
)
