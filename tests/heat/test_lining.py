"""Walls, shell and cells of a lining."""

from __future__ import annotations

from math import pi
from typing import TYPE_CHECKING

import pytest

from kilnpack.heat.lining import lining_of
from kilnpack.heat.walls import CORNER_SHARE, film_w_m2_k, walls_of
from kilnpack.model.geometry import ConvexPolygon, Disc, HalfDisc, Rectangle
from kilnpack.shared_tables import table

if TYPE_CHECKING:
    from kilnpack.model.kilns import Kiln


def test_walls_of_a_box() -> None:
    """1 x 2 x 3 m: area 2 (2 + 3 + 6) = 22 m2, edges 4 x 6 = 24 m, growth 1.08 x 24 = 25.92 m."""
    walls = walls_of(Rectangle(w_mm=1000.0, d_mm=2000.0), 3000.0, 0.1)
    assert walls.area_m2 == pytest.approx(22.0)
    assert walls.growth_m == pytest.approx(25.92)
    assert walls.height_m == pytest.approx(3.2)


def test_walls_of_a_drum_grow_by_their_roundness() -> None:
    """Radius 1 m, height 2 m: area 2 pi + 4 pi; growth 1.08 x 4 pi of the rims and 2 pi x 2 of the round wall."""
    walls = walls_of(Disc(r_mm=1000.0), 2000.0, 0.1)
    assert walls.area_m2 == pytest.approx(6.0 * pi)
    assert walls.growth_m == pytest.approx(1.08 * 4.0 * pi + 4.0 * pi)


def test_walls_of_other_plans() -> None:
    """A half disc has half the disc's floor; a square drawn as a polygon is the square."""
    half = walls_of(HalfDisc(x_mm=0.0, r_mm=1000.0), 1000.0, 0.1)
    assert half.area_m2 == pytest.approx(pi + (2.0 + pi))
    corners = ((0.0, 0.0), (1000.0, 0.0), (1000.0, 1000.0), (0.0, 1000.0))
    square = walls_of(ConvexPolygon(corners_mm=corners), 500.0, 0.1)
    assert square == walls_of(Rectangle(w_mm=1000.0, d_mm=1000.0), 500.0, 0.1)


def test_cells_fill_the_wall(kiln: Kiln) -> None:
    """All cells together are the wall: their volumes sum to that of the box with edges and corners."""
    lining = lining_of(kiln)
    thick_m = 0.325
    walls = walls_of(kiln.chamber, kiln.usable_height_mm, thick_m)
    wanted = walls.area_m2 * thick_m + walls.growth_m / 2 * thick_m**2 + CORNER_SHARE / 3 * thick_m**3
    assert lining.cells[1].sum() == pytest.approx(wanted)
    assert 2.0 * lining.cells[0].sum() == pytest.approx(thick_m)
    assert set(lining.layer.tolist()) == {0, 1, 2}


@pytest.mark.source("ht-churchill-chu", "shared/wall_loss.csv")
def test_film_against_table() -> None:
    """Loss of a shell at 40-200 degC agrees with the table within 1 %."""
    for row in table("wall_loss"):
        shell, room = float(row["surface_degc"]), float(row["ambient_degc"])
        found = film_w_m2_k(shell, height_m=1.8, room_degc=room) * (shell - room)
        assert found == pytest.approx(float(row["loss_w_m2"]), rel=0.01), row


@pytest.mark.source("ht-churchill-chu", "Nu_vertical_plate_Churchill of ht with air of CoolProp")
@pytest.mark.parametrize("shell", [40.0, 80.0, 150.0])
def test_film_against_library(shell: float) -> None:
    """Convection and radiation of the shell agree with ht and CoolProp within 1 %."""
    from CoolProp.CoolProp import PropsSI
    from ht import Nu_vertical_plate_Churchill

    height, room = 1.5, 20.0
    at_k = (shell + room) / 2.0 + 273.15
    viscosity = PropsSI("V", "T", at_k, "P", 101325, "Air")
    conductivity = PropsSI("L", "T", at_k, "P", 101325, "Air")
    density = PropsSI("D", "T", at_k, "P", 101325, "Air")
    prandtl = PropsSI("PRANDTL", "T", at_k, "P", 101325, "Air")
    grashof = 9.80665 * (shell - room) / at_k * height**3 * (density / viscosity) ** 2
    convection = Nu_vertical_plate_Churchill(prandtl, grashof) * conductivity / height
    hot_k, cold_k = shell + 273.15, room + 273.15
    radiation = 0.9 * 5.670374419e-8 * (hot_k**4 - cold_k**4) / (hot_k - cold_k)
    assert film_w_m2_k(shell, height_m=height, room_degc=room) == pytest.approx(convection + radiation, rel=0.01)
