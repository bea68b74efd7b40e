"""Wrenlow Studio: the tables of the invented studio with a round kiln."""

from __future__ import annotations

from typing import TYPE_CHECKING

from demo_data.tables import write_shapes, write_table
from demo_data.ware import beaker, bowl, cup, lid, mug, plate, pot, square, vase

if TYPE_CHECKING:
    from pathlib import Path

WARE = (
    mug("MUG", "mug", 86, 92),
    cup("CUP", "cup", 84, 66),
    plate("SAU", "saucer", 150, 18),
    plate("PLA", "plate", 220, 24),
    bowl("BOW", "breakfast bowl", 140, 66, most=3),
    bowl("BIG", "serving bowl", 225, 92, most=2),
    beaker("BEA", "beaker", 74, 96),
    pot("TEA", "teapot", 134, 108, spout=True, lid="TEALID"),
    lid("TEALID", "lid of the teapot", 84, 40),
    vase("VAS", "vase", 96, 188, waist=0.45),
    square("TRA", "square tray", 165, 165, 26),
    beaker("CHA", "charm bead", 36, 30),
)


def _lots(folder: Path) -> None:
    glost = (("MUG-W", 14, "1/1"), ("CUP-W", 8, "1/2"), ("SAU-W", 8, "1/3"), ("PLA-W", 6, "2/1"), ("BOW-W", 9, "2/2"),
             ("BIG-W", 2, None), ("BEA-W", 10, None), ("TEA-W", 2, "3/1"), ("VAS-R", 4, "3/2"), ("TRA-W", 4, None),
             ("CHA-G", 12, "4/1"))  # fmt: skip
    rows: list[dict[str, object]] = [
        {"code": f"W{number:02}", "product": product, "next_firing": "GLOST", "pieces": pieces, "order_line": line,
         "kind": "normal", "glazed": True}
        for number, (product, pieces, line) in enumerate(glost, start=1)
    ]  # fmt: skip
    rows += [
        {"code": "W20", "product": "MUG-W", "next_firing": "GLOST", "pieces": 1, "kind": "refire", "glazed": True},
        {"code": "W21", "product": "CUP-W", "next_firing": "GLOST", "pieces": 2, "kind": "sample", "glazed": True},
        {"code": "W30", "product": "MUG-W", "next_firing": "BISC", "pieces": 16, "kind": "normal", "glazed": True},
        {"code": "W31", "product": "BOW-W", "next_firing": "BISC", "pieces": 12, "kind": "normal", "glazed": True},
        {"code": "W32", "product": "PLA-W", "next_firing": "BISC", "pieces": 10, "kind": "normal", "glazed": True},
    ]
    write_table(folder, "lots", rows)


