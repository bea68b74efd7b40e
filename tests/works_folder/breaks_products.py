"""Breaks of products and furniture."""

from __future__ import annotations

from tests.works_folder.breaking import Break, one

PRODUCT_BREAKS = (
    one(
        "share of a stage that is not fired",
        "products.csv",
        "support_glost;price_money\nCUP-W;CUP;CLEAR;;R1;;9,5",
        "support_glost;price_money;scrap_decoration_share;support_decoration\nCUP-W;CUP;CLEAR;;R1;;9,5;0,1;ST1",
        ("products.csv", 2, "scrap_decoration_share", "no decoration firing"),
        ("products.csv", 2, "support_decoration", "no decoration firing"),
    ),
    one(
        "windows that do not overlap",
        "decorations.csv",
        "chrome;770;",
        "chrome;840;",
        ("products.csv", 3, "decorations", "overlap"),
    ),
    one(
        "window no kiln meets",
        "glazes.csv",
        "1360;1410",
        "1395;1410",
        *(("products.csv", row, "route", "(Z2)") for row in (2, 3, 4, 5, 7)),
    ),
    one(
        "glazed foot with no support",
        "products.csv",
        "support_glost;price_money\nCUP-W;CUP;CLEAR;;R1;;9,5",
        "support_glost;price_money;foot_glost\nCUP-W;CUP;CLEAR;;R1;;9,5;glazed",
        ("products.csv", 2, "foot_glost", "(W6, W7)"),
    ),
    one(
        "glazed foot on a disc",
        "products.csv",
        "support_glost;price_money\nCUP-W;CUP;CLEAR;;R1;;9,5",
        "support_glost;price_money;foot_glost\nCUP-W;CUP;CLEAR;;R1;D1;9,5;glazed",
        ("products.csv", 2, "foot_glost", "a stilt or setter"),
    ),
    one(
        "glazed foot on a stilt in glost",
        "products.csv",
        "support_glost;price_money\nCUP-W;CUP;CLEAR;;R1;;9,5",
        "support_glost;price_money;foot_glost\nCUP-W;CUP;CLEAR;;R1;ST1;9,5;glazed",
        ("products.csv", 2, "support_glost", "stands 1100 degC"),
    ),
    Break(
        name="hot stilt under hard porcelain",
        edits=(
            ("products.csv", "POT-W;POT;CLEAR;;R1;;20", "POT-W;POT;CLEAR;;R1;ST1;20"),
            ("stilts.csv", "12;15;20;3;0,03;1100", "12;15;20;3;0,03;1420"),
        ),
        expected=(("products.csv", 5, "support_glost", "not stilted in glost (W7)"),),
    ),
    one("runny without a disc", "products.csv", "R1;D1;11", "R1;;11", ("products.csv", 6, "support_glost", "(W10)")),
    one("runny on a setter", "products.csv", "R1;D1;11", "R1;SE1;11", ("products.csv", 6, "support_glost", "(W10)")),
    one("disc too small", "catch_discs.csv", "D1;90", "D1;45", ("products.csv", 6, "support_glost", "(W10)")),
    Break(
        name="setter too small",
        edits=(
            ("products.csv", "PLATE-W;PLATE;CLEAR;;R1;;14", "PLATE-W;PLATE;CLEAR;;R1;SE1;14"),
            ("setters.csv", "330;310", "330;270"),
        ),
        expected=(("products.csv", 4, "support_glost", "(W8)"),),
    ),
    Break(
        name="stilt wider than the foot",
        edits=(
            ("products.csv", "POT-W;POT;CLEAR;;R1;;20", "POT-W;POT;CLEAR;;R1;ST1;20"),
            ("stilts.csv", "12;15;20;3;0,03;1100", "12;60;65;3;0,03;1420"),
        ),
        expected=(("products.csv", 5, "support_glost", "touches at 60 mm"),),
    ),
    Break(
        name="stilt of two points",
        edits=(
            ("products.csv", "POT-W;POT;CLEAR;;R1;;20", "POT-W;POT;CLEAR;;R1;ST1;20"),
            ("stilts.csv", "15;20;3;0,03;1100", "15;20;2;0,03;1420"),
        ),
        expected=(("products.csv", 5, "support_glost", "3 points"),),
    ),
    Break(
        name="stilt under a wide plate",
        edits=(
            ("products.csv", "PLATE-W;PLATE;CLEAR;;R1;;14", "PLATE-W;PLATE;CLEAR;;R1;ST1;14"),
            ("stilts.csv", "0,03;1100", "0,03;1420"),
        ),
        expected=(("products.csv", 4, "support_glost", "overhangs the stilt"),),
    ),
    one(
        "vapour misspelt",
        "decorations.csv",
        "chrome;770",
        "crome;770",
        ("decorations.csv", 3, "vapour", "nearest: chrome"),
    ),
    one(
        "nothing left of the yield",
        "products.csv",
        "support_glost;price_money\nCUP-W;CUP;CLEAR;;R1;;9,5",
        "support_glost;price_money;scrap_glost_share;second_glost_share\nCUP-W;CUP;CLEAR;;R1;;9,5;0,6;40 %",
        ("products.csv", 2, "scrap_glost_share", "less than 1"),
    ),
    one(
        "route backwards",
        "routes.csv",
        "R1;BISC;\nR1;GLOST;2",
        "R1;GLOST;2\nR1;BISC;",
        *(("products.csv", row, "route", "biscuit before glost") for row in range(2, 8)),
    ),
    one(
        "glaze without a glost",
        "routes.csv",
        "R1;GLOST;2\n",
        "",
        *(("products.csv", row, "route", "with a glost firing") for row in range(2, 8)),
        ("products.csv", 6, "support_glost", "no glost firing"),
        ("lots.csv", 3, "next_firing", "of its route"),
        ("lots.csv", 4, "next_firing", "of its route"),
    ),
    Break(
        name="decoration that is not fired",
        edits=(
            ("routes.csv", "R1;GLOST;2", "R1;GLOST;2;\nR2;BISC;;\nR2;GLOST;;\nR2;COL8;;BLUE"),
            ("routes.csv", "rest_after_h", "rest_after_h;decorations"),
            ("products.csv", "BLUE | GREEN;R1", "BLUE | GREEN;R2"),
        ),
        expected=(("products.csv", 3, "decorations", "fires each of BLUE"),),
    ),
    Break(
        name="vapour of a route misspelt",
        edits=(("routes.csv", "R1;GLOST;2", "R1;GLOST;2;leed"), ("routes.csv", "rest_after_h", "rest_after_h;vapours")),
        expected=tuple(("products.csv", row, "route", "nearest: lead") for row in range(2, 8)),
    ),
    Break(
        name="raw ware with a glazed foot",
        edits=(("routes.csv", "R1;BISC;", "R1;BISC;;glazed"), ("routes.csv", "rest_after_h", "rest_after_h;foot")),
        expected=tuple(("products.csv", row, "route", "no glaze on it") for row in range(2, 8)),
    ),
    one(
        "no kiln fires it",
        "kilns.toml",
        '["BISC", "COL8"]',
        '["BISC"]',
        ("products.csv", 3, "route", "some kiln fires"),
    ),
    one(
        "too tall for its kiln",
        "profiles.csv",
        "CUP;;60;42",
        "CUP;;980;42",
        *(("products.csv", row, "shape", "(F17, C6)") for row in (2, 2, 3, 3, 3, 6)),
        ("products.csv", 6, "support_glost", "(F17, C6)"),
    ),
    one(
        "too wide for its chamber",
        "kilns.toml",
        "least_ware_kg = 20.0",
        "least_ware_kg = 20.0\nwall_clear_mm = 200.0",
        ("products.csv", 4, "shape", "(C4, C10)"),
    ),
    one(
        "no room inside the walls",
        "kilns.toml",
        "least_ware_kg = 20.0",
        "least_ware_kg = 20.0\nwall_clear_mm = 400.0",
        *(("products.csv", row, "shape", "(C4, C10)") for row in (2, 3, 4, 5, 7)),
        ("products.csv", 6, "support_glost", "(C4, C10)"),
    ),
    one(
        "too wide for its shelf",
        "profiles.csv",
        "PLATE;;22;125",
        "PLATE;;22;225",
        *(("products.csv", 4, "shape", "(W2)"),) * 2,
    ),
)

