"""Filling a firing: by the packer, remembered by content, or by estimate alone."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Protocol

from kilnpack.planning.estimate import AreaHeight
from kilnpack.planning.firings import Packed
from kilnpack.planning.furniture_stock import FLAT, POST, SHELF, STUB, SUPPORT, furniture_of, stock_of, with_less
from kilnpack.shapes.bodies import piece_kg

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from kilnpack.errors import Finding
    from kilnpack.model.kilns import Kiln
    from kilnpack.model.loads import Load
    from kilnpack.model.orders import Lot
    from kilnpack.model.plans import Firing
    from kilnpack.model.programmes import Programme
    from kilnpack.model.works import Works
    from kilnpack.planning.estimate import Estimate
    from kilnpack.planning.furniture_stock import Taken
    from kilnpack.planning.interrupts import Interrupts
    from kilnpack.search.budget import Budget


USUAL_TIERS = 6
"""Tiers of a stack until a load was packed. From memory."""


class Packer(Protocol):
    """What packs a load: `kilnpack.packing.pack_load`, or a small stand-in for it."""

    def __call__(
        self, works: Works, kiln: Kiln, programme: Programme, lots: tuple[Lot, ...], *, budget: Budget, seed: int
    ) -> Load:
        """Return a load of the lots."""


class Checker(Protocol):
    """What checks a load: returns a finding for every rule it breaks."""

    def __call__(self, works: Works, load: Load, /) -> tuple[Finding, ...]:
        """Return every finding."""


def ware_kg(works: Works, programme: Programme, lots: tuple[Lot, ...], taken: dict[str, int]) -> float:
    """Return the mass of the ware taken from lots, kg."""
    product = {lot.code: works.product(lot.product) for lot in lots}
    return sum(
        count * piece_kg(works, works.shape(product[code].shape), programme.stage) for code, count in taken.items()
    )


def furniture_kg(works: Works, taken: Taken) -> float:
    """Return the mass of furniture, kg."""
    furniture = works.furniture
    masses = {(SHELF, row.code): row.mass_kg for row in furniture.shelves}
    masses |= {(FLAT, row.code): row.mass_kg for row in furniture.shelves}
    masses |= {(POST, row.code): row.mass_kg for row in furniture.posts}
    masses |= {(STUB, row.code): row.mass_kg for row in furniture.stubs}
    for rows in (furniture.stilts, furniture.setters, furniture.catch_discs, furniture.spacers):
        masses |= {(SUPPORT, row.code): row.mass_kg for row in rows}
    return sum(masses[key] * count for key, count in taken.items())


def taken_of(load: Load) -> dict[str, int]:
    """Return the pieces of each lot in a load."""
    found: Counter[str] = Counter()
    for stack in load.stacks:
        for tier in stack.tiers:
            for fill in tier.fills:
                found[fill.lot] += fill.pieces
    return dict(found)


def packed_of(works: Works, firing: Firing) -> Packed:
    """Return what the load of a planned firing holds and takes."""
    furniture = furniture_of(works, firing.load)
    return Packed(
        taken=taken_of(firing.load),
        ware_kg=firing.ware_kg,
        furniture_kg=firing.furniture_kg,
        shelves=shelves_in(furniture),
        furniture=furniture,
        load=firing.load,
        left_out=firing.load.left_out,
    )


def shelves_in(furniture: Taken) -> int:
    """Return the shelves among furniture."""
    return sum(count for (kind, _), count in furniture.items() if kind in {SHELF, FLAT})


@dataclass(slots=True)
class RealPack:
    """Fills firings with the packer, checks every load, remembers them by content, and teaches the estimate."""

    packer: Packer
    checker: Checker | None
    seed: int
    budget_of: Callable[[Kiln, Programme], Budget]
    estimate: Estimate
    interrupts: Interrupts
    calls: int = 0
    refused: list[str] = field(default_factory=list)
    typical: dict[tuple[str, str], Packed] = field(default_factory=dict)
    """The load with the most pieces so far, by kiln and programme."""
    _known: dict[object, Packed] = field(default_factory=dict)
    _of_one: dict[object, tuple[int, Packed]] = field(default_factory=dict)
    """Loads that were offered pieces of one lot alone, with how many, by all else that they depend on."""

    def __call__(self, works: Works, kiln: Kiln, programme: Programme, lots: tuple[Lot, ...], *, out: Taken) -> Packed:
        """Pack, check and count a load; one refused by the checker holds nothing."""
        wanted = {line.code: line.priority_factor for line in works.lines}
        content = tuple((lot.code, lot.pieces, wanted.get(lot.order_line or "", 0.0)) for lot in lots)
        key = (kiln.code, programme.code, content, tuple(sorted((+out).items())))
        if key not in self._known:
            self._known[key] = self._again(key, lots) or self._pack(with_less(works, out), kiln, programme, lots)
            if len(lots) == 1:
                self._of_one[_but_pieces(key, lots[0])] = (lots[0].pieces, self._known[key])
        return self._known[key]

    def furniture_share(self, works: Works, kiln: Kiln, programme: Programme, out: Taken) -> float:
        """Return what share of the fullest load so far the furniture allows that is not elsewhere."""
        return _any_posts_share(works, _full_furniture(self.typical, kiln, programme), out)

    def learn_alike(self, kiln: str, known: str, programme: str) -> None:
        """Take a kiln to hold of a programme what one like it holds."""
        if isinstance(self.estimate, AreaHeight) and (known, programme) in self.estimate.density_share:
            self.estimate.density_share[kiln, programme] = self.estimate.density_share[known, programme]
        if (known, programme) in self.typical:
            self.typical.setdefault((kiln, programme), self.typical[known, programme])

    def _again(self, key: tuple[object, ...], lots: tuple[Lot, ...]) -> Packed | None:
        """Return the load of a lot that was packed before with more or fewer pieces of it left out; None if none was.

        A load that left pieces out is as full as the packer could make it, however many there are.
        """
        if len(lots) != 1 or _but_pieces(key, lots[0]) not in self._of_one:
            return None
        before, packed = self._of_one[_but_pieces(key, lots[0])]
        taken, offered = sum(packed.taken.values()), lots[0].pieces
        if packed.load is None or not 0 < taken < before or offered < taken:
            return None
        return _offered_anew(packed, before, offered, taken)

    def _pack(self, works: Works, kiln: Kiln, programme: Programme, lots: tuple[Lot, ...]) -> Packed:
        self.calls += 1
        works = replace(works, lots=lots)
        with self.interrupts.cutting_short():
            load = self.packer(works, kiln, programme, lots, budget=self.budget_of(kiln, programme), seed=self.seed)
        findings = self.checker(works, load) if self.checker is not None and load.pieces else ()
        if findings:
            self.refused.append(f"a load of {kiln.code} with {programme.code} was refused: {findings[0]}")
            return Packed(taken={}, ware_kg=0.0, furniture_kg=0.0, shelves=0, furniture=Counter())
        taken, furniture = taken_of(load), furniture_of(works, load)
        if load.pieces < sum(lot.pieces for lot in lots) and isinstance(self.estimate, AreaHeight):
            by_code = {lot.code: lot for lot in lots}
            held: Counter[tuple[str, int]] = Counter()
            for code, count in taken.items():
                held[by_code[code].product, by_code[code].step] += count
            self.estimate.learn(kiln, programme, dict(held))
        packed = Packed(
            taken=taken,
            ware_kg=ware_kg(works, programme, lots, taken),
            furniture_kg=furniture_kg(works, furniture),
            shelves=shelves_in(furniture),
            furniture=furniture,
            load=load,
            left_out=load.left_out,
        )
        before = self.typical.get((kiln.code, programme.code))
        if taken and (before is None or sum(before.taken.values()) < load.pieces):
            self.typical[kiln.code, programme.code] = packed
        return packed


def _but_pieces(key: tuple[object, ...], lot: Lot) -> tuple[object, ...]:
    """Return all that a load of one lot depends on but how many pieces there are."""
    kiln, programme, content, out = key
    assert isinstance(content, tuple)
    return kiln, programme, lot.code, lot.product, lot.step, content[0][2], out


def _offered_anew(packed: Packed, before: int, offered: int, taken: int) -> Packed:
    """Return a load of one lot with what it leaves out and its shares told of another number of pieces."""
    load = packed.load
    assert load is not None
    left = tuple(replace(row, pieces=offered - taken) for row in load.left_out[:1]) if offered > taken else ()
    bound = load.bound_share
    load = replace(
        load,
        left_out=left,
        value_share=round(taken / offered, 6),
        bound_share=min(1.0, bound * before / offered) if bound is not None and offered <= before else None,
        columns_share=None,
    )
    return replace(packed, load=load, left_out=left)


@dataclass(slots=True)
class EstimatedPack:
    """Fills firings by estimate: lots in their order until the kiln is taken to be full.

    Where a real load of the kiln and programme is known, furniture is counted in proportion to it.
    """

    estimate: Estimate
    typical: Mapping[tuple[str, str], Packed] = field(default_factory=dict)

    def __call__(self, works: Works, kiln: Kiln, programme: Programme, lots: tuple[Lot, ...], *, out: Taken) -> Packed:
        """Take pieces until the shares add up to a full kiln, or to what the furniture left here allows."""
        known = _known_load(self.typical, kiln, programme)
        full = _full_furniture(self.typical, kiln, programme)
        room = _furniture_share(works, full, out) + 1e-9
        left, taken = room, {}
        for lot in lots:
            each = self.estimate.piece_share(kiln, programme, lot.product, lot.step)
            count = min(lot.pieces, math.floor(left / each)) if each > 0 else lot.pieces
            if count > 0:
                taken[lot.code] = count
                left -= count * each
        mass, share = ware_kg(works, programme, lots, taken), room - left
        return Packed(
            taken=taken,
            ware_kg=mass,
            furniture_kg=max(0.0, programme.recorded_kg - mass) if known is None else share * known.furniture_kg,
            shelves=len(kiln.places) * USUAL_TIERS if known is None else math.ceil(share * known.shelves),
            furniture=Counter({key: math.ceil(share * count) for key, count in full.items()}),
        )

    def furniture_share(self, works: Works, kiln: Kiln, programme: Programme, out: Taken) -> float:
        """Return what share of a full load the furniture allows that is not elsewhere."""
        return _any_posts_share(works, _full_furniture(self.typical, kiln, programme), out)


def _known_load(typical: Mapping[tuple[str, str], Packed], kiln: Kiln, programme: Programme) -> Packed | None:
    """Return the fullest load of kiln and programme, or of the programme in any kiln: a new one takes furniture too."""
    if (kiln.code, programme.code) in typical:
        return typical[kiln.code, programme.code]
    rows = [packed for (_, code), packed in sorted(typical.items()) if code == programme.code]
    return max(rows, key=lambda packed: sum(packed.taken.values()), default=None)


def _full_furniture(typical: Mapping[tuple[str, str], Packed], kiln: Kiln, programme: Programme) -> Taken:
    """Return the furniture of a full load, nothing where none is known."""
    known = _known_load(typical, kiln, programme)
    return known.furniture if known is not None else Counter()


def _furniture_share(works: Works, full: Taken, out: Taken) -> float:
    """Return what share of a full load the furniture allows that is not elsewhere, at most 1."""
    free = _free(works, full, out)
    return max(0.0, min([1.0, *(free[key] / count for key, count in full.items() if count > 0)]))


def _any_posts_share(works: Works, full: Taken, out: Taken) -> float:
    """Return the same with posts of all heights that the load takes counted together, as another load takes others."""
    free, need, left = _free(works, full, out), Counter[tuple[str, str]](), Counter[tuple[str, str]]()
    for (kind, code), count in full.items():
        key = (kind, "") if kind == POST else (kind, code)
        need[key] += count
        left[key] += free[kind, code]
    return max(0.0, min([1.0, *(left[key] / count for key, count in need.items() if count > 0)]))


def _free(works: Works, full: Taken, out: Taken) -> dict[tuple[str, str], int]:
    """Return how many are here of every piece of furniture that a full load takes."""
    stock = stock_of(works)
    return {
        (kind, code): stock[kind, code] - out[kind, code] - (out[FLAT, code] if kind == SHELF else 0)
        for kind, code in full
    }
