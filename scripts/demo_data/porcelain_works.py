"""Quillfen Porcelain: the tables of the invented tableware works."""

from __future__ import annotations

import random
from datetime import date, timedelta
from typing import TYPE_CHECKING

from demo_data.readings import write_readings
from demo_data.tables import write_shapes, write_table
from demo_data.ware import Ware, beaker, bowl, cup, lid, mug, oval, plate, pot, square, vase

if TYPE_CHECKING:
    from pathlib import Path

    from demo_data.ware import Row

WARE: tuple[Ware, ...] = (
    plate("PL160", "side plate 16", 160, 19),
    plate("PL190", "dessert plate 19", 190, 21),
    plate("PL210", "breakfast plate 21", 210, 22),
    plate("PL240", "soup plate 24", 240, 36),
    plate("PL270", "dinner plate 27", 270, 25),
    plate("PL310", "show plate 31", 310, 27),
    plate("PL330", "cake plate 33", 330, 26),
    plate("SA120", "mocha saucer 12", 120, 15),
    plate("SA145", "coffee saucer 14.5", 145, 18),
    plate("SA160", "tea saucer 16", 160, 19),
    cup("CU60", "mocha cup", 62, 54),
    cup("CU80", "coffee cup", 80, 68),
    cup("CU95", "tea cup", 97, 58),
    cup("CU110", "breakfast cup", 112, 70),
    mug("MU80", "mug", 80, 94),
    mug("MU90", "tall mug", 84, 118),
    beaker("BE70", "beaker", 72, 92),
    beaker("BE85", "tea bowl", 92, 64),
    beaker("EG48", "egg cup", 48, 62),
    bowl("BO110", "rice bowl", 112, 56),
    bowl("BO130", "cereal bowl", 134, 58),
    bowl("BO150", "muesli bowl", 152, 64),
    bowl("BO190", "salad bowl 19", 192, 82, most=3),
    bowl("BO240", "salad bowl 24", 242, 98, most=3),
    bowl("BO80", "dip bowl", 82, 34),
    pot("TP10", "teapot 1.0 l", 142, 112, spout=True, lid="TL10"),
    pot("TP06", "teapot 0.6 l", 120, 96, spout=True, lid="TL06"),
    pot("CP12", "coffee pot", 124, 176, spout=True, lid="TL06"),
    pot("JU03", "milk jug 0.3 l", 86, 98, spout=False, lid=None),
    pot("JU10", "water jug 1.0 l", 124, 178, spout=False, lid=None),
    pot("SU02", "sugar box", 94, 68, spout=False, lid="TL05"),
    lid("TL10", "lid of teapot 1.0 l", 92, 44),
    lid("TL06", "lid of teapot 0.6 l and coffee pot", 78, 40),
    lid("TL05", "lid of sugar box", 62, 36),
    oval("OV240", "oval dish 24", 240, 165, 32),
    oval("OV320", "oval platter 32", 320, 225, 34),
    oval("OV180", "relish dish", 180, 105, 28),
    square("SQ140", "square bowl 14", 140, 140, 52),
    square("SQ200", "square plate 20", 200, 200, 24),
    square("RE240", "gratin dish", 240, 160, 55),
    square("BU180", "butter dish", 178, 112, 22),
    vase("VA150", "bud vase", 78, 152, waist=0.42),
    vase("VA220", "shoulder vase", 120, 222, waist=0.5),
    vase("VA300", "floor vase", 138, 298, waist=0.6),
    vase("BT180", "oil bottle", 74, 186, waist=0.35),
    beaker("CA70", "candle holder", 74, 48),
)

MATERIAL_B, MATERIAL_G = "cordierite", "nitride-bonded silicon carbide"
BLUE = ("PL160", "PL190", "PL210", "PL270", "SA145", "SA160", "CU80", "CU95", "MU80", "BO130", "JU03", "TP10")
LEAF = ("PL190", "PL210", "PL270", "SA145", "CU80", "MU80", "MU90", "BE70", "BO150", "VA150")
GOLD = ("PL160", "PL270", "PL310", "SA120", "CU60", "CU95", "SA160", "SU02", "EG48")
BLUE_GOLD = ("PL210", "CU110", "SA160", "TP06", "OV240")
AMBER = ("VA220", "BO110", "BT180")
IVORY = ("BO240", "SQ140", "SQ200", "RE240", "CU110", "BE85")


