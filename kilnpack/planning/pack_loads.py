"""The fewest loads for a given set of lots, in one kiln or in several that share the works' furniture.

Loads are filled one after the other, each from what the ones before left; here a piece counts by the room it takes, not
by how pressing it is, because all have to go in. Kilns take turns: the loads of one *turn* burn at the same time and
share the furniture, the next turn has it all back. The whole is tried with several seeds and orders of the kilns, and
the fewest loads win, then the fuller first ones. No proof is given that fewer would not do.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta
from typing import TYPE_CHECKING

from kilnpack.errors import Finding
from kilnpack.model.orders import LotKind
from kilnpack.packing.pack_load import pack_load
from kilnpack.planning.furniture_stock import furniture_of, lacking, stock_of, total, with_less
from kilnpack.search.seeds import split

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from kilnpack.model.kilns import Kiln
    from kilnpack.model.loads import Load
    from kilnpack.model.orders import Lot
    from kilnpack.model.programmes import Programme
    from kilnpack.model.works import Works
    from kilnpack.search.budget import Budget

    Packer = Callable[..., Load]

MOST_LOADS = 40
TRIES = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Loads:
    """Loads that take a set of lots: `turns` of loads that share furniture, and what went into none of them."""

    turns: tuple[tuple[Load, ...], ...]
    left_pieces: int

    @property
    def loads(self) -> tuple[Load, ...]:
        """All loads, turn by turn."""
        return tuple(load for turn in self.turns for load in turn)


def pack_loads(
    works: Works,
    kilns: Sequence[Kiln],
    programme: Programme,
    lots: Sequence[Lot],
    *,
    budget: Budget,
    seed: int,
    tries: int = TRIES,
    packer: Packer = pack_load,
) -> Loads:
    """Return few loads that take all lots, as far as they may stand in these kilns at all.

    Parameters
    ----------
    kilns
        Those that may burn at the same time; each takes one load a turn.
    budget
        For every single load.
    tries
        Whole rows of loads packed, each with another seed; every second one begins with the last kiln.
    """
    level = _all_alike(works, lots)
    rows = [
        _row(level, kilns if k % 2 == 0 else kilns[::-1], programme, lots, budget=budget, seed=one, packer=packer)
        for k, one in enumerate(split(seed, tries))
    ]
    return min(rows, key=lambda row: (row.left_pieces, len(row.loads), -_first_pieces(row)))


def _all_alike(works: Works, lots: Sequence[Lot]) -> Works:
    """Return the works in which no line is more pressing than another: all of them have to go in."""
    far = works.now.date() + timedelta(days=365)
    lines = tuple(replace(line, due=far, priority_factor=1.0) for line in works.lines)
    return replace(works, lines=lines, lots=tuple(replace(lot, kind=_plain(lot.kind)) for lot in lots))


def _plain(kind: LotKind) -> LotKind:
    return kind if kind is LotKind.REFIRE else LotKind.NORMAL


def _row(
    works: Works,
    kilns: Sequence[Kiln],
    programme: Programme,
    lots: Sequence[Lot],
    *,
    budget: Budget,
    seed: int,
    packer: Packer,
) -> Loads:
    """Fill one load after the other until nothing more goes in."""
    left = {lot.code: lot for lot in works.lots if lot.code in {one.code for one in lots}}
    turns: list[tuple[Load, ...]] = []
    while any(lot.pieces for lot in left.values()) and sum(len(turn) for turn in turns) < MOST_LOADS:
        turn: list[Load] = []
        for kiln in kilns:
            free = with_less(works, total(furniture_of(works, load) for load in turn))
            waiting = [lot for lot in left.values() if lot.pieces]
            load = packer(free, kiln, programme, waiting, budget=budget, seed=seed + len(turns))
            if load.pieces:
                turn.append(load)
                left = _less(left, load)
        if not turn:
            break
        turns.append(tuple(turn))
    return Loads(turns=tuple(turns), left_pieces=sum(lot.pieces for lot in left.values()))


def _less(lots: dict[str, Lot], load: Load) -> dict[str, Lot]:
    """Return the lots without the pieces that stand in a load."""
    found = dict(lots)
    for stack in load.stacks:
        for tier in stack.tiers:
            for fill in tier.fills:
                lot = found[fill.lot]
                found[fill.lot] = replace(lot, pieces=lot.pieces - fill.pieces)
    return found


def _first_pieces(row: Loads) -> int:
    """Return the pieces of all loads but the last, so that what is left over for the last one is small."""
    return sum(load.pieces for load in row.loads[:-1])


def audit_together(works: Works, loads: Sequence[Load]) -> tuple[Finding, ...]:
    """Check that loads in use at the same time do not take more furniture than the works has (F2, F3, F14, W8, T10)."""
    name = " and ".join(f"{load.kiln} {load.programme}" for load in loads)
    short = lacking(stock_of(works), total(furniture_of(works, load) for load in loads))
    return tuple(
        Finding(file=name, row=None, field=f"{kind} {code}", found=f"{count} too few", wanted="what the works has")
        for (kind, code), count in sorted(short.items())
    )
