"""Bending stress of every shelf of a load against what its grade may see, and how near to its top temperature it is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from kilnpack.rules.heat import furniture_degc, offset_range_k
from kilnpack.rules.strength import limit_mpa, stress_mpa

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from kilnpack.model.furniture import ShelfType
    from kilnpack.model.loads import Load
    from kilnpack.model.works import Works
    from kilnpack.sheets.figures import Figure
    from kilnpack.sheets.order import TierPlace

STRESS_HEADINGS = ("tier", "ware kg", "MPa", "of limit")


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelfGrade:
    """One type of shelf in a load: its limits in words, and every tier on it as text."""

    said: str
    tiers: tuple[tuple[str, str, str, str], ...]
    """Tier, kilograms of ware, stress, share of the limit."""


def shelf_grades(
    works: Works, load: Load, tiers: Sequence[TierPlace], figures: Mapping[str, Figure]
) -> tuple[ShelfGrade, ...]:
    """Return the shelves of a load by type, tiers in order of loading."""
    types = {shelf.code: shelf for shelf in works.furniture.shelves}
    by_type: dict[str, list[TierPlace]] = {}
    for row in tiers:
        by_type.setdefault(row.tier.shelf, []).append(row)
    return tuple(_grade(works, load, types[code], rows, figures) for code, rows in sorted(by_type.items()))


def _grade(
    works: Works, load: Load, shelf: ShelfType, rows: Sequence[TierPlace], figures: Mapping[str, Figure]
) -> ShelfGrade:
    limit = limit_mpa(works.settings, shelf)
    hottest = max(_degc(works, load, row) for row in rows)
    basis = "hot strength" if shelf.strength_mpa is not None else "cold strength, hot not known"
    told = []
    for row in rows:
        ware_kg = sum(figures[one.form].body.ware_kg for one in load.setting(row.tier.setting).standings)
        stress = stress_mpa(shelf, ware_kg)
        told.append((row.name, f"{ware_kg:.1f}", f"{stress:.2f}", f"{stress / limit:.0%}"))
    seen = f"; {shelf.mean_firings:.0f} firings seen in the mean" if shelf.mean_firings else ""
    return ShelfGrade(
        said=(
            f"{shelf.code}, {shelf.material}, {shelf.thickness_mm:g} mm: at most {limit:.2f} MPa (share of {basis}), "
            f"up to {hottest:.0f} °C here with overshoot, grade to {shelf.top_degc:.0f} °C{seen}"
        ),
        tiers=tuple(told),
    )


def _degc(works: Works, load: Load, row: TierPlace) -> float:
    """Return the hottest that the shelf of a tier may become."""
    at_mm = (*row.middle_mm, row.tier.base_mm)
    _, hot_k = offset_range_k(works.settings, works.kiln(load.kiln), load.stage, at_mm)
    return furniture_degc(works.settings, works.programme(load.programme).peak_degc, hot_k)
