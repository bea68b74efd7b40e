"""The ware of firings that stay: set aside from the lots before anything is shared out, and its castings as planned."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from kilnpack.planning.kept import is_started
from kilnpack.planning.plan_flow_audit import sources

if TYPE_CHECKING:
    from kilnpack.model.orders import Lot
    from kilnpack.model.plans import LotPart
    from kilnpack.model.works import Works
    from kilnpack.planning.given import Given


@dataclass(frozen=True, slots=True, kw_only=True)
class SetAside:
    """Pieces of a lot for one part of a firing that stays; `lot` is None for ware that only the kiln knows of."""

    part: LotPart
    pieces: int
    lot: Lot | None


def set_aside(works: Works, given: Given) -> tuple[Works, tuple[SetAside, ...]]:
    """Take what firings that stay need out of the lots.

    Ware that another firing that stays brings, or that is cast for it, is no lot yet. What has come since under a code
    of the earlier plan (`1042-1@2`) is taken from lots of the same product, step and line, whatever they are called.
    Ware of a started firing stands in its kiln, and no lot lists it any more.

    Returns
    -------
    tuple
        The works with what is left of its lots, and what was set aside.
    """
    lacking = _lacking(given)
    left = {lot.code: lot.pieces for lot in works.lots}
    found: list[SetAside] = []
    for firing in given.kept:
        for part in firing.parts:
            if is_started(firing):
                found.append(SetAside(part=part, pieces=part.pieces, lot=None))
                continue
            need = min(part.pieces, lacking[part.lot])
            for lot in sources(works, part):
                pieces = min(need, left[lot.code])
                if pieces:
                    left[lot.code] -= pieces
                    need -= pieces
                    lacking[part.lot] -= pieces
                    found.append(SetAside(part=part, pieces=pieces, lot=lot))
    lots = tuple(replace(lot, pieces=left[lot.code]) for lot in works.lots)
    return replace(works, lots=tuple(lot for lot in lots if lot.pieces > 0)), tuple(found)


def _lacking(given: Given) -> Counter[str]:
    """Return the pieces of every lot that firings that stay take and that neither they nor castings for them bring."""
    found: Counter[str] = Counter()
    for firing in given.kept:
        for part in firing.parts:
            found[part.lot] += 0 if is_started(firing) else part.pieces
            found[part.becomes] -= part.good_pieces
    for row in given.casts:
        found[row.lot] -= row.pieces
    return +found


def cast_for_kept(given: Given) -> Counter[tuple[str, str]]:
    """Return the pieces that are cast for firings that stay, by line and product."""
    found: Counter[tuple[str, str]] = Counter()
    for row in given.casts:
        if row.order_line is not None:
            found[row.order_line, row.product] += row.pieces
    return found
