"""The walls of a chamber: their area over the depth, and what their shell loses to the room.

The wall is one path from the hot face out; its area grows with the depth as edges and corners open out. For a box
this follows Langmuir's shape factor; round walls grow by their curvature as well.

References
----------
`langmuir-1913`: edges 0.54 and corners 0.15, here as the growing area A(x) = A + 1.08 E x + 3.6 x2.
`ht-churchill-chu`, `codata-2018`: heat lost by the shell.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, pi
from typing import TYPE_CHECKING

from kilnpack.model.geometry import ConvexPolygon, Disc, HalfDisc, Rectangle
from kilnpack.units import k_from_degc, m_from_mm

if TYPE_CHECKING:
    from kilnpack.heat.materials import Floats
    from kilnpack.model.geometry import Region

ROOM_DEGC = 20.0
EMISSIVITY = 0.9
STEFAN_BOLTZMANN_W_M2_K4 = 5.670374419e-8
GRAVITY_M_S2 = 9.80665
EDGE_SHARE = 1.08
CORNER_SHARE = 3.6


@dataclass(frozen=True, slots=True, kw_only=True)
class Walls:
    """Inside of a chamber: area, its growth with depth (m2 per m, then per m2), and the height of the shell."""

    area_m2: float
    growth_m: float
    height_m: float
    corner_share: float = CORNER_SHARE

    def area_at(self, depth_m: Floats) -> Floats:
        """Return the area at a depth in the wall, m2."""
        return self.area_m2 + self.growth_m * depth_m + self.corner_share * depth_m**2

    def volume_to(self, depth_m: Floats) -> Floats:
        """Return the volume of the wall down to a depth, m3."""
        return self.area_m2 * depth_m + self.growth_m / 2.0 * depth_m**2 + self.corner_share / 3.0 * depth_m**3


def walls_of(chamber: Region, height_mm: float, shell_m: float) -> Walls:
    """Return the walls of a chamber: sides, floor and roof.

    Parameters
    ----------
    chamber
        Outline of the chamber from above.
    height_mm
        From floor or deck to roof.
    shell_m
        Thickness of the wall, for the height of the shell.
    """
    area_m2, straight_m, round_m, corners = _outline(chamber)
    height_m = m_from_mm(height_mm)
    edges_m = 2.0 * (straight_m + round_m) + corners * height_m
    turned = round_m / _radius_m(chamber) if round_m else 0.0
    return Walls(
        area_m2=2.0 * area_m2 + (straight_m + round_m) * height_m,
        growth_m=EDGE_SHARE * edges_m + turned * height_m,
        height_m=height_m + 2.0 * shell_m,
    )


def _radius_m(chamber: Region) -> float:
    return m_from_mm(chamber.r_mm) if isinstance(chamber, Disc | HalfDisc) else 0.0


def _outline(chamber: Region) -> tuple[float, float, float, int]:
    """Return area (m2), straight and curved length of the rim (m), and its corners."""
    if isinstance(chamber, Rectangle):
        w, d = m_from_mm(chamber.w_mm), m_from_mm(chamber.d_mm)
        return w * d, 2.0 * (w + d), 0.0, 4
    if isinstance(chamber, Disc):
        r = m_from_mm(chamber.r_mm)
        return pi * r * r, 0.0, 2.0 * pi * r, 0
    if isinstance(chamber, HalfDisc):
        r = m_from_mm(chamber.r_mm)
        return pi * r * r / 2.0, 2.0 * r, pi * r, 2
    return _polygon(chamber)


def _polygon(chamber: ConvexPolygon) -> tuple[float, float, float, int]:
    corners = [(m_from_mm(x), m_from_mm(y)) for x, y in chamber.corners_mm]
    pairs = list(zip(corners, corners[1:] + corners[:1], strict=True))
    area = sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in pairs) / 2.0
    rim = sum(hypot(x2 - x1, y2 - y1) for (x1, y1), (x2, y2) in pairs)
    return abs(area), rim, 0.0, len(corners)


def film_w_m2_k(shell_degc: float, *, height_m: float, room_degc: float = ROOM_DEGC) -> float:
    """Return the outside film of a shell: radiation to the room and free convection at a vertical wall.

    Parameters
    ----------
    shell_degc
        Temperature of the shell.
    height_m
        Height of the shell; matters little once it is over 0.5 m.
    room_degc
        Temperature of the room and its walls.

    References
    ----------
    `ht-churchill-chu`: Nusselt number for all Rayleigh numbers; air as powers of the mean absolute temperature.
    """
    mean_k = k_from_degc((shell_degc + room_degc) / 2.0)
    conductivity = 0.02415 * (mean_k / 273.15) ** 0.82
    viscosity = 1.718e-5 * (mean_k / 273.15) ** 0.68
    density = 352.98 / mean_k
    prandtl = viscosity * 1006.0 / conductivity
    grashof = GRAVITY_M_S2 * abs(shell_degc - room_degc) / mean_k * height_m**3 * (density / viscosity) ** 2
    slow = (1.0 + (0.492 / prandtl) ** (9.0 / 16.0)) ** (8.0 / 27.0)
    nusselt = (0.825 + 0.387 * (grashof * prandtl) ** (1.0 / 6.0) / slow) ** 2
    shell_k, room_k = k_from_degc(shell_degc), k_from_degc(room_degc)
    radiation = EMISSIVITY * STEFAN_BOLTZMANN_W_M2_K4 * (shell_k**2 + room_k**2) * (shell_k + room_k)
    return float(nusselt * conductivity / height_m + radiation)
