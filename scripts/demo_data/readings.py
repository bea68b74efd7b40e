"""What the invented tableware works measured in the month before: meters, cones, a pyrometer, coolings."""

from __future__ import annotations

from typing import TYPE_CHECKING

from demo_data.tables import write_table

if TYPE_CHECKING:
    from pathlib import Path

METER = (
    ("2026-11-03", "E1", "BISC", 158.0, 176.0, 288.0, None, None),
    ("2026-11-05", "E1", "BISC", 96.0, 140.0, 254.0, "BISC", 44.0),
    ("2026-11-09", "E1", "BISC", 171.0, 182.0, 292.0, "BISC", 68.0),
    ("2026-11-12", "E1", "BISC", 122.0, 150.0, 261.0, "BISC", 40.0),
    ("2026-11-04", "G1", "GLOST", 148.0, 262.0, 1808.0, None, None),
    ("2026-11-06", "G1", "GLOST", 121.0, 241.0, 1621.0, "GLOST", 22.0),
    ("2026-11-10", "G1", "GLOST", 96.0, 205.0, 1647.0, "GLOST", 26.0),
    ("2026-11-13", "G1", "GLOST", 139.0, 255.0, 1817.0, "GLOST", 70.0),
    ("2026-11-17", "G1", "GLOST", 128.0, 250.0, 1699.0, "GLOST", 24.0),
    ("2026-11-02", "D1", "COL1190", 58.0, 92.0, 169.0, None, None),
    ("2026-11-05", "D1", "COL790", 40.0, 70.0, 79.0, "COL1190", 30.0),
    ("2026-11-09", "D1", "COL860", 24.0, 48.0, 81.0, "COL790", 26.0),
    ("2026-11-11", "D1", "COL1190", 31.0, 60.0, 138.0, "COL860", 20.0),
    ("2026-11-16", "D1", "COL790", 55.0, 88.0, 88.0, "COL1190", 44.0),
)
CONES = (
    ("2026-11-03", "E1", "BISC", 300.0, 470.0, 100.0, "08", "down"),
    ("2026-11-03", "E1", "BISC", 300.0, 470.0, 100.0, "07", "standing"),
    ("2026-11-03", "E1", "BISC", 800.0, 470.0, 600.0, "07", "bending"),
    ("2026-11-03", "E1", "BISC", 550.0, 470.0, 1150.0, "07", "down"),
    ("2026-11-03", "E1", "BISC", 550.0, 470.0, 1150.0, "06", "standing"),
    ("2026-11-09", "E1", "BISC", 800.0, 470.0, 600.0, "07", "bending"),
    ("2026-11-09", "E1", "BISC", 550.0, 470.0, 1150.0, "06", "bending"),
    ("2026-11-05", "D1", "COL790", 430.0, 350.0, 500.0, "015", "bending"),
)
PYROMETER = (
    ("2026-11-04", "G1", "GLOST", 360.0, 280.0, 330.0, 1377.0),
    ("2026-11-04", "G1", "GLOST", 900.0, 280.0, 1060.0, 1390.0),
    ("2026-11-10", "G1", "GLOST", 360.0, 280.0, 330.0, 1380.0),
    ("2026-11-10", "G1", "GLOST", 900.0, 280.0, 1060.0, 1391.0),
    ("2026-11-13", "G1", "GLOST", 630.0, 500.0, 1330.0, 1395.0),
)
COOLINGS = (
    ("2026-11-03", "E1", "BISC", 158.0, 176.0, ((4.0, 567.0), (8.0, 227.0), (12.0, 114.0))),
    ("2026-11-05", "E1", "BISC", 96.0, 140.0, ((4.0, 543.0), (8.0, 209.0), (12.0, 109.0))),
    ("2026-11-09", "E1", "BISC", 171.0, 182.0, ((4.0, 565.0), (8.0, 228.0), (12.0, 120.0))),
    ("2026-11-04", "G1", "GLOST", 148.0, 262.0, ((4.0, 847.0), (8.0, 630.0), (12.0, 368.0))),
    ("2026-11-06", "G1", "GLOST", 121.0, 241.0, ((4.0, 830.0), (8.0, 623.0), (12.0, 349.0))),
    ("2026-11-10", "G1", "GLOST", 96.0, 205.0, ((4.0, 838.0), (8.0, 557.0), (12.0, 316.0))),
)


def write_readings(folder: Path) -> None:
    """Write the tables of what was measured."""
    heads = ("fired_on", "kiln", "programme")
    masses = (*heads, "ware_kg", "furniture_kg")
    places = (*heads, "x_mm", "y_mm", "z_mm")
    meter = (*masses, "metered_kwh", "before", "stood_h")
    write_table(folder, "meter_readings", [dict(zip(meter, row, strict=True)) for row in METER])
    cones = [dict(zip((*places, "cone", "state"), row, strict=True)) for row in CONES]
    cones += [dict(zip((*places, "read_degc"), row, strict=True)) for row in PYROMETER]
    write_table(folder, "cone_readings", cones)
    coolings = [
        dict(zip((*masses, "after_h", "chamber_degc"), (*row, *read), strict=True))
        for *row, reads in COOLINGS
        for read in reads
    ]
    write_table(folder, "cooling_readings", coolings)
