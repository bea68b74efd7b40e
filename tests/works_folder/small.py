"""A small works folder without a finding, for tests to break: texts of its files by name.

The works, its people and its ware are invented.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

WORKS = """\
name = "Alder Yard"
now = 2026-11-30T07:00:00

[money]
currency = "EUR"
labour_money_per_h = 24.0

[settings]
headroom_mm = 12.0
excluded_vapours = [["chrome", "tin white"], ["lead", "plain"]]

[calendar]
time_zone = "Europe/Vienna"
unattended_firing = true

[[calendar.shifts]]
days = ["monday", "tuesday", "friday"]
start = 07:00:00
end = 15:30:00
crew_people = 2

[supply]
drying_places_pieces = 300
glazing_pieces_per_hour = 40.0
"""

_ELECTRIC = """
[kilns.energy]
kind = "electric"
connected_kw = 40.0
price_money_per_kwh = 0.2
co2_kg_per_kwh = 0.3
"""

KILNS = f"""\
[[kilns]]
code = "K1"
name = "biscuit and colours"
kind = "front"
wall = "electric"
usable_height_mm = 800.0
top_degc = 1280.0
programmes = ["BISC", "COL8"]
usual_ware_kg = 60.0
chamber = {{ shape = "rectangle", w_mm = 700.0, d_mm = 600.0 }}

[[kilns.places]]
code = "A"
shelf = "S1"
x_mm = 100.0
y_mm = 100.0
{_ELECTRIC}
[[kilns]]
code = "G1"
kind = "car"
wall = "gas"
usable_height_mm = 1000.0
top_degc = 1420.0
programmes = ["GLOST"]
usual_ware_kg = 120.0
least_ware_kg = 20.0
chamber = {{ shape = "rectangle", w_mm = 1200.0, d_mm = 600.0 }}

[[kilns.places]]
code = "A"
shelf = "S2"
x_mm = 90.0
y_mm = 100.0

[[kilns.places]]
code = "B"
shelf = "S2"
x_mm = 1110.0
y_mm = 500.0
turn_deg = 180.0

[[kilns.keep_outs]]
code = "B1"
what = "burner"
outline = {{ shape = "rectangle", x_mm = 0.0, y_mm = 250.0, w_mm = 40.0, d_mm = 100.0 }}
from_z_mm = 0.0
to_z_mm = 200.0
clear_mm = 20.0

[[kilns.keep_outs]]
code = "T1"
what = "thermocouple"
outline = {{ shape = "disc", x_mm = 600.0, y_mm = 590.0, r_mm = 8.0 }}
from_z_mm = 500.0
to_z_mm = 520.0

[[kilns.peepholes]]
code = "P1"
x_mm = 300.0
y_mm = 0.0
z_mm = 200.0
direction_deg = 90.0

[[kilns.peepholes]]
code = "P2"
x_mm = 960.0
y_mm = 0.0
z_mm = 700.0
direction_deg = 90.0

[[kilns.offsets]]
stage = "glost"
spread_k = 8.0

[[kilns.lining]]
material = "insulating brick 1540"
thickness_mm = 230.0

[kilns.energy]
kind = "natural gas"
connected_kw = 200.0
price_money_per_kwh = 0.07
co2_kg_per_kwh = 0.18

[kilns.cooling]
way = "forced"
draw_degc = 250.0

[[kilns.cooling.bands]]
above_degc = 600.0
air_nm3_h = 200.0

[[kilns.cars]]
code = "C1"
deck_kg = 300.0
deck_material = "fireclay brick"
"""

PROGRAMMES = """\
[[programmes]]
code = "BISC"
stage = "biscuit"
atmosphere = "oxidation"
recorded_fire_h = 14.0
recorded_cool_h = 12.0
recorded_kg = 200.0
[[programmes.segments]]
to_degc = 960.0
rate_k_h = 80.0
hold_h = 0.5