def products() -> list[Row]:
    """Return the catalogue: every shape but lids in white, a part of them coloured."""
    price = {ware.code: round(9.0 + 42.0 * ware.fired_kg, 1) for ware in WARE}
    rows: list[Row] = []

    def add(shape: Ware, mark: str, words: str, glaze: str, decorations: str, factor: float) -> None:
        first = round(price[shape.code] * factor, 1)
        rows.append(
            {
                "code": f"{shape.code}-{mark}",
                "name": f"{shape.name}, {words}",
                "shape": shape.code,
                "glaze": glaze,
                "decorations": decorations,
                "route": "TABLE",
                "support_glost": _support(shape, glaze),
                "price_money": first,
                "second_price_money": round(0.5 * first, 1),
                "second_glost_share": 0.06 if shape.flatware else None,
                "scrap_glost_share": 0.1 if shape.code in {"PL310", "PL330", "OV320", "VA300"} else None,
                "matching_k": 8.0 if mark in {"BL", "BG"} else None,
            }
        )

    by_code = {ware.code: ware for ware in WARE}
    for ware in WARE:
        if "lid" not in ware.tags:
            add(ware, "W", "white", "CLEAR", "", 1.0)
    for codes, mark, words, decorations, factor in (
        (BLUE, "BL", "blue reed", "REED", 1.7),
        (LEAF, "LF", "green leaf", "LEAF", 1.8),
        (GOLD, "GO", "gold line", "LINE", 1.9),
        (BLUE_GOLD, "BG", "blue reed and gold line", "REED | LINE", 2.4),
    ):
        for code in codes:
            add(by_code[code], mark, words, "CLEAR", decorations, factor)
    for code in AMBER:
        add(by_code[code], "AM", "running amber", "AMBER", "", 1.5)
    for code in IVORY:
        add(by_code[code], "IV", "ivory", "IVORY", "", 1.1)
    return rows


def _support(shape: Ware, glaze: str) -> str:
    if shape.code in {"PL310", "PL330"}:
        return "SE385"
    return ("CD120" if shape.code == "VA220" else "CD90") if glaze == "AMBER" else ""


def _orders(catalogue: list[Row], dice: random.Random) -> list[Row]:
    customers = ("Larkmoor Hotel", "Tern House Cafe", "Ashgrove Stores", "Miss Pellworth", "Fenside Tea Rooms",
                 "Harrow Lane Shop", "The Corn Exchange Inn", "Copperbeech Guest House")  # fmt: skip
    codes = [str(row["code"]) for row in catalogue]
    usual = [code for code in codes if not code.startswith(("VA", "OV320", "PL330", "BO240", "JU10", "BT"))]
    rare = [code for code in codes if code not in usual]
    rows: list[Row] = []
    for number in range(1, 17):
        due = date(2026, 12, 11) + timedelta(days=3 * number)
        picked = dice.sample(usual, 4) + ([dice.choice(rare)] if number % 2 else [])
        for place, item in enumerate(picked, start=1):
            many = dice.choice((24, 30, 36, 40, 48, 60)) if item in usual else dice.choice((6, 8, 10, 12))
            rows.append(
                {
                    "code": f"{2600 + number}/{place}",
                    "order": str(2600 + number),
                    "customer": customers[number % len(customers)],
                    "item": item,
                    "quantity_pieces": many,
                    "delivered_pieces": many // 4 if number < 3 and place == 1 else 0,
                    "part_delivery": number % 5 != 0,
                    "due": due.isoformat(),
                    "not_before": (due - timedelta(days=10)).isoformat() if number % 6 == 0 else None,
                    "priority_factor": 2.0 if number in {2, 7} else 1.0,
                }
            )
    for number, (item, many) in enumerate((("TEA6", 4), ("DUO", 10), ("MOCHA4", 6)), start=1):
        due = date(2026, 12, 22) + timedelta(days=8 * number)
        rows.append(
            {
                "code": f"{2620 + number}/1",
                "order": str(2620 + number),
                "customer": customers[number],
                "item": item,
                "quantity_pieces": many,
                "delivered_pieces": 0,
                "part_delivery": False,
                "due": due.isoformat(),
                "priority_factor": 1.0,
            }
        )
    return rows


