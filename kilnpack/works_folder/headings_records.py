"""Headings of the tables that go into the records by themselves: an inspection, meter, witness cones, a cooling."""

from __future__ import annotations

from kilnpack.works_folder.columns import Column, Kind, Sheet, code, count
from kilnpack.works_folder.headings_measured import CONE_READINGS, COOLING_READINGS, METER_READINGS

INSPECTION = Sheet(
    name="inspection",
    says="What came out of a firing, one row for the pieces of a lot with one grade; every piece that was in it once.",
    columns=(
        code("lot", "code of the lot, as on the loading sheet or in the records"),
        Column(heading="grade", kind=Kind.CHOICE, needed=True, choices=("first", "second", "refire", "scrap"),
               says="how they came out"),
        count("pieces", "how many", least=1),
        Column(heading="cause", kind=Kind.TEXT, says="what ailed them", else_says="needed with any grade but first"),
        Column(heading="stack", kind=Kind.CODE, says="stack they stood in", else_says="not noted"),
        Column(heading="tier", kind=Kind.WHOLE, least=1.0, says="tier of the stack, from the bottom",
               else_says="not noted"),
        Column(heading="place", kind=Kind.WHOLE, least=1.0, says="place on the tier", else_says="not noted"),
    ),
)  # fmt: skip

_OF_FIRING = ("fired_on", "kiln", "programme", "ware_kg", "furniture_kg")
"""Headings that the firing itself answers."""

METER = Sheet(
    name="meter",
    says="What the meter said of a firing, with the headings of `meter_readings`.",
    columns=tuple(column for column in METER_READINGS.columns if column.heading not in _OF_FIRING),
)

CONES = Sheet(
    name="cones",
    says="Witness cones of a firing, with the headings of `cone_readings`.",
    columns=tuple(column for column in CONE_READINGS.columns if column.heading not in _OF_FIRING),
)

COOLING = Sheet(
    name="cooling",
    says="The kiln's thermometer after the end of the fire, with the headings of `cooling_readings`.",
    columns=tuple(column for column in COOLING_READINGS.columns if column.heading not in _OF_FIRING),
)
