"""The example that a new works folder starts with: invented ware, three rows a sheet or more."""

from __future__ import annotations

WORKS = """\
# The works as a whole. Lengths are mm, masses kg, temperatures degC, times h.
name = "New Works"
now = 2026-11-30T07:00:00              # planning starts here, in the works' own time

[money]
currency = "EUR"
labour_money_per_h = 25.0
furniture_wear_money_per_shelf = 0.0

[settings]                             # numbers of the trade's rules; all have a default
headroom_mm = 13.0                     # rim or knob to the shelf above
overhang_most_mm = 0.0                 # how far a rim may reach over the shelf's edge

[calendar]
time_zone = "UTC"
unattended_firing = false              # true only where the works and its insurer allow it

[[calendar.shifts]]
days = ["monday", "tuesday", "wednesday", "thursday", "friday"]
start = 07:00:00
end = 15:30:00
crew_people = 2

[supply]
drying_places_pieces = 400
glazing_pieces_per_hour = 50.0
rack_places_pieces = 1200
"""

KILNS = """\
# x from the left wall to the right, y from the front to the back, z up from the floor, all in mm.
[[kilns]]
code = "E1"
name = "electric kiln"
kind = "front"                         # front, top, car
wall = "electric"                      # electric, gas
usable_height_mm = 900.0
top_degc = 1280.0
programmes = ["BISC", "COL"]
usual_ware_kg = 70.0
chamber = { shape = "rectangle", w_mm = 700.0, d_mm = 620.0 }

[[kilns.places]]
code = "A"
shelf = "S500"
x_mm = 100.0
y_mm = 110.0

[[kilns.keep_outs]]
code = "TC"
what = "thermocouple"
outline = { shape = "disc", x_mm = 350.0, y_mm = 610.0, r_mm = 8.0 }
from_z_mm = 450.0
to_z_mm = 470.0

[[kilns.lining]]                       # hot face first
material = "insulating brick 1400"
thickness_mm = 115.0

[[kilns.lining]]
material = "ceramic fibre blanket 160"
thickness_mm = 75.0

[kilns.energy]
kind = "electric"                      # electric, natural gas, propane
connected_kw = 45.0
price_money_per_kwh = 0.22
co2_kg_per_kwh = 0.3

[[kilns]]
code = "G1"
name = "gas shuttle"
kind = "car"
wall = "gas"
usable_height_mm = 1200.0
top_degc = 1430.0
programmes = ["GLOST"]
usual_ware_kg = 150.0
least_ware_kg = 40.0
chamber = { shape = "rectangle", w_mm = 1200.0, d_mm = 620.0 }

[[kilns.places]]
code = "A"
shelf = "N480"
x_mm = 90.0
y_mm = 110.0

[[kilns.places]]
code = "B"
shelf = "N480"
x_mm = 630.0
y_mm = 110.0

[[kilns.keep_outs]]
code = "B1"
what = "burner"
outline = { shape = "rectangle", x_mm = 0.0, y_mm = 250.0, w_mm = 50.0, d_mm = 120.0 }
from_z_mm = 0.0
to_z_mm = 250.0
clear_mm = 25.0

[[kilns.peepholes]]                    # axis of the hole; the witness cones stand pack_away_mm along it
code = "P1"
x_mm = 300.0
y_mm = 0.0
z_mm = 250.0
direction_deg = 90.0
pack_away_mm = 250.0

[[kilns.peepholes]]
code = "P2"
x_mm = 900.0
y_mm = 0.0
z_mm = 850.0
direction_deg = 90.0
pack_away_mm = 250.0

[[kilns.lining]]
material = "insulating brick 1540"
thickness_mm = 230.0

[kilns.energy]
kind = "natural gas"
connected_kw = 250.0
price_money_per_kwh = 0.08
co2_kg_per_kwh = 0.18
basis = "gross"                        # gross or net calorific value

[kilns.cooling]
way = "forced"                         # sealed, damper, forced
draw_degc = 200.0                      # the works' rule; the thermometer decides, whatever a plan says
unload_degc = 60.0

[[kilns.cooling.bands]]
above_degc = 600.0
air_nm3_h = 200.0

[[kilns.cars]]
code = "C1"
deck_kg = 350.0
deck_material = "fireclay brick"
"""