COLOUR_FIRING = {"REED": "COL1190", "LEAF": "COL860", "LINE": "COL790"}


def _lot(number: int, product: str, firing: str, pieces: int, *, line: str | None = None, **more: object) -> Row:
    return {
        "code": f"L{number:03}",
        "product": product,
        "next_firing": firing,
        "pieces": pieces,
        "order_line": line,
        "kind": more.get("kind", "normal"),
        "ready_at": more.get("ready_at"),
        "glazed": more.get("glazed", True),
    }


def _lots(catalogue: list[Row], orders: list[Row], dice: random.Random) -> list[Row]:
    """Ware on its way: raw for biscuit, glazed for glost, white for each colour firing, some finished."""
    drawn = [*_bound_lots(catalogue, orders), *_free_lots(dice)]
    return [
        _lot(number, product, firing, pieces, **more) for number, (product, firing, pieces, more) in enumerate(drawn, 1)
    ]


def _bound_lots(catalogue: list[Row], orders: list[Row]) -> list[tuple[str, str, int, dict[str, object]]]:
    """Ware of the order lines: a third before biscuit, the rest before glost or its first colour."""
    by_code = {str(row["code"]): row for row in catalogue}
    rows: list[tuple[str, str, int, dict[str, object]]] = []
    for number, order in enumerate(orders):
        item, line = str(order["item"]), str(order["code"])
        if item not in by_code:
            continue
        want = int(str(order["quantity_pieces"])) - int(str(order["delivered_pieces"]))
        decorations = [word.strip() for word in str(by_code[item]["decorations"]).split("|") if word.strip()]
        where = number % 3
        if where == 0:
            rows.append((item, "BISC", want + 2, {"line": line}))
        elif where == 1:
            rows.append((item, "GLOST", want + 2, {"line": line, "glazed": number % 7 != 1}))
        elif decorations:
            rows.append((item, COLOUR_FIRING[decorations[0]], want, {"line": line}))
        else:
            rows.append((item, "GLOST", want + 1, {"line": line}))
    return rows


def _free_lots(dice: random.Random) -> list[tuple[str, str, int, dict[str, object]]]:
    """Ware bound to no order, samples, a refire, fillers and finished stock."""
    usual = (
        "CU80-W", "SA145-W", "PL210-W", "MU80-W", "BO130-W", "PL270-W", "BE70-W", "PL160-W", "SA160-W", "CU95-W",
    )  # fmt: skip
    rows: list[tuple[str, str, int, dict[str, object]]] = []
    for item in usual:
        rows.append((item, "BISC", dice.choice((24, 36, 48)), {}))
        rows.append((item, "GLOST", dice.choice((12, 18, 24)), {}))
    for firing, items, counts in (
        ("COL790", ("PL310-GO", "CU60-GO", "SA120-GO", "EG48-GO"), (12, 18)),
        ("COL1190", ("MU80-BL", "BO130-BL", "SA160-BL"), (18, 24)),
        ("COL860", ("MU90-LF", "BE70-LF", "BO150-LF", "VA150-LF"), (12, 16)),
    ):
        rows += [(item, firing, dice.choice(counts), {}) for item in items]
    rows += [
        ("VA220-AM", "GLOST", 8, {}),
        ("BO110-AM", "GLOST", 16, {}),
        ("PL330-W", "GLOST", 10, {}),
        ("TP10-W", "GLOST", 3, {"kind": "sample"}),
        ("MU80-W", "GLOST", 4, {"kind": "refire"}),
        ("BO80-W", "GLOST", 30, {"kind": "filler"}),
        ("PL210-W", "finished", 12, {}),
        ("CU80-W", "finished", 20, {}),
        ("CU95-BL", "GLOST", 24, {"ready_at": "2026-12-01 09:00"}),
    ]
    return rows


