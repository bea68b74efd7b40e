"""Headings of what changes from day to day: orders, lots, moulds, holidays, offset readings."""

from __future__ import annotations

from kilnpack.works_folder.columns import Column, Kind, Sheet, code, count, measure

ORDERS = Sheet(
    name="orders",
    says="Order lines.",
    key="code",
    columns=(
        code("code", "code of the line, such as 1042/1"),
        code("order", "the order it belongs to"),
        Column(heading="customer", kind=Kind.TEXT, needed=True, says="who ordered"),
        code("item", "product or set", refers="items"),
        count("quantity_pieces", "pieces (or sets) ordered", least=1),
        Column(heading="delivered_pieces", kind=Kind.WHOLE, least=0.0, default=0, says="delivered so far"),
        Column(heading="part_delivery", kind=Kind.YES_NO, default=True, says="part delivery is allowed"),
        Column(heading="due", kind=Kind.DATE, needed=True, says="day it must leave"),
        Column(heading="not_before", kind=Kind.DATE, says="day before which it is not wanted", else_says="any day"),
        Column(heading="priority_factor", kind=Kind.NUMBER, above=0.0, default=1.0, says="weight of its lateness"),
    ),
)

LOTS = Sheet(
    name="lots",
    says="Stock and lots in progress. Ware that stands in a kiln is in no lot: the plan that was followed knows it.",
    key="code",
    columns=(
        code("code", "code of the lot"),
        code("product", "its product", refers="products"),
        Column(
            heading="next_firing", kind=Kind.CODE, needed=True,
            says="programme of the firing it waits for, or its number in the route (1 is the first), or `finished`",
        ),
        count("pieces", "how many", least=1),
        Column(heading="order_line", kind=Kind.CODE, refers="orders", says="order line it is bound to",
               else_says="bound to none"),
        Column(heading="kind", kind=Kind.CHOICE, choices=("normal", "refire", "sample", "filler"), default="normal",
               says="why it is fired"),
        Column(heading="ready_at", kind=Kind.MOMENT, says="when it may be loaded", else_says="now"),
        Column(heading="glazed", kind=Kind.YES_NO, default=True, says="no: still to be glazed before glost"),
    ),
)  # fmt: skip

MOULDS = Sheet(
    name="moulds",
    says="How fast shapes can be made.",
    key="shape",
    columns=(
        code("shape", "shape", refers="shapes"),
        count("moulds_pieces", "moulds there are", least=1),
        measure("casts_per_day", "casts from each a day"),
    ),
)

HOLIDAYS = Sheet(
    name="holidays",
    says="Days on which nobody works.",
    columns=(Column(heading="date", kind=Kind.DATE, needed=True, says="the day"),),
)

OFFSETS = Sheet(
    name="offsets",
    says="Readings of how much hotter (+) or colder (-) than the programme a place of a kiln was.",
    columns=(
        code("kiln", "kiln", refers="kilns"),
        Column(heading="stage", kind=Kind.CHOICE, needed=True, choices=("biscuit", "glost", "decoration"),
               says="stage it was read in"),
        Column(heading="x_mm", kind=Kind.NUMBER, needed=True, says="place from the left wall"),
        Column(heading="y_mm", kind=Kind.NUMBER, needed=True, says="place from the front"),
        Column(heading="z_mm", kind=Kind.NUMBER, needed=True, least=0.0, says="height over floor or deck"),
        Column(heading="offset_k", kind=Kind.NUMBER, needed=True, least=-200.0, most=200.0,
               says="reading less programme"),
    ),
)  # fmt: skip

BACKLOG = (ORDERS, LOTS, MOULDS, HOLIDAYS, OFFSETS)