PROGRAMMES = """\
[[programmes]]
code = "BISC"
name = "biscuit"
stage = "biscuit"                      # biscuit, glost, decoration
atmosphere = "oxidation"               # oxidation, reduction, neutral
recorded_fire_h = 14.0
recorded_cool_h = 16.0
recorded_kg = 220.0                    # ware and furniture of the recorded firing

[[programmes.segments]]
to_degc = 120.0
rate_k_h = 30.0
hold_h = 1.0

[[programmes.segments]]
to_degc = 970.0
rate_k_h = 90.0
hold_h = 0.5

[[programmes]]
code = "GLOST"
name = "glost"
stage = "glost"
atmosphere = "reduction"
recorded_fire_h = 19.0
recorded_cool_h = 20.0
recorded_kg = 600.0
cool_outside_h = 5.0

[[programmes.segments]]
to_degc = 1040.0
rate_k_h = 110.0

[[programmes.segments]]
to_degc = 1380.0
rate_k_h = 50.0
hold_h = 1.0
atmosphere = "reduction"

[[programmes]]
code = "COL"
name = "colours"
stage = "decoration"
atmosphere = "oxidation"
recorded_fire_h = 6.0
recorded_cool_h = 10.0
recorded_kg = 160.0

[[programmes.segments]]
to_degc = 810.0
rate_k_h = 150.0
hold_h = 0.3
"""

_SHELF_HEAD = "code form w_mm d_mm r_mm thickness_mm material mass_kg top_degc strength_mpa count_pieces"

