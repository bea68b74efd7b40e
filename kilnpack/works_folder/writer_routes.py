"""From products back to the tables products and routes.

A product's columns say what holds for all firings of a stage; what a firing has of its own goes into its row of the
route. Products whose rows are alike share a route.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from kilnpack.model.pieces import Stage
from kilnpack.works_folder.build_products import Catalogue, decoration_steps, derived_step
from kilnpack.works_folder.cells import NONE_MARK
from kilnpack.works_folder.headings_catalogue import PRODUCTS
from kilnpack.works_folder.rows import Row

if TYPE_CHECKING:
    from kilnpack.model.pieces import Product, RouteStep
    from kilnpack.model.works import Works

Cells = dict[str, Any]
_ORDERS = ("hottest first", "as listed")
_OPEN = ("decorations", "supports", "vapours")
"""Headings of lists whose emptiness is said by a mark."""
_LIMITS = ("low_degc", "high_degc")
_PLAIN = ("ready_after_h", "rest_after_h", "foot", "flat_shelf", "scrap_share", "second_share")


def product_rows(works: Works) -> tuple[list[Cells], list[Cells]]:
    """Return the rows of products and of routes."""
    catalogue = Catalogue(
        shapes={one.code: one for one in works.shapes},
        glazes={one.code: one for one in works.glazes},
        decorations={one.code: one for one in works.decorations},
        programmes={one.code: one for one in works.programmes},
        settings=works.settings,
    )
    names: dict[tuple[object, ...], str] = {}
    routes: list[Cells] = []
    products: list[Cells] = []
    for product in works.products:
        cells, steps = _product(product, catalogue)
        key = tuple(tuple(step.items()) for step in steps)
        if key not in names:
            names[key] = f"R{len(names) + 1}"
            routes += [{"route": names[key], **step} for step in steps]
        products.append({**cells, "route": names[key]})
    return products, routes


def _product(product: Product, catalogue: Catalogue) -> tuple[Cells, list[Cells]]:
    """Return the cells of a product, and the rows of its route without the route's code."""
    cells = _columns(product, catalogue)
    listed = [step for step in product.route if step.stage is not Stage.DECORATION]
    coloured = product.route[len(listed) :]
    for order in _ORDERS:
        row = _as_row({**cells, "decoration_order": order})
        if tuple(decoration_steps(row, catalogue)) == coloured:
            said = {} if order == _ORDERS[0] else {"decoration_order": order}
            return cells | said, [_step(row, product, step, catalogue) for step in listed]
    row = _as_row(cells)
    return cells, [_step(row, product, step, catalogue) for step in product.route]


def _columns(product: Product, catalogue: Catalogue) -> Cells:
    """Return what the first firing of each stage says for all of them."""
    first: dict[Stage, RouteStep] = {}
    for step in product.route:
        first.setdefault(step.stage, step)
    cells: Cells = {
        "code": product.code, "name": None if product.name == product.code else product.name, "shape": product.shape,
        "glaze": product.glaze, "decorations": product.decorations, "price_money": product.price_money,
        "second_price_money": product.second_price_money, "matching_k": product.matching_k,
    }  # fmt: skip
    for stage, step in first.items():
        cells[f"support_{stage.value}"] = step.supports
        derived = derived_step(_as_row(cells), catalogue.programmes[step.programme], step.decorations, catalogue)
        if step.scrap_share != derived.scrap_share:
            cells[f"scrap_{stage.value}_share"] = step.scrap_share
        if stage is not Stage.BISCUIT:
            cells[f"foot_{stage.value}"] = step.foot.value
            if step.second_share != derived.second_share:
                cells[f"second_{stage.value}_share"] = step.second_share
        if stage is Stage.GLOST:
            cells |= _glost(step, derived)
    return cells


def _glost(step: RouteStep, derived: RouteStep) -> Cells:
    cells: Cells = {}
    if step.flat_shelf != derived.flat_shelf:
        cells["flat_shelf"] = step.flat_shelf
    for heading in _LIMITS:
        limit = getattr(step, heading)
        if limit is not None and limit != getattr(derived, heading):
            cells[f"glost_{heading}"] = limit
    return cells


def _as_row(cells: Cells) -> Row:
    """Return the cells as the reader would get them, with the defaults of the columns filled in."""
    values = {column.heading: column.default for column in PRODUCTS.columns if column.default is not None}
    values |= {heading: value for heading, value in cells.items() if value is not None}
    return Row(file="products.csv", number=1, values=values, filled=frozenset(cells))


def _step(row: Row, product: Product, step: RouteStep, catalogue: Catalogue) -> Cells:
    """Return the row of a route for a firing: only what does not follow from product and settings."""
    own = tuple(code for code in product.decorations if catalogue.decorations[code].programme == step.programme)
    derived = derived_step(row, catalogue.programmes[step.programme], step.decorations, catalogue)
    cells: Cells = {"programme": step.programme}
    if step.decorations != own:
        cells["decorations"] = step.decorations or NONE_MARK
    for heading in (*_PLAIN, *_LIMITS, *_OPEN[1:]):
        value = getattr(step, heading)
        if value == getattr(derived, heading):
            continue
        empty = value is None or (heading in _OPEN and not value)
        cells[heading] = NONE_MARK if empty else value
    return cells
