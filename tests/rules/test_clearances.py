"""Guards the clearances: every number comes from its own setting, and the one that applies is taken."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kilnpack.model.geometry import Disc
from kilnpack.model.kilns import ChamberKind, KeepOut, WallKind
from kilnpack.model.pieces import Stage
from kilnpack.model.settings import WorksSettings
from kilnpack.rules.clearances import (
    keep_out_clear_mm,
    post_gap_mm,
    roof_mm,
    shelf_wall_mm,
    wall_clear_mm,
    ware_gap_mm,
)
from tests.rules.small_rules import kiln

SETTINGS = WorksSettings()


@pytest.mark.source("common-practice", "C1, C11, C12")
@pytest.mark.parametrize(
    ("stage", "refires", "wanted"),
    [
        (Stage.BISCUIT, False, 0.0 + 3.0),
        (Stage.BISCUIT, True, 0.0 + 3.0 + 2.0),
        (Stage.GLOST, False, 6.0 + 3.0),
        (Stage.GLOST, True, 6.0 + 3.0 + 2.0),
        (Stage.DECORATION, False, 6.0 + 3.0 + 2.0),
        (Stage.DECORATION, True, 6.0 + 3.0 + 2.0),
    ],
)
def test_gap_by_stage(stage: Stage, refires: bool, wanted: float) -> None:
    """Guards C1, C11, C12: contact in biscuit, 6 mm glazed, 3 mm for the hand, 2 mm where ware only grows."""
    assert ware_gap_mm(SETTINGS, stage, 800.0, [1200.0], refires=refires) == wanted


def test_gap_widens_fifty_kelvin_under_the_softening_point() -> None:
    """Guards C1: 6 mm only where the peak is more than 50 K under softening; the softest glaze of a load decides."""
    assert ware_gap_mm(SETTINGS, Stage.DECORATION, 849.0, [900.0], refires=False) == 11.0
    assert ware_gap_mm(SETTINGS, Stage.DECORATION, 850.0, [900.0], refires=False) == 17.0
    assert ware_gap_mm(SETTINGS, Stage.DECORATION, 850.0, [1300.0, 900.0], refires=False) == 17.0
    assert ware_gap_mm(SETTINGS, Stage.DECORATION, 850.0, [], refires=False) == 11.0
    assert ware_gap_mm(SETTINGS, Stage.GLOST, 1400.0, [1250.0], refires=False) == 9.0
    wide = replace(SETTINGS, gap_decoration_mm=20.0)
    assert ware_gap_mm(wide, Stage.DECORATION, 850.0, [900.0], refires=False) == 25.0


@pytest.mark.source("glazeware-loading", "C2: 6 mm from ware to post")
def test_gap_to_posts() -> None:
    """Guards C2 with C12: 6 mm to a post, 2 mm for raw ware, and the hand's 3 mm."""
    assert post_gap_mm(SETTINGS, Stage.GLOST) == post_gap_mm(SETTINGS, Stage.DECORATION) == 9.0
    assert post_gap_mm(SETTINGS, Stage.BISCUIT) == 5.0


@pytest.mark.source("kiln-maker-guide", "C4, C6: 25 to 50 mm at wall and roof")
def test_walls_and_roof() -> None:
    """Guards C4, C6, C10, F10, F17: electric, gas, the edge of a car, the kiln's own word, the roof, the shelf."""
    gas = kiln(wall=WallKind.GAS)
    assert [wall_clear_mm(SETTINGS, one) for one in (kiln(), gas)] == [50.0, 25.0]
    assert [shelf_wall_mm(SETTINGS, one) for one in (kiln(), gas)] == [13.0, 25.0]
    car = replace(gas, kind=ChamberKind.CAR)
    assert wall_clear_mm(replace(SETTINGS, car_edge_mm=61.0), car) == 61.0
    assert wall_clear_mm(SETTINGS, replace(car, wall_clear_mm=0.0)) == 0.0
    assert roof_mm(SETTINGS, kiln()) == 775.0


@pytest.mark.source("glazeware-loading", "C5: a bubble of 50 mm round the thermocouple")
def test_bubble_round_the_thermocouple() -> None:
    """Guards C5, C8: a thermocouple has 50 mm whatever its row says less; everything else keeps its own clearance."""
    keep = KeepOut(code="T", what="thermocouple", outline=Disc(r_mm=4.0), from_z_mm=0.0, to_z_mm=9.0, clear_mm=10.0)
    assert keep_out_clear_mm(SETTINGS, keep) == 50.0
    assert keep_out_clear_mm(SETTINGS, replace(keep, clear_mm=70.0)) == 70.0
    assert keep_out_clear_mm(SETTINGS, replace(keep, what="flue")) == 10.0
