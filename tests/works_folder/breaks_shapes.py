"""Breaks of shapes, parts and stacking."""

from __future__ import annotations

from tests.works_folder.breaking import Break, one

SHAPE_BREAKS = (
    Break(
        name="polygon that is not convex",
        edits=(
            ("parts.csv", "round_mm\n", "round_mm;corners_mm\n"),
            ("parts.csv", "TRAY;foot;oval;;;0;0;;;;140;90;", "TRAY;foot;polygon;;;;;;;;;;0;0 0 | 0 9 | 9 0"),
        ),
        expected=(("parts.csv", 5, "corners_mm", "counter-clockwise"),),
    ),
    Break(
        name="polygon of two corners",
        edits=(
            ("parts.csv", "round_mm\n", "round_mm;corners_mm\n"),
            ("parts.csv", "TRAY;foot;oval;;;0;0;;;;140;90;", "TRAY;foot;polygon;;;;;;;;;;0;0 0 | 0 9"),
        ),
        expected=(("parts.csv", 5, "corners_mm", "convex polygon"),),
    ),
    one(
        "floating shape",
        "parts.csv",
        "TRAY;body;oval;0;20",
        "TRAY;body;oval;5;20",
        ("shapes.csv", 6, "code", "begins at height 0"),
    ),
    one(
        "heavier after biscuit",
        "shapes.csv",
        "0,24;0,22",
        "0,24;0,25",
        ("shapes.csv", 2, "biscuit_kg", "dry_kg"),
        ("shapes.csv", 2, "glazed_kg", "biscuit_kg"),
    ),
    one("no geometry", "profiles.csv", "PLATE;;0;70\nPLATE;;22;125\n", "", ("shapes.csv", 3, "code", "a profile")),
    one(
        "profile goes down",
        "profiles.csv",
        "PLATE;;22;125",
        "PLATE;;22;125\nPLATE;;20;130",
        ("profiles.csv", 7, "z_mm", "at least 22"),
    ),
    one(
        "three radii at one height",
        "profiles.csv",
        "CUP;;5;24",
        "CUP;;0;25\nCUP;;0;26",
        ("profiles.csv", 4, "z_mm", "two radii"),
    ),
    one(
        "profile without height",
        "profiles.csv",
        "PLATE;;22;125",
        "PLATE;;0;125",
        ("profiles.csv", 5, "z_mm", "two heights"),
    ),
    one(
        "profile without radius",
        "profiles.csv",
        "PLATE;;0;70\nPLATE;;22;125",
        "PLATE;;0;0\nPLATE;;22;0",
        ("profiles.csv", 5, "r_mm", "above 0"),
    ),
    one(
        "profile above the foot", "profiles.csv", "PLATE;;0;70", "PLATE;;2;70", ("shapes.csv", 3, "foot_r_mm", "a foot")
    ),
    one(
        "profile of no part",
        "parts.csv",
        "LID;knob;turned;;;;;;;;;;\n",
        "",
        ("profiles.csv", 11, "part", "kind turned"),
    ),
    one(
        "part of no profile", "profiles.csv", "LID;knob;10;9\nLID;knob;24;9\n", "", ("parts.csv", 3, "part", "profiles")
    ),
    one(
        "turned part drawn twice",
        "parts.csv",
        "LID;knob;turned;;;;;;;;;;",
        "LID;knob;turned;;;;;;;;;;\nLID;knob;turned;;;5;;;;;;;",
        ("parts.csv", 4, "part", "one row"),
    ),
    one("bar without an end", "parts.csv", "30;0;62;0;5", "30;0;;0;5", ("parts.csv", 2, "x2_mm", "for bar")),
    one("bar with a width", "parts.csv", "30;0;62;0;5;;", "30;0;62;0;5;9;", ("parts.csv", 2, "w_mm", "an empty cell")),
    one(
        "part without height", "parts.csv", "bar;15;50", "bar;50;50", ("parts.csv", 2, "to_z_mm", "above from_z_mm 50")
    ),
    one(
        "part without heights",
        "parts.csv",
        "bar;15;50",
        "bar;;",
        ("parts.csv", 2, "from_z_mm", "a value"),
        ("parts.csv", 2, "to_z_mm", "a value"),
    ),
    one(
        "turned part in a foot",
        "parts.csv",
        "TRAY;foot;oval;;;0;0;;;;140;90;",
        "TRAY;foot;turned;;;0;0;;;;;;",
        ("parts.csv", 5, "kind", "discs"),
    ),
    one(
        "corners rounder than the side",
        "parts.csv",
        "oval;0;20;0;0;;;;180;120;",
        "rounded rectangle;0;20;0;0;;;;180;120;70",
        ("parts.csv", 4, "round_mm", "half of the shorter"),
    ),
    Break(
        name="foot said twice",
        edits=(
            ("shapes.csv", "0,48;0,01;0,1;;;;", "0,48;0,01;0,1;;;;;20"),
            ("shapes.csv", "lid_seat_mm", "lid_seat_mm;foot_r_mm"),
        ),
        expected=(("shapes.csv", 6, "foot_r_mm", "not both"),),
    ),
    one("lid without a seat", "shapes.csv", "LID;60", "LID;", ("shapes.csv", 4, "lid_seat_mm", "with a lid")),
    one("seat without a lid", "shapes.csv", "LID;60", ";60", ("shapes.csv", 4, "lid_seat_mm", "without a lid")),
    one(
        "lid above its pot", "shapes.csv", "LID;60", "LID;90", ("shapes.csv", 4, "lid_seat_mm", "height of the pot 60")
    ),
    one("lid of itself", "shapes.csv", "LID;60", "POT;60", ("shapes.csv", 4, "lid", "another shape")),
    one("unknown lid", "shapes.csv", "LID;60", "LIT;60", ("shapes.csv", 4, "lid", "nearest: LID")),
    one(
        "foot beside the axis",
        "parts.csv",
        "TRAY;foot;oval;;;0;0;;;;140;90;",
        "TRAY;foot;oval;;;60;0;;;;40;40;",
        ("shapes.csv", 6, "foot_r_mm", "axis over the foot"),
    ),
    one(
        "foot wider than the body",
        "parts.csv",
        "140;90",
        "200;90",
        ("shapes.csv", 6, "foot_r_mm", "inside the body's bottom"),
    ),
    one(
        "drawing columns without a drawing",
        "shapes.csv",
        "flatware;handle_deg;lid;lid_seat_mm\nCUP;tea cup;0,24;0,22;0,23;0,01;10 %;;0;;",
        "flatware;handle_deg;lid;lid_seat_mm;mm_per_unit\nCUP;tea cup;0,24;0,22;0,23;0,01;10 %;;0;;;1",
        ("shapes.csv", 2, "mm_per_unit", "without a drawing"),
    ),
)

