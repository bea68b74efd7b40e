"""What the tests of single rules start from: one shelf, one kiln, a works that can be changed."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from kilnpack.model.furniture import PostType, ShelfLot, ShelfType, Stub
from kilnpack.model.geometry import Rectangle
from kilnpack.model.kilns import ChamberKind, Energy, EnergyKind, Kiln, StackPlace, WallKind
from tests.packing.small_works import random_works

if TYPE_CHECKING:
    from kilnpack.model.works import Works

CORNERS = ((50.0, 50.0), (450.0, 50.0), (450.0, 350.0), (50.0, 350.0))


def shelf(**more: Any) -> ShelfType:
    """Return a shelf of 500 x 400 x 10 mm and 5 kg on four posts 400 and 300 mm apart."""
    fields: dict[str, Any] = {
        "code": "S",
        "name": "shelf",
        "outline": Rectangle(w_mm=500.0, d_mm=400.0),
        "posts_mm": CORNERS,
        "thickness_mm": 10.0,
        "material": "sic",
        "mass_kg": 5.0,
        "top_degc": 1450.0,
        "strength_mpa": 40.0,
        "lots": (ShelfLot(count_pieces=4),),
    }
    return ShelfType(**(fields | more))


def kiln(**more: Any) -> Kiln:
    """Return an electric kiln of 700 x 600 x 800 mm with one stack at 100, 100."""
    fields: dict[str, Any] = {
        "code": "K",
        "name": "kiln",
        "kind": ChamberKind.FRONT,
        "wall": WallKind.ELECTRIC,
        "chamber": Rectangle(w_mm=700.0, d_mm=600.0),
        "usable_height_mm": 800.0,
        "places": (StackPlace(code="A", shelf="S", x_mm=100.0, y_mm=100.0),),
        "programmes": ("G",),
        "top_degc": 1420.0,
        "energy": Energy(kind=EnergyKind.ELECTRIC, connected_kw=40.0, price_money_per_kwh=0.2, co2_kg_per_kwh=0.3),
        "usual_ware_kg": 100.0,
    }
    return Kiln(**(fields | more))


def post(height_mm: float, **more: Any) -> PostType:
    """Return posts 40 mm square."""
    fields: dict[str, Any] = {
        "code": f"P{height_mm:g}",
        "nominal_mm": height_mm,
        "height_mm": height_mm,
        "side_mm": 40.0,
        "material": "sic",
        "mass_kg": 0.3,
        "top_degc": 1450.0,
        "count_pieces": 12,
    }
    return PostType(**(fields | more))


def stub(height_mm: float, **more: Any) -> Stub:
    """Return stubs of one height."""
    fields: dict[str, Any] = {
        "code": f"B{height_mm:g}",
        "height_mm": height_mm,
        "side_mm": 40.0,
        "mass_kg": 0.2,
        "top_degc": 1450.0,
        "count_pieces": 4,
    }
    return Stub(**(fields | more))


def works(**settings: Any) -> Works:
    """Return the packer's small works without size scatter, with other settings where named."""
    made = random_works(1)
    return replace(made, settings=replace(made.settings, **({"size_scatter_share": 0.0} | settings)))


def changed(made: Works, table: str, code: str, **more: Any) -> Works:
    """Return a works with one row of a table of the works, or of its furniture, changed."""
    holder: Any = made if hasattr(made, table) else made.furniture
    rows = tuple(replace(row, **more) if row.code == code else row for row in getattr(holder, table))
    holder = replace(holder, **{table: rows})
    return holder if holder.__class__ is made.__class__ else replace(made, furniture=holder)