def _furniture(folder: Path) -> None:
    write_table(folder, "shelves", [
        {"code": "C480", "name": "cordierite 480 x 400", "form": "rectangle", "w_mm": 480.0, "d_mm": 400.0,
         "posts_mm": "50 50 | 430 50 | 240 350", "thickness_mm": 16.0, "material": MATERIAL_B, "mass_kg": 6.3,
         "top_degc": 1290.0, "strength_mpa": 9.8, "count_pieces": 40, "bow_mm": 0.4, "firings": 85},
        {"code": "C360", "name": "cordierite 360 x 560", "form": "rectangle", "w_mm": 360.0, "d_mm": 560.0,
         "posts_mm": "50 50 | 310 50 | 180 510", "thickness_mm": 16.0, "material": MATERIAL_B, "mass_kg": 6.6,
         "top_degc": 1290.0, "strength_mpa": 9.8, "count_pieces": 22, "bow_mm": 0.3},
        {"code": "N520", "name": "silicon carbide 520 x 440", "form": "rectangle", "w_mm": 520.0, "d_mm": 440.0,
         "posts_mm": "50 50 | 470 50 | 260 390", "thickness_mm": 9.0, "material": MATERIAL_G, "mass_kg": 5.7,
         "top_degc": 1450.0, "cold_strength_mpa": 120.0, "count_pieces": 68, "bow_mm": 0.4, "firings": 120},
    ])  # fmt: skip
    write_table(folder, "shelf_lots", [
        {"shelf": "N520", "count_pieces": 10, "condemned_pieces": 2, "bow_mm": 1.6, "firings": 260},
        {"shelf": "C480", "count_pieces": 6, "condemned_pieces": 1, "bow_mm": 1.4},
    ])  # fmt: skip
    posts: list[Row] = [
        {"code": f"C{high}", "nominal_mm": float(high), "side_mm": 40.0, "material": MATERIAL_B,
         "mass_kg": 0.0034 * high, "top_degc": 1290.0, "count_pieces": many}
        for high, many in ((38, 30), (50, 42), (75, 48), (100, 48), (125, 42), (150, 36), (200, 18))
    ]  # fmt: skip
    posts += [
        {"code": f"N{high}", "nominal_mm": float(high), "height_mm": measured, "spread_mm": spread, "side_mm": 40.0,
         "material": MATERIAL_G, "mass_kg": 0.0041 * high, "top_degc": 1450.0, "count_pieces": many}
        for high, measured, spread, many in (
            (38, None, 0.3, 60), (50, None, 0.4, 96), (75, 74.6, 0.4, 90), (100, 99.5, 0.5, 90), (125, None, 0.5, 72),
            (150, 149.2, 0.6, 48), (200, None, 0.6, 30), (250, 248.8, 0.7, 12),
        )
    ]  # fmt: skip
    write_table(folder, "posts", posts)
    write_table(folder, "stubs", [
        {"code": "SB30", "height_mm": 30.0, "side_mm": 40.0, "mass_kg": 0.12, "top_degc": 1450.0, "count_pieces": 48},
        {"code": "SB50", "height_mm": 50.0, "side_mm": 40.0, "mass_kg": 0.2, "top_degc": 1450.0, "count_pieces": 24},
    ])  # fmt: skip
    write_table(folder, "setters", [
        {"code": "SE385", "outer_mm": 385.0, "inner_mm": 372.0, "seat_mm": 7.0, "pitch_mm": 42.0, "most_pieces": 4,
         "mass_kg": 1.5, "top_degc": 1450.0, "count_pieces": 24},
    ])  # fmt: skip
    write_table(folder, "catch_discs", [
        {"code": "CD90", "outer_mm": 92.0, "height_mm": 9.0, "mass_kg": 0.13, "top_degc": 1450.0, "count_pieces": 60},
        {"code": "CD120", "outer_mm": 122.0, "height_mm": 9.0, "mass_kg": 0.22, "top_degc": 1450.0,
         "count_pieces": 30},
    ])  # fmt: skip
    write_table(folder, "spacers", [
        {"code": "SP6", "height_mm": 6.0, "pieces_per_gap": 3, "mass_kg": 0.015, "top_degc": 1300.0,
         "count_pieces": 240},
    ])  # fmt: skip
    write_table(folder, "consumables", [
        {"code": "WAD", "name": "wads", "per_tier_pieces": 3, "count_pieces": 9000},
        {"code": "CONE", "name": "witness cones", "per_load_pieces": 6, "count_pieces": 900},
        {"code": "HOLD", "name": "cone pack holders", "per_load_pieces": 2, "count_pieces": 300},
    ])  # fmt: skip