STACKING_BREAKS = (
    one("step missing", "stacking.csv", "piled;8;5", "piled;;5", ("stacking.csv", 3, "step_mm", "for piled ware")),
    one("step in a box", "stacking.csv", "boxed;;4", "boxed;3;4", ("stacking.csv", 2, "step_mm", "for boxed ware")),
    one(
        "spacer in a box",
        "stacking.csv",
        "boxed;;4;;",
        "boxed;;4;SP1;",
        ("stacking.csv", 2, "spacer", "for boxed ware"),
    ),
    one(
        "step under the wall",
        "stacking.csv",
        "piled;8;5",
        "piled;3;5",
        ("stacking.csv", 3, "step_mm", "wall thickness 4"),
    ),
    one("more than the limit", "stacking.csv", "boxed;;4", "boxed;;5", ("stacking.csv", 2, "most_pieces", "at most 4")),
    one("many without spacers", "stacking.csv", "SP1;3", ";3", ("stacking.csv", 3, "spacer", "more than 3")),
    one(
        "stacked with its lid", "stacking.csv", "CUP;boxed", "POT;boxed", ("stacking.csv", 2, "shape", "without a lid")
    ),
    one(
        "tight nest",
        "stacking.csv",
        "way;step_mm;most_pieces;spacer;bare_most_pieces\nCUP;boxed;;4;;",
        "way;step_mm;most_pieces;spacer;bare_most_pieces;loose_mm\nCUP;nested;9;3;;;2",
        ("stacking.csv", 2, "loose_mm", "at least 4"),
    ),
    one("one in a stack", "stacking.csv", "boxed;;4", "boxed;;1", ("stacking.csv", 2, "most_pieces", "at least 2")),
)
