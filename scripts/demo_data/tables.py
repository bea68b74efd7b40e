"""Rows to CSV files, headings in the order first used."""

from __future__ import annotations

import csv
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from demo_data.ware import Row, Ware


def write_table(folder: Path, name: str, rows: Sequence[Row]) -> None:
    """Write one table of a works folder."""
    headings = list(dict.fromkeys(key for row in rows for key in row))
    with (folder / f"{name}.csv").open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, headings, restval="", lineterminator="\n")
        writer.writeheader()
        writer.writerows({key: _cell(value) for key, value in row.items()} for row in rows)


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.3f}".rstrip("0").rstrip(".")
    return str(value)


def write_shapes(folder: Path, ware: Sequence[Ware], *, biscuit_share: float, glost_share: float) -> None:
    """Write shapes, profiles, parts and stacking of the ware."""
    shapes: list[Row] = []
    for one in ware:
        fired = one.fired_kg
        biscuit = 0.96 * fired
        shapes.append(
            {
                "code": one.code,
                "name": one.name,
                "dry_kg": 1.09 * biscuit,
                "biscuit_kg": biscuit,
                "glazed_kg": fired,
                "biscuit_shrinkage_share": biscuit_share,
                "glost_shrinkage_share": glost_share,
                "foot_r_mm": one.foot_r_mm,
                "wall_mm": one.wall_mm,
                "flatware": one.flatware,
                "handle_deg": one.handle_deg,
                "lid": one.lid[0] if one.lid else None,
                "lid_seat_mm": one.lid[1] if one.lid else None,
            }
        )
    write_table(folder, "shapes", shapes)
    write_table(folder, "profiles", [{"shape": one.code, "z_mm": z, "r_mm": r} for one in ware for z, r in one.profile])
    write_table(folder, "parts", [{"shape": one.code, **part} for one in ware for part in one.parts])
    write_table(folder, "stacking", [{"shape": one.code, **way} for one in ware for way in one.stacking])