[[programmes]]
code = "GLOST"
stage = "glost"
atmosphere = "reduction"
recorded_fire_h = 20.0
recorded_cool_h = 18.0
recorded_kg = 500.0
cool_outside_h = 4.0
[[programmes.segments]]
to_degc = 1040.0
rate_k_h = 100.0
[[programmes.segments]]
to_degc = 1385.0
rate_k_h = 50.0
hold_h = 1.0
atmosphere = "reduction"

[[programmes]]
code = "COL8"
name = "colours at 800"
stage = "decoration"
atmosphere = "oxidation"
recorded_fire_h = 6.0
recorded_cool_h = 8.0
recorded_kg = 150.0
[[programmes.segments]]
to_degc = 800.0
rate_k_h = 150.0
"""

TABLES = {
    "shapes": """\
code;name;dry_kg;biscuit_kg;glazed_kg;biscuit_shrinkage_share;glost_shrinkage_share;flatware;handle_deg;lid;lid_seat_mm
CUP;tea cup;0,24;0,22;0,23;0,01;10 %;;0;;
PLATE;dinner plate;0,62;0,57;0,60;0,01;0,1;yes;;;
POT;sugar pot;0,40;0,37;0,39;0,01;0,1;;;LID;60
LID;lid of the sugar pot;0,08;0,07;0,075;0,01;0,1;;;;
TRAY;oval tray;0,50;0,46;0,48;0,01;0,1;;;;
""",
    "profiles": """\
shape;part;z_mm;r_mm
CUP;;0;24
CUP;;5;24
CUP;;60;42
PLATE;;0;70
PLATE;;22;125
POT;;0;35
POT;;60;45
LID;;0;40
LID;;10;41
LID;knob;10;9
LID;knob;24;9
""",
    "parts": """\
shape;part;kind;from_z_mm;to_z_mm;x_mm;y_mm;x2_mm;y2_mm;r_mm;w_mm;d_mm;round_mm
CUP;handle;bar;15;50;30;0;62;0;5;;;
LID;knob;turned;;;;;;;;;;
TRAY;body;oval;0;20;0;0;;;;180;120;
TRAY;foot;oval;;;0;0;;;;140;90;
""",
    "stacking": """\
shape;way;step_mm;most_pieces;spacer;bare_most_pieces
CUP;boxed;;4;;
PLATE;piled;8;5;SP1;3
""",
    "glazes": """\
code;name;softening_degc;vapour;runny;low_degc;high_degc
CLEAR;clear glaze;1150;;;1360;1410
OX;running brown;1120;;yes;;
""",
    "decorations": """\
code;name;programme;vapour;low_degc;high_degc
BLUE;blue band;COL8;;780;830
GREEN;chrome green;COL8;chrome;770;
""",
    "routes": """\
route;programme;rest_after_h
R1;BISC;
R1;GLOST;2
""",
    "products": """\
code;shape;glaze;decorations;route;support_glost;price_money
CUP-W;CUP;CLEAR;;R1;;9,5
CUP-B;CUP;CLEAR;BLUE | GREEN;R1;;12
PLATE-W;PLATE;CLEAR;;R1;;14
POT-W;POT;CLEAR;;R1;;20
CUP-OX;CUP;OX;;R1;D1;11
TRAY-W;TRAY;CLEAR;;R1;;18
""",
    "sets": """\
set;name;product;count_pieces;sold_singly
TEA;tea for two;CUP-W;2;yes
TEA;;POT-W;1;
""",
    "shelves": """\
code;form;w_mm;d_mm;r_mm;posts_mm;thickness_mm;material;mass_kg;top_degc;strength_mpa;count_pieces;condemned_pieces;bow_mm
S1;rectangle;500;400;;;15;cordierite;6,5;1290;10;12;1;0,5
S2;rectangle;480;400;;65 65 | 415 65 | 240 335;10;nitride-bonded silicon carbide;5,2;1450;40;20;;
""",
    "shelf_lots": """\
shelf;count_pieces;condemned_pieces;bow_mm
S2;4;0;1,6
""",
    "posts": """\