def _catalogue(folder: Path, catalogue: list[Row]) -> None:
    write_table(folder, "glazes", [
        {"code": "CLEAR", "name": "clear", "softening_degc": 1150.0, "low_degc": 1365.0, "high_degc": 1410.0},
        {"code": "IVORY", "name": "ivory", "softening_degc": 1150.0, "vapour": "tin white", "low_degc": 1360.0,
         "high_degc": 1405.0},
        {"code": "AMBER", "name": "running amber", "softening_degc": 1120.0, "runny": True, "low_degc": 1355.0,
         "high_degc": 1400.0},
    ])  # fmt: skip
    write_table(folder, "decorations", [
        {"code": "REED", "name": "blue reed, in the glaze", "programme": "COL1190", "low_degc": 1170.0,
         "high_degc": 1210.0},
        {"code": "LEAF", "name": "green leaf enamel", "programme": "COL860", "vapour": "chrome", "low_degc": 840.0,
         "high_degc": 880.0},
        {"code": "LINE", "name": "gold line", "programme": "COL790", "low_degc": 770.0, "high_degc": 805.0},
    ])  # fmt: skip
    write_table(folder, "routes", [
        {"route": "TABLE", "programme": "BISC", "ready_after_h": 60.0, "rest_after_h": 24.0},
        {"route": "TABLE", "programme": "GLOST", "ready_after_h": None, "rest_after_h": None},
    ])  # fmt: skip
    write_table(folder, "products", catalogue)
    sets = (
        ("TEA6", "tea set for six", (("TP10-BL", 1), ("CU95-BL", 6), ("SA160-BL", 6), ("JU03-BL", 1))),
        ("DUO", "breakfast for two", (("MU80-W", 2), ("PL210-W", 2), ("EG48-W", 2))),
        ("MOCHA4", "four mocha cups with saucers", (("CU60-GO", 4), ("SA120-GO", 4))),
    )
    write_table(folder, "sets", [
        {"set": code, "name": name if place == 0 else None, "product": product, "count_pieces": many}
        for code, name, items in sets
        for place, (product, many) in enumerate(items)
    ])  # fmt: skip


def write(folder: Path) -> None:
    """Write the tables of the works beside its TOML files."""
    dice = random.Random(1385)
    catalogue = products()
    orders = _orders(catalogue, dice)
    write_shapes(folder, WARE, biscuit_share=0.008, glost_share=0.105)
    _catalogue(folder, catalogue)
    _furniture(folder)
    write_table(folder, "orders", orders)
    write_table(folder, "lots", _lots(catalogue, orders, dice))
    write_table(folder, "moulds", [
        {"shape": ware.code, "moulds_pieces": 12 if ware.tags & {"flat", "cup", "bowl"} else 6, "casts_per_day": 2.0}
        for ware in WARE
    ])  # fmt: skip
    write_table(folder, "holidays", [{"date": day} for day in ("2026-12-24", "2026-12-25", "2026-12-26",
                                                              "2026-12-31", "2027-01-01")])  # fmt: skip
    write_table(folder, "offsets", [
        {"kiln": kiln, "stage": stage, "x_mm": x, "y_mm": y, "z_mm": z, "offset_k": offset}
        for kiln, stage, readings in (
            ("E1", "biscuit", ((300, 470, 100, -8), (800, 470, 600, 3), (550, 470, 1150, 9))),
            ("G1", "glost", ((360, 280, 120, -9), (900, 280, 330, -4), (360, 730, 700, 2), (900, 730, 1060, 6),
                             (630, 500, 1330, 9))),
            ("D1", "decoration", ((430, 350, 90, -9), (430, 350, 500, 1), (430, 350, 940, 6))),
        )
        for x, y, z, offset in readings
    ])  # fmt: skip
    write_readings(folder)