def write(folder: Path) -> None:
    """Write the tables of the studio beside its TOML files."""
    write_shapes(folder, WARE, biscuit_share=0.01, glost_share=0.1)
    write_table(folder, "glazes", [
        {"code": "SATIN", "name": "satin white", "softening_degc": 1080.0, "low_degc": 1230.0, "high_degc": 1270.0},
        {"code": "RUNNY", "name": "running green", "softening_degc": 1050.0, "runny": True, "low_degc": 1225.0,
         "high_degc": 1265.0},
    ])  # fmt: skip
    write_table(folder, "routes", [
        {"route": "WARE", "programme": "BISC", "rest_after_h": 12.0},
        {"route": "WARE", "programme": "GLOST", "rest_after_h": None},
    ])  # fmt: skip
    white = [ware for ware in WARE if ware.code not in {"TEALID", "CHA"}]
    products: list[dict[str, object]] = [
        {"code": f"{ware.code}-W", "name": f"{ware.name}, white", "shape": ware.code, "glaze": "SATIN", "route": "WARE",
         "support_glost": None, "foot_glost": "dry", "price_money": round(16.0 + 60.0 * ware.fired_kg, 0)}
        for ware in white
    ]  # fmt: skip
    products.append({"code": "VAS-R", "name": "vase, running green", "shape": "VAS", "glaze": "RUNNY", "route": "WARE",
                     "support_glost": "CD80", "foot_glost": "dry", "price_money": 58.0})  # fmt: skip
    products.append({"code": "CHA-G", "name": "charm bead, glazed all over", "shape": "CHA", "glaze": "SATIN",
                     "route": "WARE", "support_glost": "CRADLE", "foot_glost": "glazed",
                     "price_money": 9.0})  # fmt: skip
    write_table(folder, "products", products)
    write_table(folder, "shelves", [
        {"code": "H270", "name": "half shelf", "form": "half disc", "r_mm": 270.0,
         "posts_mm": "60 45 | 480 45 | 270 220",
         "thickness_mm": 15.0, "material": "cordierite", "mass_kg": 3.5, "top_degc": 1290.0, "strength_mpa": 9.8,
         "count_pieces": 10, "bow_mm": 0.3},
    ])  # fmt: skip
    write_table(folder, "shelf_lots", [{"shelf": "H270", "count_pieces": 2, "condemned_pieces": 1, "bow_mm": 2.2}])
    write_table(folder, "posts", [
        {"code": f"P{high}", "nominal_mm": float(high), "height_mm": measured, "spread_mm": spread, "side_mm": 38.0,
         "material": "cordierite", "mass_kg": 0.003 * high, "top_degc": 1290.0, "count_pieces": many}
        for high, measured, spread, many in (
            (25, None, 0.2, 12), (50, 49.4, 0.5, 12), (75, 74.2, 0.6, 12), (100, 98.9, 0.7, 15), (125, 124.1, 0.5, 12),
            (150, 148.7, 0.9, 9), (200, 198.4, 0.8, 6),
        )
    ])  # fmt: skip
    write_table(folder, "stubs", [
        {"code": "ST50", "height_mm": 50.0, "side_mm": 38.0, "mass_kg": 0.15, "top_degc": 1290.0, "count_pieces": 9},
    ])  # fmt: skip
    write_table(folder, "catch_discs", [
        {"code": "CD80", "outer_mm": 84.0, "height_mm": 8.0, "mass_kg": 0.1, "top_degc": 1290.0, "count_pieces": 8},
    ])  # fmt: skip
    write_table(folder, "setters", [
        {"code": "CRADLE", "outer_mm": 62.0, "inner_mm": 54.0, "seat_mm": 8.0, "pitch_mm": 52.0, "most_pieces": 2,
         "mass_kg": 0.08, "top_degc": 1290.0, "count_pieces": 16},
    ])  # fmt: skip
    write_table(folder, "spacers", [
        {"code": "SP6", "height_mm": 6.0, "pieces_per_gap": 3, "mass_kg": 0.015, "top_degc": 1290.0,
         "count_pieces": 30},
    ])  # fmt: skip
    write_table(folder, "consumables", [
        {"code": "CONE", "name": "witness cones", "per_load_pieces": 6, "count_pieces": 60},
        {"code": "WAD", "name": "wads", "per_tier_pieces": 3, "count_pieces": 200},
    ])  # fmt: skip
    orders = (("1/1", "Finch Row Bakery", "MUG-W", 12), ("1/2", "Finch Row Bakery", "CUP-W", 8),
              ("1/3", "Finch Row Bakery", "SAU-W", 8), ("2/1", "Mr Oldacre", "PLA-W", 6),
              ("2/2", "Mr Oldacre", "BOW-W", 8), ("3/1", "Quay Gallery", "TEA-W", 2),
              ("3/2", "Quay Gallery", "VAS-R", 4),
              ("4/1", "Bead Stall", "CHA-G", 12))  # fmt: skip
    write_table(folder, "orders", [
        {"code": code, "order": code[0], "customer": customer, "item": item, "quantity_pieces": many,
         "due": f"2026-12-{10 + 2 * int(code[0])}"}
        for code, customer, item, many in orders
    ])  # fmt: skip
    _lots(folder)
    write_table(folder, "offsets", [
        {"kiln": "R1", "stage": "glost", "x_mm": 310.0, "y_mm": 310.0, "z_mm": z, "offset_k": offset}
        for z, offset in ((90.0, -8.0), (380.0, 2.0), (680.0, 5.0))
    ])  # fmt: skip
