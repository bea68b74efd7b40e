"""A works: all that a works folder says, linked by codes."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TypeVar

from kilnpack.model.furniture import Furniture
from kilnpack.model.kilns import Kiln
from kilnpack.model.measured import NOTHING_MEASURED, Measured
from kilnpack.model.orders import Lot, OrderLine, Supply, WorkCalendar
from kilnpack.model.pieces import Decoration, Glaze, Product, ProductSet, Shape
from kilnpack.model.programmes import Programme
from kilnpack.model.settings import WorksSettings

_Coded = TypeVar("_Coded", Kiln, Programme, Shape, Product, Lot)


@dataclass(frozen=True, slots=True, kw_only=True)
class Works:
    """Everything read from a works folder. `now` is the moment the folder speaks of (start of planning)."""

    name: str
    now: datetime
    settings: WorksSettings
    calendar: WorkCalendar
    supply: Supply
    furniture: Furniture
    kilns: tuple[Kiln, ...]
    programmes: tuple[Programme, ...]
    shapes: tuple[Shape, ...]
    glazes: tuple[Glaze, ...]
    decorations: tuple[Decoration, ...]
    products: tuple[Product, ...]
    sets: tuple[ProductSet, ...]
    lines: tuple[OrderLine, ...]
    lots: tuple[Lot, ...]
    measured: Measured = NOTHING_MEASURED

    def kiln(self, code: str) -> Kiln:
        """Return the kiln of that code; KeyError if there is none."""
        return _by_code(self.kilns, code)

    def programme(self, code: str) -> Programme:
        """Return the programme of that code; KeyError if there is none."""
        return _by_code(self.programmes, code)

    def shape(self, code: str) -> Shape:
        """Return the shape of that code; KeyError if there is none."""
        return _by_code(self.shapes, code)

    def product(self, code: str) -> Product:
        """Return the product of that code; KeyError if there is none."""
        return _by_code(self.products, code)

    def lot(self, code: str) -> Lot:
        """Return the lot of that code; KeyError if there is none."""
        return _by_code(self.lots, code)


def _by_code(rows: tuple[_Coded, ...], code: str) -> _Coded:
    """Look a row up by its trade code."""
    for row in rows:
        if row.code == code:
            return row
    raise KeyError(code)
