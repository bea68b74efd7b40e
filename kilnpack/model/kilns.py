"""Kilns: chamber, stacks, keep-outs, peepholes, offsets, lining, energy, cooling and cars.

Kiln frame: x from the left wall to the right, y from the front (door side) to the back, z up from the floor or the
car deck, all in mm. A round top-loading kiln has its front where the loader stands.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from kilnpack.model.geometry import Disc, Rectangle, Region
from kilnpack.model.pieces import Stage


class ChamberKind(StrEnum):
    """How the kiln is loaded; a car kiln is loaded outside on its deck."""

    FRONT = "front"
    TOP = "top"
    CAR = "car"


class WallKind(StrEnum):
    """What ware faces at the wall; decides the clearance (rule C4, F10)."""

    ELECTRIC = "electric"
    GAS = "gas"


@dataclass(frozen=True, slots=True, kw_only=True)
class StackPlace:
    """Where one column of shelves stands: the shelf's own frame, turned by `turn_deg`, then moved to (x, y)."""

    code: str
    shelf: str
    x_mm: float
    y_mm: float
    turn_deg: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepOut:
    """A place that ware, shelves and posts stay out of between two heights, with a clearance of its own.

    `what` says why: element, burner, flue, flame trench, vent, bag wall, thermocouple.
    """

    code: str
    what: str
    outline: Disc | Rectangle
    from_z_mm: float
    to_z_mm: float
    clear_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Peephole:
    """A spy hole on the wall and its witness-cone pack.

    The hole's axis starts at (x, y, z) and runs along `direction_deg` (0 = to the right, 90 = to the back). The pack
    stands `pack_away_mm` along the axis; where `has_pack` is False the hole is for looking only and books nothing.
    """

    code: str
    x_mm: float
    y_mm: float
    z_mm: float
    direction_deg: float
    pack_away_mm: float = 250.0
    has_pack: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class OffsetReading:
    """How much hotter (+) or colder (-) than the programme a place was, in K."""

    x_mm: float
    y_mm: float
    z_mm: float
    offset_k: float


@dataclass(frozen=True, slots=True, kw_only=True)
class OffsetMap:
    """The readings of one stage; without readings every place is known only to +- `spread_k`."""

    stage: Stage
    readings: tuple[OffsetReading, ...] = ()
    spread_k: float = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LiningLayer:
    """One layer of the wall, hot face first. `material` is a key of the shared table of lining materials."""

    material: str
    thickness_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AirBand:
    """Cooling air above `above_degc`: so much forced or drawn through, and the fastest cooling allowed there."""

    above_degc: float
    air_nm3_h: float
    greatest_k_h: float | None = None


class CoolingWay(StrEnum):
    """How a kiln cools."""

    SEALED = "sealed"
    DAMPER = "damper"
    FORCED = "forced"


@dataclass(frozen=True, slots=True, kw_only=True)
class Cooling:
    """How a kiln cools and the works' two limits (rule T3): drawing the car, and unloading by hand."""

    way: CoolingWay = CoolingWay.SEALED
    bands: tuple[AirBand, ...] = ()
    draw_degc: float | None = None
    unload_degc: float = 100.0


class EnergyKind(StrEnum):
    """What heats the kiln."""

    ELECTRIC = "electric"
    NATURAL_GAS = "natural gas"
    PROPANE = "propane"


@dataclass(frozen=True, slots=True, kw_only=True)
class Energy:
    """Energy source, price and carbon. Prices are per kWh on `basis` (net or gross calorific value for gas).

    `night_*` applies from `night_from_h` to `night_to_h` (hours of the day). `lambda_factor` is the usual air ratio.
    """

    kind: EnergyKind
    connected_kw: float
    price_money_per_kwh: float
    night_price_money_per_kwh: float | None = None
    night_from_h: float = 22.0
    night_to_h: float = 6.0
    demand_money_per_kw: float = 0.0
    basis: str = "gross"
    co2_kg_per_kwh: float
    leak_air_nm3_h: float = 2.0
    lambda_factor: float = 1.1
    air_in_degc: float = 20.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Car:
    """A kiln car; its deck is part of what is heated."""

    code: str
    deck_kg: float
    deck_material: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Kiln:
    """A kiln as the loader, the planner and the owner see it.

    `usable_height_mm` is from the floor or deck to the roof or lid. `wall_clear_mm` etc. override the works' settings.
    """

    code: str
    name: str
    kind: ChamberKind
    wall: WallKind
    chamber: Region
    usable_height_mm: float
    places: tuple[StackPlace, ...]
    programmes: tuple[str, ...]
    top_degc: float
    wall_clear_mm: float | None = None
    keep_outs: tuple[KeepOut, ...] = ()
    peepholes: tuple[Peephole, ...] = ()
    offsets: tuple[OffsetMap, ...] = ()
    lining: tuple[LiningLayer, ...] = ()
    energy: Energy
    cooling: Cooling = Cooling()
    cars: tuple[Car, ...] = ()
    usual_ware_kg: float
    least_ware_kg: float = 0.0