code;nominal_mm;height_mm;side_mm;material;mass_kg;top_degc;count_pieces
P50;50;;40;nitride-bonded silicon carbide;0,2;1450;60
P100;100;99,5;40;nitride-bonded silicon carbide;0,4;1450;60
""",
    "stubs": """\
code;height_mm;side_mm;mass_kg;top_degc;count_pieces
U1;40;40;0,15;1450;12
""",
    "stilts": """\
code;height_mm;contact_r_mm;foot_r_mm;points;mass_kg;top_degc;count_pieces
ST1;12;15;20;3;0,03;1100;40
""",
    "setters": """\
code;outer_mm;inner_mm;seat_mm;pitch_mm;most_pieces;mass_kg;top_degc;count_pieces
SE1;330;310;8;35;4;0,9;1420;20
""",
    "catch_discs": """\
code;outer_mm;height_mm;mass_kg;top_degc;count_pieces
D1;90;9;0,1;1420;30
""",
    "spacers": """\
code;height_mm;pieces_per_gap;mass_kg;top_degc;count_pieces
SP1;6;3;0,01;1300;90
""",
    "consumables": """\
code;name;per_load_pieces;per_tier_pieces;count_pieces
WAD;wads;;3;500
CONE;cones;6;;60
""",
    "orders": """\
code;order;customer;item;quantity_pieces;delivered_pieces;part_delivery;due;not_before;priority_factor
1001/1;1001;Inn at the Weir;CUP-W;60;10;yes;18.12.2026;;1
1001/2;1001;Inn at the Weir;TEA;12;0;no;2026-12-18;2026-12-10;2
1002/1;1002;Mill Shop;CUP-B;30;;;2027-01-15;;
""",
    "lots": """\
code;product;next_firing;pieces;order_line;kind;ready_at;glazed
L1;CUP-W;BISC;70;1001/1;;;
L2;CUP-B;3;12;1002/1;;2026-11-30 14:00;
L3;PLATE-W;GLOST;20;;;;no
L4;POT-W;finished;5;;;;
""",
    "moulds": """\
shape;moulds_pieces;casts_per_day
CUP;10;2
""",
    "holidays": """\
date;note
2026-12-25;Christmas Day
2027-01-01;
""",
    "offsets": """\
kiln;stage;x_mm;y_mm;z_mm;offset_k
G1;glost;300;300;100;-4
G1;glost;900;300;800;6
""",
}

MEASURED = {
    "meter_readings": """\
fired_on;kiln;programme;ware_kg;furniture_kg;metered_kwh;metered_m3;gross_kwh_per_m3;before;stood_h
2026-11-02;K1;BISC;55;90;310;;;;
04.11.2026;K1;COL8;20;60;120,5;;;BISC;30
2026-11-05;G1;GLOST;110;400;;290;11,2;;
""",
    "cone_readings": """\
fired_on;kiln;programme;x_mm;y_mm;z_mm;cone;state;series;read_degc
2026-11-02;K1;BISC;300;300;100;06;down;;
2026-11-02;K1;BISC;300;300;100;05;standing;own;
2026-11-05;G1;GLOST;300;300;100;;;;1381
""",
    "cooling_readings": """\
fired_on;kiln;programme;ware_kg;furniture_kg;after_h;chamber_degc
2026-11-02;K1;BISC;55;90;10;400
2026-11-02;K1;BISC;55;90;20;190
""",
    "cone_series": """\
series;cone;rate_k_h;end_point_degc
own;05;15;1020
own;05;60;1044
own;05;150;1057
""",
}
"""What the small works measured; only tests of that write it into the folder."""


def small_files() -> dict[str, str]:
    """Return the texts of the files of the small works by name."""
    files = {"works.toml": WORKS, "kilns.toml": KILNS, "programmes.toml": PROGRAMMES}
    return files | {f"{name}.csv": text for name, text in TABLES.items()}


def measured_files() -> dict[str, str]:
    """Return the texts of the tables of what the small works measured by name."""
    return {f"{name}.csv": text for name, text in MEASURED.items()}


def write_files(folder: Path, files: dict[str, str]) -> Path:
    """Write texts into a folder and return it."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder
