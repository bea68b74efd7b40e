"""The backlog as work to do: stock given to order lines first, what is wanting cast as the moulds allow.

Stock bound to a line goes to it. Free stock, the furthest on its route first, goes to the lines that want the product,
the first due first. What is then still wanting is started in the quantity that the losses to come ask for (T8), and
cast working day by working day within moulds and drying places, the line with the least time to spare first.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import timedelta
from typing import TYPE_CHECKING

from kilnpack.model.orders import LotKind
from kilnpack.planning.clock import HORIZON_DAYS
from kilnpack.planning.given import NOTHING
from kilnpack.planning.kept_ware import cast_for_kept, set_aside
from kilnpack.planning.making import Making
from kilnpack.planning.routes import (
    chain_h,
    chain_share,
    expected_pieces,
    family,
    items_of,
    later_code,
    needs_glazing,
    open_quantity,
    start_pieces,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kilnpack.model.orders import Lot
    from kilnpack.model.works import Works
    from kilnpack.planning.clock import Clock
    from kilnpack.planning.given import Given
    from kilnpack.planning.kept_ware import SetAside

DRY_ENOUGH_DAYS = 400
"""Working days that casting is laid out for; what is not cast by then stays open."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ware:
    """Pieces of one product on their way for one line, that arrive together before firing `step`.

    `root` is the code they go on under; `glazing` says that they must be glazed before they can dry for this firing.
    """

    code: str
    root: str
    product: str
    step: int
    line: str | None
    kind: LotKind
    pieces: int
    ready_h: float
    glazing: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Cast:
    """Pieces cast on one working day, done at the end of its last shift."""

    ware: Ware
    start_h: float
    end_h: float


@dataclass(slots=True)
class Backlog:
    """What the planner starts from."""

    wares: list[Ware] = field(default_factory=list)
    kept: list[Ware] = field(default_factory=list)
    """Ware of firings that stay, those of their castings included."""
    casts: list[Cast] = field(default_factory=list)
    not_cast: dict[tuple[str, str], int] = field(default_factory=dict)
    """(line, product) -> pieces that moulds or working days never give."""
    shelves_of_finished: dict[tuple[str, str], int] = field(default_factory=dict)
    """(line, product) -> finished pieces in stock for it."""


@dataclass(slots=True)
class _Demand:
    line: str
    product: str
    spare_h: float
    wanted: float


def backlog_of(works: Works, clock: Clock, given: Given = NOTHING) -> Backlog:
    """Return what there is, what must be cast and when it can be; ware of firings that stay is set aside first."""
    found = Backlog()
    demands = _demands(works, clock)
    works, aside = set_aside(works, given)
    for row in aside:
        _set_aside(works, clock, demands, row, found)
    free = _bind(works, clock, demands, found)
    _give_free_stock(works, clock, demands, free, found)
    _cast(works, clock, [demand for demand in demands.values() if demand.wanted > 0], found, given)
    return found


def _set_aside(
    works: Works, clock: Clock, demands: dict[tuple[str, str], _Demand], row: SetAside, found: Backlog
) -> None:
    """Book ware of a firing that stays, and count it for its line."""
    part, lot = row.part, row.lot
    route = works.product(part.product).route
    ready_h = clock.hour(part.was_ready_at)
    if lot is not None:
        ready_h = 0.0 if lot.ready_at is None else max(0.0, clock.hour(lot.ready_at))
    found.kept.append(
        Ware(
            code=part.lot,
            root=family(works, part.order_line, part.product, part.lot, part.kind),
            product=part.product,
            step=part.step,
            line=part.order_line,
            kind=part.kind,
            pieces=row.pieces,
            ready_h=ready_h,
            glazing=lot is not None and not lot.glazed and needs_glazing(route, part.step),
        )
    )
    demand = demands.get((part.order_line or "", part.product))
    if demand is not None and part.kind not in {LotKind.SAMPLE, LotKind.FILLER}:
        demand.wanted -= row.pieces * chain_share(route, part.step)


def _demands(works: Works, clock: Clock) -> dict[tuple[str, str], _Demand]:
    """Return what every line wants of every product, the line with the least time to spare first."""
    rows = []
    for line in works.lines:
        for product, count in items_of(works, line).items():
            spare = clock.end_of_day_h(line.due) - chain_h(works, works.product(product), 0)
            wanted = float(count * open_quantity(line))
            rows.append(_Demand(line=line.code, product=product, spare_h=spare, wanted=wanted))
    rows.sort(key=lambda row: (row.spare_h, row.line, row.product))
    return {(row.line, row.product): row for row in rows}


def _bind(works: Works, clock: Clock, demands: dict[tuple[str, str], _Demand], found: Backlog) -> list[tuple[Lot, int]]:
    """Count bound lots for their lines; return the lots bound to none, with their pieces."""
    free = []
    for lot in sorted(works.lots, key=lambda lot: (-lot.step, lot.code)):
        demand = demands.get((lot.order_line or "", lot.product))
        if lot.order_line is None and lot.kind is not LotKind.SAMPLE:
            free.append((lot, lot.pieces))
        elif demand is None or lot.kind in {LotKind.SAMPLE, LotKind.FILLER}:
            _put(works, clock, lot, lot.pieces, lot.code, lot.order_line, found)
        else:
            demand.wanted -= lot.pieces * chain_share(works.product(lot.product).route, lot.step)
            _put(works, clock, lot, lot.pieces, lot.code, lot.order_line, found)
    return free


