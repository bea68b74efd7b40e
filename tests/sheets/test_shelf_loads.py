"""Bending stress on the loading sheet: by tier, from the real load, against the grade's limit."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kilnpack.rules.strength import limit_mpa, stress_mpa
from kilnpack.sheets.figures import figures_of
from kilnpack.sheets.order import tiers_in_order
from kilnpack.sheets.shelf_loads import shelf_grades
from tests.sheets.small_works import LOAD, WORKS


def test_every_tier_has_its_stress() -> None:
    """Each tier once; stress and share are those of the rule for the ware that stands on it."""
    tiers = tiers_in_order(WORKS, LOAD)
    figures = figures_of(WORKS, LOAD)
    grades = shelf_grades(WORKS, LOAD, tiers, figures)
    told = [row for grade in grades for row in grade.tiers]
    assert sorted(row[0] for row in told) == sorted(tier.name for tier in tiers)
    types = {shelf.code: shelf for shelf in WORKS.furniture.shelves}
    first = tiers[0]
    shelf = types[first.tier.shelf]
    ware_kg = sum(figures[one.form].body.ware_kg for one in LOAD.setting(first.tier.setting).standings)
    name, kilograms, stress, share = next(row for row in told if row[0] == first.name)
    assert name == first.name
    assert float(kilograms) == pytest.approx(ware_kg, abs=0.05)
    assert float(stress) == pytest.approx(stress_mpa(shelf, ware_kg), abs=0.005)
    limit = limit_mpa(WORKS.settings, shelf)
    assert float(share.rstrip("%")) == pytest.approx(100.0 * stress_mpa(shelf, ware_kg) / limit, abs=0.5)


def test_a_grade_says_its_strength_its_heat_and_its_firings() -> None:
    """Hot or cold strength is named; a works that counts firings sees them."""
    seen = tuple(
        replace(shelf, lots=tuple(replace(lot, firings=12) for lot in shelf.lots)) for shelf in WORKS.furniture.shelves
    )
    works = replace(WORKS, furniture=replace(WORKS.furniture, shelves=seen))
    tiers, figures = tiers_in_order(works, LOAD), figures_of(works, LOAD)
    said = [grade.said for grade in shelf_grades(works, LOAD, tiers, figures)]
    assert all("12 firings seen" in words for words in said)
    assert all("strength" in words and "overshoot" in words for words in said)
    plain = shelf_grades(WORKS, LOAD, tiers, figures)
    assert not any("firings" in grade.said for grade in plain)
