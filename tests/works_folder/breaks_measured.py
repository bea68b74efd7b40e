"""Breaks of what a works measured."""

from __future__ import annotations

from tests.works_folder.breaking import one

METER, CONES, COOLING, SERIES = (
    "meter_readings.csv",
    "cone_readings.csv",
    "cooling_readings.csv",
    "cone_series.csv",
)

MEASURED_BREAKS = (
    one("metered twice over", METER, "310;;;;", "310;30;;;", (METER, 2, "metered_m3", "beside metered_kwh")),
    one("metered not at all", METER, "310;;;;", ";;;;", (METER, 2, "metered_kwh", "or metered_m3")),
    one("cubic metres of current", METER, "310;;;;", ";30;11;;", (METER, 2, "metered_m3", "K1 is electric")),
    one("gas without its heat", METER, "290;11,2", "290;", (METER, 4, "gross_kwh_per_m3", "beside metered_m3")),
    one("firing before without hours", METER, "BISC;30", "BISC;", (METER, 3, "stood_h", "with before")),
    one("hours without a firing before", METER, "BISC;30", ";30", (METER, 3, "stood_h", "without before")),
    one("reading of another kiln's programme", METER, "G1;GLOST", "G1;COL8", (METER, 4, "programme", "G1 fires")),
    one("reading of no kiln", METER, "G1;GLOST", "G9;GLOST", (METER, 4, "kiln", "kilns")),
    one("no energy", METER, "310;;;;", "0;;;;", (METER, 2, "metered_kwh", "above 0")),
    one("cone over the roof", CONES, "300;100;;;;1381", "300;1001;;;;1381",
        (CONES, 4, "z_mm", "usable_height_mm 1000")),
    one("cone without state", CONES, "06;down", "06;", (CONES, 2, "state", "beside cone")),
    one("state of no cone", CONES, "06;down", ";down", (CONES, 2, "cone", "or read_degc")),
    one("cone beside a temperature", CONES, ";;;1381", "6;;;1381", (CONES, 4, "cone", "beside read_degc")),
    one("unknown series", CONES, "standing;own", "standing;other", (CONES, 3, "series", "own")),
    one("cone of no series", CONES, "06;down", "99;down", (CONES, 2, "cone", "013")),
    one("cone of another kiln's programme", CONES, "G1;GLOST", "G1;BISC", (CONES, 4, "programme", "G1 fires")),
    one("cooling of another kiln's programme", COOLING, "BISC;55;90;10", "GLOST;55;90;10",
        (COOLING, 2, "programme", "K1 fires")),
    one("colder than the room", COOLING, "10;400", "10;20", (COOLING, 2, "chamber_degc", "above 20")),
    one("a rate twice", SERIES, "own;05;60", "own;05;15", (SERIES, 3, "rate_k_h", "once"),
        (SERIES, 2, "cone", "3 rates"), (SERIES, 4, "cone", "3 rates")),
)  # fmt: skip
