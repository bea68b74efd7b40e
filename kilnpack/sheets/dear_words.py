"""Why a good piece of a product is dear, beside the others of the same firings."""

from __future__ import annotations

from math import fsum, prod
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kilnpack.heat.per_piece import GoodPiece
    from kilnpack.model.pieces import Product

HEAVY, ROOMY, EMPTIER = 1.3, 1.3, 1.15
"""How many times the mean a figure must be to be named."""
LOSSES_SHARE = 0.15


def dear_words(product: Product, piece: GoodPiece, all_pieces: Sequence[GoodPiece]) -> str:
    """Return what makes a product dear, the strongest first: its mass, its room, its firings, losses, empty kilns.

    Parameters
    ----------
    piece, all_pieces
        Figures of the product, and of all products of the same firings.
    """
    found: list[tuple[float, str]] = []
    heavy = _times(piece.marginal_kwh, [one.marginal_kwh for one in all_pieces])
    if heavy > HEAVY:
        found.append((heavy, f"heavy: its own heat is {heavy:.1f} times the mean"))
    roomy = _times(_room(piece), [_room(one) for one in all_pieces])
    if roomy > ROOMY:
        found.append((roomy, f"takes {roomy:.1f} times the mean room for its weight"))
    firings = len(product.route) - len(piece.missing)
    if firings > 2:
        found.append((firings / 2.0, f"{firings} firings"))
    good = prod(1.0 - step.scrap_share - step.second_share for step in product.route)
    if good < 1.0 - LOSSES_SHARE:
        found.append((1.0 / good, f"{good:.0%} of what is set comes out good"))
    emptier = piece.kwh / piece.usual_kwh if piece.usual_kwh > 0.0 else 1.0
    if emptier > EMPTIER:
        found.append((emptier, f"fired in kilns emptier than usual: {emptier - 1.0:.0%} more than at usual fill"))
    return "; ".join(words for _, words in sorted(found, reverse=True)) or "nothing stands out"


def _times(value: float, values: Sequence[float]) -> float:
    mean = fsum(values) / len(values)
    return value / mean if mean > 0.0 else 1.0


def _room(piece: GoodPiece) -> float:
    """Return what a piece carries of the kiln for each kWh of its own heat."""
    return (piece.usual_kwh - piece.marginal_kwh) / piece.marginal_kwh if piece.marginal_kwh > 0.0 else 0.0