FURNITURE_BREAKS = (
    Break(
        name="shelf with a dent",
        edits=(
            ("shelves.csv", "bow_mm\n", "bow_mm;corners_mm\n"),
            (
                "shelves.csv",
                "S1;rectangle;500;400;;;15;cordierite;6,5;1290;10;12;1;0,5",
                (
                    "S1;polygon;;;;65 65 | 335 65 | 200 235;15;cordierite;6,5;1290;10;12;1;0,5;"
                    "0 0 | 400 0 | 200 100 | 400 300 | 0 300"
                ),
            ),
        ),
        expected=(("shelves.csv", 2, "corners_mm", "convex"),),
    ),
    one("shelf without a count", "shelves.csv", "10;12;1;0,5", "10;;;", ("shelves.csv", 2, "count_pieces", "how many")),
    one(
        "bow without a count",
        "shelves.csv",
        "10;12;1;0,5",
        "10;;;0,5",
        ("shelves.csv", 2, "count_pieces", "how many"),
        ("shelves.csv", 2, "bow_mm", "without count_pieces"),
    ),
    one(
        "more condemned than there are",
        "shelves.csv",
        "10;12;1",
        "10;12;13",
        ("shelves.csv", 2, "condemned_pieces", "at most count_pieces 12"),
    ),
    one(
        "more condemned in a lot",
        "shelf_lots.csv",
        "S2;4;0",
        "S2;4;5",
        ("shelf_lots.csv", 2, "condemned_pieces", "at most"),
    ),
    one(
        "shelf without strength",
        "shelves.csv",
        "1290;10;12",
        "1290;;12",
        ("shelves.csv", 2, "strength_mpa", "hot or a cold"),
    ),
    one(
        "radius of a rectangle",
        "shelves.csv",
        "500;400;;",
        "500;400;250;",
        ("shelves.csv", 2, "r_mm", "for a rectangle"),
    ),
    one(
        "width missing",
        "shelves.csv",
        "S1;rectangle;500",
        "S1;rectangle;",
        ("shelves.csv", 2, "w_mm", "for a rectangle"),
    ),
    one(
        "two posts", "shelves.csv", "65 65 | 415 65 | 240 335", "65 65 | 415 65", ("shelves.csv", 3, "posts_mm", "(F5)")
    ),
    one(
        "posts in a line", "shelves.csv", "415 65 | 240 335", "415 65 | 240 65", ("shelves.csv", 3, "posts_mm", "(F5)")
    ),
    one(
        "posts at one side",
        "shelves.csv",
        "415 65 | 240 335",
        "415 65 | 240 150",
        ("shelves.csv", 3, "posts_mm", "(F13)"),
    ),
    one(
        "post over the edge", "shelves.csv", "65 65 | 415 65", "40 65 | 415 65", ("shelves.csv", 3, "posts_mm", "(F7)")
    ),
    one(
        "every shelf too cool",
        "shelves.csv",
        "5,2;1450;40",
        "5,2;1280;40",
        ("kilns.toml", None, "kilns[G1].programmes", "(F1)"),
    ),
    one(
        "stubs too low",
        "stubs.csv",
        "U1;40",
        "U1;20",
        *(("kilns.toml", None, f"kilns[{kiln}].programmes", "stubs of 25 mm") for kiln in ("K1", "K1", "G1")),
    ),
)
