"""Exact re-check of a setting, from axes and radii, in a way of its own.

The search minimises overlaps with tables that carry a margin. Here every distance is measured once more, by ends
against segments instead of closest points, against what is wanted without the margin.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from kilnpack.packing.shelf.walls import MARGIN_MM, UNBOUND

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from kilnpack.packing.shelf.tables import ShelfTables

    Floats = NDArray[np.float64]


def worst_lack(tables: ShelfTables, places: Sequence[tuple[int, float, float, float]]) -> float:
    """Return the greatest lack of distance in a setting, in mm; 0 or less where all is clear.

    Parameters
    ----------
    places
        (kind, x in mm, y in mm, angle in radians) of each body.
    """
    if not places:
        return 0.0
    axes, owner, a, b = _ends(tables, places)
    return max(_pair_lack(tables, axes, owner, a, b), _wall_lack(tables, axes, a, b), _block_lack(tables, axes, a, b))


def _ends(
    tables: ShelfTables, places: Sequence[tuple[int, float, float, float]]
) -> tuple[NDArray[np.int64], NDArray[np.int64], Floats, Floats]:
    """Return primitive, body, and both ends[n, 2] of every axis in the shelf's frame."""
    axes = np.concatenate([np.arange(*tables.spans[kind, :2]) for kind, _, _, _ in places])
    owner = np.concatenate(
        [np.full(tables.spans[k, 1] - tables.spans[k, 0], i) for i, (k, _, _, _) in enumerate(places)]
    )
    where = np.array([place[1:] for place in places])[owner]
    cos, sin = np.cos(where[:, 2]), np.sin(where[:, 2])
    ends = []
    for sign in (1.0, -1.0):
        x = tables.prims[axes, 0] + sign * tables.prims[axes, 2]
        y = tables.prims[axes, 1] + sign * tables.prims[axes, 3]
        ends.append(np.stack([where[:, 0] + cos * x - sin * y, where[:, 1] + sin * x + cos * y], axis=1))
    return axes, owner, ends[0], ends[1]


def _to_segment(point: Floats, a: Floats, b: Floats) -> Floats:
    along = b - a
    length2 = (along**2).sum(axis=-1)
    share = ((point - a) * along).sum(axis=-1) / np.where(length2 > 0, length2, 1.0)
    foot = a + np.clip(share, 0.0, 1.0)[..., None] * along
    return np.asarray(np.hypot(*np.moveaxis(point - foot, -1, 0)))


def _side(a: Floats, b: Floats, c: Floats) -> Floats:
    return np.asarray(
        (b[..., 0] - a[..., 0]) * (c[..., 1] - a[..., 1]) - (b[..., 1] - a[..., 1]) * (c[..., 0] - a[..., 0])
    )


def _between_segments(a: Floats, b: Floats, c: Floats, d: Floats) -> Floats:
    least = np.minimum.reduce([_to_segment(a, c, d), _to_segment(b, c, d), _to_segment(c, a, b), _to_segment(d, a, b)])
    crossing = (_side(a, b, c) * _side(a, b, d) < 0) & (_side(c, d, a) * _side(c, d, b) < 0)
    return np.where(crossing, 0.0, least)


def _pair_lack(tables: ShelfTables, axes: NDArray[np.int64], owner: NDArray[np.int64], a: Floats, b: Floats) -> float:
    wanted = tables.need[np.ix_(axes, axes)] - MARGIN_MM
    middle, half = (a + b) / 2, tables.prims[axes, 4]
    near = np.hypot(*np.moveaxis(middle[:, None] - middle[None, :], -1, 0)) - half[:, None] - half[None, :] < wanted
    p, q = np.nonzero(near & (wanted > 0) & (owner[:, None] < owner[None, :]))
    return float((wanted[p, q] - _between_segments(a[p], b[p], a[q], b[q])).max(initial=0.0))


def _wall_lack(tables: ShelfTables, axes: NDArray[np.int64], a: Floats, b: Floats) -> float:
    worst = 0.0
    for end in (a, b):
        inside = end @ tables.planes[:, :2].T - tables.planes[:, 2]
        worst = max(worst, float((tables.plane_in[axes] - MARGIN_MM - inside).max(initial=0.0)))
        out = np.hypot(end[:, None, 0] - tables.rings[None, :, 0], end[:, None, 1] - tables.rings[None, :, 1])
        bound = tables.ring_in[axes] > UNBOUND / 10
        lack = out + tables.ring_in[axes] - MARGIN_MM - tables.rings[None, :, 2]
        worst = max(worst, float(np.where(bound, lack, 0.0).max(initial=0.0)))
    return worst


def _block_lack(tables: ShelfTables, axes: NDArray[np.int64], a: Floats, b: Floats) -> float:
    worst = 0.0
    for k, (x0, y0, x1, y1) in enumerate(tables.blocks):
        ring = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
        sides = [
            _between_segments(a, b, np.broadcast_to(c, a.shape), np.broadcast_to(d, a.shape))
            for c, d in zip(ring, np.roll(ring, -1, axis=0), strict=True)
        ]
        inside = (a[:, 0] >= x0) & (a[:, 0] <= x1) & (a[:, 1] >= y0) & (a[:, 1] <= y1)
        distance = np.where(inside, 0.0, np.minimum.reduce(sides))
        wanted = tables.block_need[axes, k]
        worst = max(worst, float(np.where(wanted > 0, wanted - MARGIN_MM - distance, 0.0).max(initial=0.0)))
    return worst
