"""A free way straight down for every body: the distances that make an order of setting exist.

Kinds are set in one order. A body keeps off those that stand already all the way it comes down, not only where it
ends; two bodies of one kind keep off each other's way, whichever comes first. So no two bodies, and no ring of them,
can be in each other's way.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from kilnpack.shapes.primitives import profile_need, swept

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from kilnpack.shapes.primitives import Profile


def with_way_down(
    keep: NDArray[np.float64],
    profiles: Sequence[Profile],
    is_foot: Sequence[bool],
    spans: NDArray[np.int64],
    margin_mm: float,
) -> NDArray[np.float64]:
    """Return the distances need[P, P], mm, raised so that the kinds can be set from above in `setting_order`.

    Parameters
    ----------
    keep
        keep[P, P]: distances two axes keep where they stand, mm; 0 if their heights never meet.
    profiles, is_foot
        Of the P primitives; a foot of its own is inside its body and keeps off edges only.
    spans
        spans[T, 3]: first primitive of each kind, and one past the last.
    margin_mm
        Added to every distance.
    """
    passing = np.array(
        [
            [0.0 if is_foot[p] or is_foot[q] else _passing(first, second) for q, second in enumerate(profiles)]
            for p, first in enumerate(profiles)
        ]
    )
    wanted = np.where(passing > 0, np.maximum(keep, passing + margin_mm), keep)
    rank = np.empty(len(spans), dtype=np.int64)
    rank[setting_order(wanted - keep, spans)] = np.arange(len(spans))
    owner = np.repeat(rank, spans[:, 1] - spans[:, 0])
    is_later = owner[:, None] > owner[None, :]
    one = np.where(is_later, wanted, wanted.T)
    return np.where(owner[:, None] == owner[None, :], np.maximum(wanted, wanted.T), one)


def setting_order(extra: NDArray[np.float64], spans: NDArray[np.int64]) -> list[int]:
    """Return the kinds in an order of setting that costs little: each time the one the others clear most easily.

    Parameters
    ----------
    extra
        extra[P, P]: distance that row p, lowered, keeps off a standing q beyond what both keep anyway, mm.
    """
    kinds = range(len(spans))
    cost = np.array([[extra[spans[b, 0] : spans[b, 1], spans[a, 0] : spans[a, 1]].sum() for b in kinds] for a in kinds])
    left = list(kinds)
    order = []
    while left:
        first = min(left, key=lambda a: (sum(cost[a, b] - cost[b, a] for b in left), a))
        left.remove(first)
        order.append(first)
    return order


def _passing(lowered: Profile, standing: Profile) -> float:
    return max(0.0, profile_need(swept(lowered), standing))
