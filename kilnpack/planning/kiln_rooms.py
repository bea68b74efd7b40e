"""What kilns hold, from one quick load of each kiln and programme, packed before anything is planned."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING

from kilnpack.model.orders import Lot, LotKind
from kilnpack.planning.routes import good_share
from kilnpack.planning.shop import Shop

if TYPE_CHECKING:
    from collections.abc import Iterator

    from kilnpack.model.kilns import Kiln
    from kilnpack.model.programmes import Programme
    from kilnpack.planning.backlog import Ware
    from kilnpack.planning.planning_call import Planning

OFFERED_SHARE = 1.6
"""How much more than a kiln is taken to hold is offered, as nothing is known of it yet."""


def learn_rooms(planning: Planning) -> None:
    """Pack one load of every kiln and programme for which there is more ware than fits; kilns alike share it.

    The estimate, and the furniture of a full load, are learnt from it; nobody fires it.
    """
    assert planning.pack is not None
    shop = Shop(planning.works, planning.given)
    known: dict[tuple[Kiln, str], str] = {}
    planning.run_ends_s = planning.meter.elapsed_s
    for kiln, code in ((row, code) for row in planning.works.kilns for code in row.programmes):
        alike = (_plain(kiln), code)
        if alike in known:
            planning.pack.learn_alike(kiln.code, known[alike], code)
            continue
        lots = _offered(planning, shop, kiln, shop.programmes[code])
        if not lots:
            continue
        if planning.stopped or not planning.hear(f"looking what {kiln.code} holds of {code}", shop):
            return
        known[alike] = kiln.code
        try:
            planning.pack(planning.works, kiln, shop.programmes[code], lots, out=Counter())
        except KeyboardInterrupt:
            planning.stopped = True


def _plain(kiln: Kiln) -> Kiln:
    """Return a kiln without its codes."""
    return replace(kiln, code="", name="", cars=tuple(replace(car, code="") for car in kiln.cars))


def _offered(planning: Planning, shop: Shop, kiln: Kiln, programme: Programme) -> tuple[Lot, ...]:
    """Return ware that is to be fired so, the first due first, more than the kiln holds; nothing where it is less."""
    wares = (ware for rows in shop.pools.values() for ware in rows if ware.kind is not LotKind.FILLER)
    rows = [row for ware in wares for row in _coming(shop, ware, programme.code)]
    rows.sort(key=lambda row: (shop.aim_h.get(row.order_line or "", 0.0), row.code))
    lots, share = [], 0.0
    for lot in rows:
        if share >= OFFERED_SHARE:
            break
        lots.append(lot)
        share += lot.pieces * planning.estimate.piece_share(kiln, programme, lot.product, lot.step)
    return tuple(lots) if share > 1.0 else ()


def _coming(shop: Shop, ware: Ware, programme: str) -> Iterator[Lot]:
    """Give ware as a lot before each of its firings of a programme."""
    route, pieces = shop.products[ware.product].route, float(ware.pieces)
    for number, step in enumerate(route[ware.step :], ware.step):
        if step.programme == programme and round(pieces) > 0:
            code = f"{ware.code} {number}"
            yield Lot(code=code, product=ware.product, step=number, pieces=round(pieces), order_line=ware.line)
        pieces *= good_share(step)
