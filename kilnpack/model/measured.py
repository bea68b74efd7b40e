"""What a works measured: meters, witness cones, coolings, and a series of cones of its own."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum


@dataclass(frozen=True, slots=True, kw_only=True)
class MeterReading:
    """One metered firing.

    `metered_kwh` is as billed (gas on the basis of the kiln's price); else `metered_m3` as the meter turned, with
    `gross_kwh_per_m3` as the bill reckons them. `furniture_kg` is without the deck of a car. `before` is the programme
    of the firing before and `stood_h` how long the kiln stood since its fire ended; without them the kiln was cold.
    """

    fired_on: date
    kiln: str
    programme: str
    ware_kg: float
    furniture_kg: float
    metered_kwh: float | None = None
    metered_m3: float | None = None
    gross_kwh_per_m3: float | None = None
    before: str | None = None
    stood_h: float | None = None


class ConeState(StrEnum):
    """How a witness cone came out of the kiln."""

    DOWN = "down"
    BENDING = "bending"
    STANDING = "standing"


@dataclass(frozen=True, slots=True, kw_only=True)
class ConeReading:
    """One witness cone at one place, or a temperature read there by another instrument (`read_degc`)."""

    fired_on: date
    kiln: str
    programme: str
    x_mm: float
    y_mm: float
    z_mm: float
    cone: str | None = None
    state: ConeState | None = None
    series: str = "self-supporting"
    read_degc: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CoolingReading:
    """The kiln's thermometer so many hours after the fire ended; rows of one day, kiln and programme are one cooling.

    `furniture_kg` is without the deck of a car.
    """

    fired_on: date
    kiln: str
    programme: str
    ware_kg: float
    furniture_kg: float
    after_h: float
    chamber_degc: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ConePoint:
    """Where a cone of a series is down when heated at a steady rate, as its maker says."""

    series: str
    cone: str
    rate_k_h: float
    end_point_degc: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """All that was measured."""

    meter: tuple[MeterReading, ...] = ()
    cones: tuple[ConeReading, ...] = ()
    coolings: tuple[CoolingReading, ...] = ()
    cone_points: tuple[ConePoint, ...] = ()


NOTHING_MEASURED = Measured()
"""A works without a reading."""