_TABLES = {
    "shapes": (
        ("code name dry_kg biscuit_kg glazed_kg biscuit_shrinkage_share glost_shrinkage_share flatware handle_deg lid "
        "lid_seat_mm"),
        ("CUP", "cup", 0.24, 0.22, 0.23, 0.01, 0.1, "no", 0.0, None, None),
        ("PLATE", "plate", 0.62, 0.57, 0.6, 0.01, 0.1, "yes", None, None, None),
        ("BOX", "covered box", 0.4, 0.37, 0.39, 0.01, 0.1, "no", None, "BOXLID", 55.0),
        ("BOXLID", "lid of the covered box", 0.09, 0.08, 0.085, 0.01, 0.1, "no", None, None, None),
        ("DISH", "oval dish", 0.5, 0.46, 0.48, 0.01, 0.1, "no", None, None, None),
    ),
    "profiles": (
        "shape part z_mm r_mm",
        ("CUP", None, 0.0, 24.0), ("CUP", None, 6.0, 24.0), ("CUP", None, 62.0, 43.0),
        ("PLATE", None, 0.0, 72.0), ("PLATE", None, 24.0, 128.0),
        ("BOX", None, 0.0, 36.0), ("BOX", None, 55.0, 44.0),
        ("BOXLID", None, 0.0, 40.0), ("BOXLID", None, 12.0, 42.0),
        ("BOXLID", "knob", 12.0, 9.0), ("BOXLID", "knob", 26.0, 9.0),
    ),
    "parts": (
        "shape part kind from_z_mm to_z_mm x_mm y_mm x2_mm y2_mm r_mm w_mm d_mm",
        ("CUP", "handle", "bar", 16.0, 52.0, 30.0, 0.0, 62.0, 0.0, 5.0, None, None),
        ("BOXLID", "knob", "turned", None, None, 0.0, 0.0, None, None, None, None, None),
        ("DISH", "body", "oval", 0.0, 22.0, 0.0, 0.0, None, None, None, 190.0, 125.0),
        ("DISH", "foot", "oval", None, None, 0.0, 0.0, None, None, None, 140.0, 90.0),
    ),
    "stacking": (
        "shape way step_mm most_pieces spacer",
        ("CUP", "boxed", None, 4.0, None),
        ("PLATE", "piled", 8.0, 5.0, "SP6"),
        ("DISH", "piled", 10.0, 3.0, None),
    ),
    "glazes": (
        "code name softening_degc vapour runny low_degc high_degc",
        ("CLEAR", "clear", 1150.0, None, "no", 1350.0, 1410.0),
        ("IVORY", "ivory", 1150.0, "tin white", "no", 1350.0, 1400.0),
        ("AMBER", "running amber", 1120.0, None, "yes", None, None),
    ),
    "decorations": (
        "code name programme vapour low_degc high_degc",
        ("BLUE", "blue band", "COL", None, 790.0, 840.0),
        ("LEAF", "green leaf", "COL", "chrome", 790.0, 840.0),
        ("GOLD", "gold line", "COL", None, 780.0, 830.0),
    ),
    "routes": (
        "route programme rest_after_h",
        ("WHITE", "BISC", None), ("WHITE", "GLOST", None), ("RAW", "BISC", None),
    ),
    "products": (
        "code name shape glaze decorations route support_glost price_money second_price_money",
        ("CUP-W", "white cup", "CUP", "CLEAR", None, "WHITE", None, 12.0, 6.0),
        ("CUP-B", "cup with band and line", "CUP", "CLEAR", "BLUE | GOLD", "WHITE", None, 19.0, 8.0),
        ("PLATE-W", "white plate", "PLATE", "CLEAR", None, "WHITE", None, 18.0, 9.0),
        ("BOX-A", "amber box", "BOX", "AMBER", None, "WHITE", "D90", 26.0, 10.0),
        ("DISH-W", "white dish", "DISH", "CLEAR", None, "WHITE", None, 22.0, 10.0),
    ),
    "sets": (
        "set name product count_pieces sold_singly",
        ("DUO", "cups and plates for two", "CUP-W", 2.0, "yes"), ("DUO", None, "PLATE-W", 2.0, None),
        ("BAND", "four cups with a band", "CUP-B", 4.0, "yes"),
    ),
    "shelves": (
        _SHELF_HEAD,
        ("S500", "rectangle", 500.0, 400.0, None, 15.0, "cordierite", 6.5, 1290.0, 9.8, 12.0),
        ("N480", "rectangle", 480.0, 400.0, None, 10.0, "nitride-bonded silicon carbide", 5.2, 1450.0, 40.0, 24.0),
        ("H250", "half disc", None, None, 250.0, 15.0, "cordierite", 3.2, 1290.0, 9.8, 6.0),
    ),
    "shelf_lots": (
        "shelf count_pieces condemned_pieces bow_mm",
        ("S500", 3.0, 1.0, 0.5), ("N480", 4.0, 0.0, 1.5), ("N480", 2.0, 2.0, 3.0),
    ),
    "posts": (
        "code nominal_mm height_mm side_mm material mass_kg top_degc count_pieces",
        ("P50", 50.0, None, 40.0, "nitride-bonded silicon carbide", 0.2, 1450.0, 60.0),
        ("P75", 75.0, None, 40.0, "nitride-bonded silicon carbide", 0.3, 1450.0, 60.0),
        ("P100", 100.0, 99.6, 40.0, "nitride-bonded silicon carbide", 0.4, 1450.0, 60.0),
    ),
    "stubs": (
        "code height_mm side_mm mass_kg top_degc count_pieces",
        ("U30", 30.0, 40.0, 0.12, 1450.0, 12.0), ("U40", 40.0, 40.0, 0.16, 1450.0, 12.0),
        ("U60", 60.0, 40.0, 0.24, 1450.0, 12.0),
    ),
    "stilts": (
        "code height_mm contact_r_mm foot_r_mm points mass_kg top_degc count_pieces",
        ("ST15", 12.0, 15.0, 20.0, 3.0, 0.03, 1100.0, 40.0), ("ST25", 12.0, 25.0, 30.0, 3.0, 0.05, 1100.0, 30.0),
        ("ST40", 15.0, 40.0, 45.0, 3.0, 0.08, 1100.0, 20.0),
    ),
    "setters": (
        "code outer_mm inner_mm seat_mm pitch_mm most_pieces mass_kg top_degc count_pieces",
        ("SE260", 290.0, 265.0, 8.0, 34.0, 4.0, 0.8, 1420.0, 20.0),
        ("SE300", 330.0, 305.0, 8.0, 36.0, 4.0, 1.0, 1420.0, 20.0),
        ("SE340", 370.0, 345.0, 8.0, 38.0, 3.0, 1.2, 1420.0, 10.0),
    ),
    "catch_discs": (
        "code outer_mm height_mm mass_kg top_degc count_pieces",
        ("D90", 90.0, 9.0, 0.12, 1420.0, 30.0), ("D120", 120.0, 9.0, 0.2, 1420.0, 20.0),
        ("D160", 160.0, 10.0, 0.4, 1420.0, 10.0),
    ),
    "spacers": (
        "code height_mm pieces_per_gap mass_kg top_degc count_pieces",
        ("SP4", 4.0, 3.0, 0.01, 1300.0, 90.0), ("SP6", 6.0, 3.0, 0.015, 1300.0, 90.0),
        ("SP10", 10.0, 3.0, 0.02, 1300.0, 60.0),
    ),
    "consumables": (
        "code name per_load_pieces per_tier_pieces count_pieces",
        ("WAD", "wads", 0.0, 3.0, 500.0), ("CONE", "witness cones", 6.0, 0.0, 120.0),
        ("PACK", "cone pack holders", 2.0, 0.0, 20.0),
    ),
    "orders": (
        "code order customer item quantity_pieces delivered_pieces part_delivery due not_before priority_factor",
        ("1/1", "1", "first customer", "CUP-W", 60.0, 0.0, "yes", "2026-12-18", None, 1.0),
        ("1/2", "1", "first customer", "DUO", 10.0, 0.0, "no", "2026-12-18", "2026-12-10", 1.0),
        ("2/1", "2", "second customer", "BAND", 8.0, 2.0, "yes", "2027-01-20", None, 2.0),
    ),
    "lots": (
        "code product next_firing pieces order_line kind ready_at glazed",
        ("L1", "CUP-W", "BISC", 64.0, "1/1", "normal", None, None),
        ("L2", "PLATE-W", "GLOST", 24.0, "1/2", "normal", "2026-11-30 14:00", "no"),
        ("L3", "CUP-B", "COL", 26.0, "2/1", "normal", None, None),
    ),
    "moulds": (
        "shape moulds_pieces casts_per_day",
        ("CUP", 12.0, 2.0), ("PLATE", 8.0, 2.0), ("BOX", 4.0, 1.0),
    ),
    "holidays": ("date", ("2026-12-25",), ("2026-12-26",), ("2027-01-01",)),
    "offsets": (
        "kiln stage x_mm y_mm z_mm offset_k",
        ("G1", "glost", 300.0, 300.0, 150.0, -5.0), ("G1", "glost", 600.0, 300.0, 600.0, 2.0),
        ("G1", "glost", 900.0, 300.0, 1050.0, 6.0),
    ),
    "meter_readings": (
        "fired_on kiln programme ware_kg furniture_kg metered_kwh metered_m3 gross_kwh_per_m3 before stood_h",
        ("2026-11-09", "E1", "BISC", 66.0, 120.0, 138.0, None, None, None, None),
        ("2026-11-16", "E1", "BISC", 40.0, 110.0, 121.0, None, None, None, None),
        ("2026-11-18", "G1", "GLOST", 120.0, 330.0, None, 131.0, 11.2, None, None),
    ),
    "cone_readings": (
        "fired_on kiln programme x_mm y_mm z_mm cone state read_degc",
        ("2026-11-09", "E1", "BISC", 300.0, 300.0, 200.0, "07", "down", None),
        ("2026-11-09", "E1", "BISC", 300.0, 300.0, 200.0, "06", "standing", None),
        ("2026-11-18", "G1", "GLOST", 300.0, 300.0, 150.0, None, None, 1382.0),
    ),
    "cooling_readings": (
        "fired_on kiln programme ware_kg furniture_kg after_h chamber_degc",
        ("2026-11-09", "E1", "BISC", 66.0, 120.0, 8.0, 640.0), ("2026-11-09", "E1", "BISC", 66.0, 120.0, 16.0, 500.0),
        ("2026-11-09", "E1", "BISC", 66.0, 120.0, 24.0, 400.0),
    ),
    "cone_series": (
        "series cone rate_k_h end_point_degc",
        ("our maker", "8", 15.0, 1215.0), ("our maker", "8", 60.0, 1250.0), ("our maker", "8", 150.0, 1270.0),
    ),
}  # fmt: skip

TOML_TEXTS = {"works.toml": WORKS, "kilns.toml": KILNS, "programmes.toml": PROGRAMMES}

EMPTY_TEXTS = {"kilns.toml": "kilns = []\n", "programmes.toml": "programmes = []\n", "works.toml": WORKS}
"""The same for a works that is typed from scratch."""


def example_rows(table: str) -> list[dict[str, str | float | None]]:
    """Return the example rows of a table, heading -> value as a person would type it."""
    head, *rows = _TABLES[table]
    return [dict(zip(str(head).split(), row, strict=True)) for row in rows]