def _give_free_stock(
    works: Works,
    clock: Clock,
    demands: dict[tuple[str, str], _Demand],
    free: list[tuple[Lot, int]],
    found: Backlog,
) -> None:
    """Give lots without an order to the lines that want them; what is left may fill a kiln that fires anyway."""
    for lot, pieces in free:
        left, route = pieces, works.product(lot.product).route
        for demand in demands.values():
            if demand.product != lot.product or demand.wanted <= 0 or left <= 0 or lot.kind is LotKind.FILLER:
                continue
            given = min(left, start_pieces(demand.wanted, route, lot.step))
            code = lot.code if given == pieces else f"{lot.code}.{demand.line}"
            _put(works, clock, lot, given, code, demand.line, found)
            demand.wanted -= given * chain_share(route, lot.step)
            left -= given
        if left:
            code = lot.code if left == pieces else f"{lot.code}.left"
            _put(works, clock, lot, left, code, None, found)


def _put(works: Works, clock: Clock, lot: Lot, pieces: int, code: str, line: str | None, found: Backlog) -> None:
    """Book pieces of a lot as ware on its way, or as finished."""
    route = works.product(lot.product).route
    if lot.step >= len(route):
        if line is not None and lot.kind not in {LotKind.SAMPLE, LotKind.FILLER}:
            key = (line, lot.product)
            found.shelves_of_finished[key] = found.shelves_of_finished.get(key, 0) + pieces
        return
    ready_h = 0.0 if lot.ready_at is None else max(0.0, clock.hour(lot.ready_at))
    found.wares.append(
        Ware(
            code=code,
            root=family(works, line, lot.product, code, lot.kind),
            product=lot.product,
            step=lot.step,
            line=line,
            kind=lot.kind,
            pieces=pieces,
            ready_h=ready_h,
            glazing=not lot.glazed and needs_glazing(route, lot.step),
        )
    )


def _cast(works: Works, clock: Clock, demands: list[_Demand], found: Backlog, given: Given) -> None:
    """Cast what is wanting, working day by working day; what firings that stay need is cast as it was planned."""
    kept = _kept_casts(works, clock, given)
    found.casts += kept
    found.kept += [cast.ware for cast in kept]
    making, last_h, kept_pieces = Making(works, kept), 0.0, cast_for_kept(given)
    left = {
        (d.line, d.product): max(
            0, start_pieces(d.wanted, works.product(d.product).route) - kept_pieces[d.line, d.product]
        )
        for d in demands
    }
    dry_h = {d.product: (r[0].ready_after_h if (r := works.product(d.product).route) else 0.0) for d in demands}
    for day, end_h in enumerate(clock.shift_ends_h(min(HORIZON_DAYS, DRY_ENOUGH_DAYS))):
        if not any(left.values()):
            break
        making.make_kept(last_h, end_h)
        last_h = end_h
        for demand in demands:
            key = (demand.line, demand.product)
            pieces = min(left[key], making.room(demand.product, day, end_h)) if left[key] else 0
            if pieces:
                left[key] -= pieces
                making.make(demand.product, pieces, end_h + dry_h[demand.product])
                found.casts.append(_cast_of(works, clock, demand, pieces, end_h))
        making.close_day(day)
    found.not_cast = {key: pieces for key, pieces in left.items() if pieces}


def _kept_casts(works: Works, clock: Clock, given: Given) -> list[Cast]:
    """Return the castings that firings that stay need, at their moments."""
    lines = {line.code for line in works.lines}
    found = []
    for row in given.casts:
        if clock.hour(row.end) > 0.0 and row.order_line in lines:
            ware = _cast_ware(works, row.order_line or "", row.product, row.pieces, clock.hour(row.end))
            found.append(Cast(ware=ware, start_h=max(0.0, clock.hour(row.start)), end_h=clock.hour(row.end)))
    return found


def _cast_of(works: Works, clock: Clock, demand: _Demand, pieces: int, end_h: float) -> Cast:
    ware = _cast_ware(works, demand.line, demand.product, pieces, end_h)
    begin = clock.next_working_h(max(0.0, clock.end_of_day_h(clock.moment(end_h).date() - timedelta(days=1))))
    return Cast(ware=ware, start_h=min(begin, end_h), end_h=end_h)


def _cast_ware(works: Works, line: str, product: str, pieces: int, end_h: float) -> Ware:
    route = works.product(product).route
    root = family(works, line, product, "", LotKind.NORMAL)
    return Ware(
        code=later_code(root, 0),
        root=root,
        product=product,
        step=0,
        line=line,
        kind=LotKind.NORMAL,
        pieces=pieces,
        ready_h=end_h + route[0].ready_after_h,
    )


def next_good(fired: Sequence[tuple[float, int, int]], load_h: float, pieces: int, share: float) -> int:
    """Return the good pieces expected of a firing, so that the running total is rounded, not every firing.

    Parameters
    ----------
    fired
        Load start (h), pieces and good pieces of the line's other firings of this step; some may be later ones that
        stay, and of all loaded by then no more may be expected than their share.
    load_h, pieces, share
        The firing: its load start, its pieces, and the share that comes out good.
    """
    count = sum(n for hour, n, _ in fired if hour <= load_h) + pieces
    good = sum(n for hour, _, n in fired if hour <= load_h)
    most = expected_pieces(count, share) - good
    for _, n, so_good in sorted(row for row in fired if row[0] > load_h):
        count, good = count + n, good + so_good
        most = min(most, expected_pieces(count, share) - good)
    return max(0, min(pieces, most))
