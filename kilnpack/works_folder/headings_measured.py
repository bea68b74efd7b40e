"""Headings of what a works measures: meters, witness cones, coolings, a series of cones of its own."""

from __future__ import annotations

from kilnpack.works_folder.columns import Column, Kind, Sheet, code, measure

_DAY = Column(heading="fired_on", kind=Kind.DATE, needed=True, says="day the fire was lit")
_KILN = code("kiln", "kiln", refers="kilns")
_PROGRAMME = code("programme", "programme fired", refers="programmes")
_WARE = measure("ware_kg", "ware in the kiln, as set", least=0.0)
_FURNITURE = measure("furniture_kg", "shelves, posts, setters, weighed; without the deck of a car", least=0.0)

METER_READINGS = Sheet(
    name="meter_readings",
    says=(
        "One row a metered firing; `kilnpack calibrate` fits the heat model to them. Give the energy as billed, or "
        "for gas the cubic metres that the meter turned."
    ),
    columns=(
        _DAY,
        _KILN,
        _PROGRAMME,
        _WARE,
        _FURNITURE,
        Column(heading="metered_kwh", kind=Kind.NUMBER, above=0.0, else_says="then metered_m3 is needed",
               says="energy of the firing as billed (gas on the basis of the kiln's price)"),
        Column(heading="metered_m3", kind=Kind.NUMBER, above=0.0, says="gas as the meter turned",
               else_says="then metered_kwh is needed"),
        Column(heading="gross_kwh_per_m3", kind=Kind.NUMBER, above=0.0,
               says="gross heat of a metered m3: calorific value times state number of the bill",
               else_says="needed with metered_m3"),
        Column(heading="before", kind=Kind.CODE, refers="programmes",
               says="programme of the firing before, taken to have held the same",
               else_says="the kiln was cold"),
        Column(heading="stood_h", kind=Kind.NUMBER, least=0.0, says="hours from the end of that fire to this one",
               else_says="needed with before"),
    ),
)  # fmt: skip

CONE_READINGS = Sheet(
    name="cone_readings",
    says=(
        "One row a witness cone, or a temperature read at its place by another instrument. `kilnpack calibrate` "
        "proposes an offset map from them."
    ),
    columns=(
        _DAY,
        _KILN,
        _PROGRAMME,
        Column(heading="x_mm", kind=Kind.NUMBER, needed=True, says="place from the left wall"),
        Column(heading="y_mm", kind=Kind.NUMBER, needed=True, says="place from the front"),
        Column(heading="z_mm", kind=Kind.NUMBER, needed=True, least=0.0, says="height over floor or deck"),
        Column(heading="cone", kind=Kind.CODE, says="cone by its number, such as 6 or 012",
               else_says="then read_degc is needed"),
        Column(heading="state", kind=Kind.CHOICE, choices=("down", "bending", "standing"), says="how it came out",
               else_says="needed with cone"),
        Column(heading="series", kind=Kind.TEXT, default="self-supporting",
               says="series of the cone: the published one, or one of `cone_series`"),
        Column(heading="read_degc", kind=Kind.NUMBER, above=0.0, says="hottest temperature read there instead",
               else_says="then cone is needed"),
    ),
)  # fmt: skip

COOLING_READINGS = Sheet(
    name="cooling_readings",
    says=(
        "The kiln's thermometer after the end of the fire. The rows of one day, kiln and programme are one cooling; "
        "from three coolings on `kilnpack calibrate` fits the forecast to them."
    ),
    columns=(
        _DAY,
        _KILN,
        _PROGRAMME,
        _WARE,
        _FURNITURE,
        measure("after_h", "hours after the end of the fire"),
        Column(heading="chamber_degc", kind=Kind.NUMBER, needed=True, above=20.0, says="temperature read"),
    ),
)

CONE_SERIES = Sheet(
    name="cone_series",
    says=(
        "End points of a works' own series of cones, one row a cone and rate as its maker says; a cone needs three "
        "rates, such as 15, 60 and 150 K/h."
    ),
    columns=(
        Column(heading="series", kind=Kind.TEXT, needed=True, says="name of the series"),
        code("cone", "cone by its number"),
        measure("rate_k_h", "steady heating rate over the last hours"),
        measure("end_point_degc", "temperature at which it is down"),
    ),
)

MEASURED = (METER_READINGS, CONE_READINGS, COOLING_READINGS, CONE_SERIES)
