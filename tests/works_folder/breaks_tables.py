"""Breaks of cells, headings and codes."""

from __future__ import annotations

from tests.works_folder.breaking import Break, one

CELL_BREAKS = (
    one("negative mass", "shapes.csv", "tea cup;0,24", "tea cup;-0,24", ("shapes.csv", 2, "dry_kg", "above 0")),
    one("mass not a number", "shapes.csv", "tea cup;0,24", "tea cup;heavy", ("shapes.csv", 2, "dry_kg", "a number")),
    one("nan", "shapes.csv", "tea cup;0,24", "tea cup;nan", ("shapes.csv", 2, "dry_kg", "finite")),
    one("infinite", "shapes.csv", "tea cup;0,24", "tea cup;-inf", ("shapes.csv", 2, "dry_kg", "finite")),
    one("unit in the cell", "shapes.csv", "tea cup;0,24", "tea cup;0,24 kg", ("shapes.csv", 2, "dry_kg", "unit")),
    one(
        "mark for thousands", "orders.csv", "CUP-W;60", "CUP-W;1.060", ("orders.csv", 2, "quantity_pieces", "thousands")
    ),
    one("thousands and comma", "products.csv", ";9,5", ";1.009,5", ("products.csv", 2, "price_money", "thousands")),
    one("broken piece", "orders.csv", "CUP-W;60", "CUP-W;60,5", ("orders.csv", 2, "quantity_pieces", "whole number")),
    one("needed cell empty", "orders.csv", "Mill Shop", "", ("orders.csv", 4, "customer", "who ordered")),
    one("per cent as a number", "shapes.csv", "10 %", "10", ("shapes.csv", 2, "glost_shrinkage_share", "10 % is 0.1")),
    one("shrinkage out of range", "shapes.csv", "10 %", "40 %", ("shapes.csv", 2, "glost_shrinkage_share", "0.25")),
    one("neither yes nor no", "orders.csv", "10;yes", "10;perhaps", ("orders.csv", 2, "part_delivery", "yes or no")),
    one("date with slashes", "orders.csv", "18.12.2026", "12/18/2026", ("orders.csv", 2, "due", "2026-12-01")),
    one("no such day", "orders.csv", "18.12.2026", "31.11.2026", ("orders.csv", 2, "due", "that there are")),
    one("date with a time", "orders.csv", "18.12.2026", "2026-12-18 09:00", ("orders.csv", 2, "due", "without a time")),
    one("year of two digits", "orders.csv", "18.12.2026", "18.12.26", ("orders.csv", 2, "due", "a date such as")),
    one("year out of range", "orders.csv", "18.12.2026", "18.12.0026", ("orders.csv", 2, "due", "1990")),
    one("bare number for a date", "orders.csv", "18.12.2026", "46374", ("orders.csv", 2, "due", "a date such as")),
    one("no such time", "lots.csv", "14:00", "27:00", ("lots.csv", 3, "ready_at", "that there are")),
    one("no time", "lots.csv", "14:00", "noon", ("lots.csv", 3, "ready_at", "07:30")),
    one("unknown choice", "lots.csv", "1001/1;;", "1001/1;refyre;", ("lots.csv", 2, "kind", "nearest: refire")),
    one("code with a space", "moulds.csv", "CUP;10", "C UP;10", ("moulds.csv", 2, "shape", "without spaces")),
    one(
        "code that became a date",
        "lots.csv",
        "L4;",
        "3. Apr;",
        ("lots.csv", 5, "code", "format the column as text"),
    ),
    one("code that became a day", "lots.csv", "L4;", "03.04.2026;", ("lots.csv", 5, "code", "made a date of it")),
    one(
        "list with a hole", "products.csv", "BLUE | GREEN", "BLUE || GREEN", ("products.csv", 3, "decorations", "bars")
    ),
    one("points that are none", "shelves.csv", "65 65 | 415 65", "65 | 415 65", ("shelves.csv", 3, "posts_mm", "x y")),
    one(
        "points with words",
        "shelves.csv",
        "65 65 | 415 65",
        "65 a | 415 65",
        ("shelves.csv", 3, "posts_mm", "a number"),
    ),
)

HEADING_BREAKS = (
    one("unknown heading", "glazes.csv", "runny", "runy", ("glazes.csv", 1, "runy", "nearest: runny")),
    one(
        "heading twice", "glazes.csv", "low_degc;high_degc", "low_degc;low degc", ("glazes.csv", 1, "low_degc", "once")
    ),
    one(
        "needed heading missing",
        "moulds.csv",
        "casts_per_day",
        "note casts",
        ("moulds.csv", 1, "casts_per_day", "casts"),
    ),
    one("cells without a heading", "moulds.csv", "CUP;10;2", "CUP;10;2;;7", ("moulds.csv", 2, "", "without a heading")),
    one("empty table", "moulds.csv", "", "\n;;\n", ("moulds.csv", None, "", "a row of headings")),
)

CODE_BREAKS = (
    one(
        "code twice",
        "glazes.csv",
        "OX;",
        "CLEAR;",
        ("glazes.csv", 3, "code", "row 2"),
        ("products.csv", 6, "glaze", "a code of glazes"),
    ),
    one("support codes shared", "stilts.csv", "ST1;", "SE1;", ("setters.csv", 2, "code", "row 2 of stilts.csv")),
    one("set named as a product", "sets.csv", "TEA;tea", "CUP-B;tea", ("sets.csv", 2, "set", "no product has")),
    one("mould twice", "moulds.csv", "CUP;10;2", "CUP;10;2\nCUP;4;1", ("moulds.csv", 3, "shape", "row 2")),
    one("way twice", "stacking.csv", "PLATE;piled;8;5;SP1;3", "CUP;boxed;;2;;", ("stacking.csv", 3, "way", "once")),
    one("holiday twice", "holidays.csv", "2027-01-01", "25.12.2026", ("holidays.csv", 3, "date", "once")),
    one("product twice in a set", "sets.csv", "TEA;;POT-W", "TEA;;CUP-W", ("sets.csv", 3, "product", "once")),
    one("set named twice", "sets.csv", "TEA;;POT-W;1;", "TEA;coffee;POT-W;1;", ("sets.csv", 3, "name", "first row")),
    one("set without a product", "sets.csv", "TEA;;POT-W", "TEA;;", ("sets.csv", 3, "product", "product in the set")),
    one("unknown shape", "products.csv", "CUP-OX;CUP", "CUP-OX;CUPP", ("products.csv", 6, "shape", "nearest: CUP")),
    one("unknown item", "orders.csv", "CUP-B;30", "CUP-X;30", ("orders.csv", 4, "item", "a code of items")),
    one(
        "unknown decoration",
        "products.csv",
        "BLUE | GREEN",
        "BLUE | GREY",
        ("products.csv", 3, "decorations", "decorations"),
    ),
    one("unknown support", "products.csv", "R1;D1;11", "R1;D9;11", ("products.csv", 6, "support_glost", "supports")),
    one(
        "unknown programme of a route",
        "routes.csv",
        "R1;GLOST",
        "R1;GLOS",
        ("routes.csv", 3, "programme", "nearest: GLOST"),
    ),
    one(
        "unknown kiln of a reading", "offsets.csv", "G1;glost;300", "G2;glost;300", ("offsets.csv", 2, "kiln", "kilns")
    ),
    Break(
        name="noughts lost in a reference",
        edits=(("catch_discs.csv", "D1;", "007;"), ("products.csv", "R1;D1;11", "R1;7;11")),
        expected=(("products.csv", 6, "support_glost", "took the noughts"),),
    ),
)
