"""From rows to order lines, lots, moulds, holidays and offset readings."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from typing import TYPE_CHECKING, cast

from kilnpack.model.kilns import Kiln, OffsetMap, OffsetReading
from kilnpack.model.orders import Lot, LotKind, Mould, OrderLine
from kilnpack.model.pieces import Product, Stage

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import date, datetime

    from kilnpack.model.settings import WorksSettings
    from kilnpack.works_folder.reading import Reading
    from kilnpack.works_folder.rows import Row

FINISHED = "finished"


def build_lines(reading: Reading, items: set[str]) -> tuple[OrderLine, ...]:
    """Return the order lines whose product or set could be built."""
    lines = []
    for row in reading.sound_rows("orders"):
        reading.origins["orders", row.text("code")] = row
        if row.text("item") not in items:
            continue
        lines.append(
            OrderLine(
                code=row.text("code"), order=row.text("order"), customer=row.text("customer"), item=row.text("item"),
                quantity_pieces=row.whole("quantity_pieces"), delivered_pieces=row.whole("delivered_pieces"),
                part_delivery=row.yes("part_delivery"), due=cast("date", row.get("due")),
                not_before=cast("date | None", row.get("not_before")),
                priority_factor=row.number_at("priority_factor"),
            )
        )  # fmt: skip
    return tuple(lines)


def build_lots(reading: Reading, products: Iterable[Product], lines: Iterable[OrderLine]) -> tuple[Lot, ...]:
    """Return the lots whose product and order line could be built; note those that wait for no firing of theirs."""
    by_code = {product.code: product for product in products}
    line_codes = {line.code for line in lines}
    lots = []
    for row in reading.sound_rows("lots"):
        reading.origins["lots", row.text("code")] = row
        product = by_code.get(row.text("product"))
        line = row.optional_text("order_line")
        if product is None or (line is not None and line not in line_codes):
            continue
        step = _step(reading, row, product)
        if step is None:
            continue
        lots.append(
            Lot(
                code=row.text("code"), product=product.code, step=step, pieces=row.whole("pieces"), order_line=line,
                kind=LotKind(row.text("kind")), ready_at=cast("datetime | None", row.get("ready_at")),
                glazed=row.yes("glazed"),
            )
        )  # fmt: skip
    return tuple(lots)


def _step(reading: Reading, row: Row, product: Product) -> int | None:
    """Return which firing of its route a lot waits for, counted from 0, or None with a finding."""
    text = row.text("next_firing")
    if text.lower() == FINISHED:
        return len(product.route)
    programmes = [step.programme for step in product.route]
    if text in programmes:
        if programmes.count(text) == 1:
            return programmes.index(text)
        wanted = f"the number of the firing, from 1; {text} is more than once in the route"
    elif text.isdecimal() and 1 <= int(text) <= len(programmes):
        return int(text) - 1
    else:
        numbers = ", ".join(f"{k} {programme}" for k, programme in enumerate(programmes, start=1))
        wanted = f"a firing of its route ({numbers}) or {FINISHED}"
    reading.add([row.fault("next_firing", text, wanted)])
    return None


def build_moulds(reading: Reading, shapes: set[str]) -> tuple[Mould, ...]:
    """Return the moulds of the shapes that could be built."""
    return tuple(
        Mould(
            shape=row.text("shape"),
            moulds_pieces=row.whole("moulds_pieces"),
            casts_per_day=row.number_at("casts_per_day"),
        )
        for row in reading.sound_rows("moulds")
        if row.text("shape") in shapes
    )


def build_holidays(reading: Reading) -> tuple[date, ...]:
    """Return the holidays as listed; note days listed twice."""
    days: list[date] = []
    for row in reading.sound_rows("holidays"):
        day = cast("date", row.get("date"))
        if day in days:
            reading.add([row.fault("date", day, "each day once")])
        days.append(day)
    return tuple(days)


def with_offsets(reading: Reading, kilns: Iterable[Kiln], settings: WorksSettings) -> tuple[Kiln, ...]:
    """Return the kilns with their readings; note readings outside the chamber's height."""
    readings: dict[tuple[str, Stage], list[Row]] = defaultdict(list)
    for row in reading.sound_rows("offsets"):
        readings[row.text("kiln"), Stage(row.text("stage"))].append(row)
    return tuple(_with_offsets(kiln, readings, settings) for kiln in kilns)


def _with_offsets(kiln: Kiln, readings: dict[tuple[str, Stage], list[Row]], settings: WorksSettings) -> Kiln:
    named = {one.stage for one in kiln.offsets}
    more = tuple(
        OffsetMap(stage=stage, spread_k=settings.offset_spread_k)
        for code, stage in readings
        if code == kiln.code and stage not in named
    )
    maps = tuple(
        replace(one, readings=tuple(_reading(row) for row in readings.get((kiln.code, one.stage), ())))
        for one in kiln.offsets + more
    )
    return replace(kiln, offsets=maps)


def _reading(row: Row) -> OffsetReading:
    return OffsetReading(
        x_mm=row.number_at("x_mm"),
        y_mm=row.number_at("y_mm"),
        z_mm=row.number_at("z_mm"),
        offset_k=row.number_at("offset_k"),
    )
