"""Which firings of two plans are the same: by kiln, programme and ware, so that codes keep their meaning."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

from kilnpack.model.orders import hours_between

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from datetime import datetime

    from kilnpack.model.plans import Firing, Plan
    from kilnpack.planning.clock import Clock
    from kilnpack.planning.firings import Fired
    from kilnpack.planning.run import Run

SAME_SHARE = 0.5
"""Two firings that share more of their ware than this are one that changed."""
SAME_START_H = 0.5
"""A firing loaded within so many hours of when it was planned counts as not moved."""

WareKey: TypeAlias = tuple[str, int, str | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """A firing as it is told apart: code in its own plan, where and when it is loaded, pieces by kind of ware."""

    code: str
    kiln: str
    programme: str
    load_h: float
    ware: Counter[WareKey]


def seen_firing(firing: Firing, start: datetime) -> Seen:
    """Return a planned firing as it is told apart; hours count from the start given."""
    ware: Counter[WareKey] = Counter()
    for part in firing.parts:
        ware[part.product, part.step, part.order_line] += part.pieces
    return Seen(
        code=firing.code,
        kiln=firing.kiln,
        programme=firing.programme,
        load_h=hours_between(start, firing.load_start),
        ware=ware,
    )


def seen_fired(fired: Fired, number: int) -> Seen:
    """Return a firing of a run as it is told apart, under its number."""
    ware: Counter[WareKey] = Counter()
    for part in fired.moved:
        ware[part.ware.product, part.ware.step, part.ware.line] += part.ware.pieces
    return Seen(
        code=str(number),
        kiln=fired.kiln.code,
        programme=fired.programme.code,
        load_h=fired.load_start_h,
        ware=ware,
    )


def shared(one: Counter[WareKey], other: Counter[WareKey]) -> float:
    """Return the pieces that two firings share, as a part of the fuller one's."""
    most = max(one.total(), other.total())
    return (one & other).total() / most if most else 1.0


def matched(before: Sequence[Seen], after: Sequence[Seen]) -> dict[str, str]:
    """Return, by code of a firing of the later plan, the code of the firing of the plan before that it is.

    Pairs that share most ware come first, those in the same kiln before others, then those nearest in time.
    """
    pairs = []
    for new in after:
        for old in before:
            share = shared(old.ware, new.ware) if old.programme == new.programme else 0.0
            if share > SAME_SHARE:
                pairs.append((-share, old.kiln != new.kiln, abs(old.load_h - new.load_h), old.code, new.code))
    found: dict[str, str] = {}
    used: set[str] = set()
    for *_, old_code, new_code in sorted(pairs):
        if new_code not in found and old_code not in used:
            found[new_code] = old_code
            used.add(old_code)
    return found


def firing_codes(found: Run) -> dict[int, str]:
    """Number the firings of a run in order of their fire; those of the plan before keep their codes."""
    order = sorted(range(len(found.shop.fired)), key=lambda n: (found.shop.fired[n].fire_start_h, n))
    before = found.shop.given.before
    if before is None:
        return {number: f"F{rank + 1}" for rank, number in enumerate(order)}
    codes = {n: fired.kept.code for n, fired in enumerate(found.shop.fired) if fired.kept is not None}
    stay = set(codes.values())
    old = [seen_firing(row, found.shop.clock.start) for row in before.firings if row.code not in stay]
    new = [seen_fired(found.shop.fired[n], n) for n in order if n not in codes]
    codes |= {int(number): code for number, code in matched(old, new).items()}
    fresh = _next_number(row.code for row in before.firings)
    for number in order:
        if number not in codes:
            codes[number] = f"F{fresh}"
            fresh += 1
    return codes


def _next_number(codes: Iterable[str]) -> int:
    """Return the number after the greatest that codes such as F12 carry."""
    return 1 + max((int(code[1:]) for code in codes if re.fullmatch(r"F\d{1,9}", code)), default=0)


def moved_firings(
    before: Plan | None, fired: Sequence[Fired], codes: Mapping[int, str], clock: Clock
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the codes of firings that were still to come and are gone or moved, and of those that hold other ware."""
    if before is None:
        return (), ()
    now = {codes[number]: row for number, row in enumerate(fired)}
    found, refilled = [], []
    for firing in before.firings:
        load_h = clock.hour(firing.load_start)
        here = now.get(firing.code)
        if load_h < 0.0:
            continue
        if here is None or here.kiln.code != firing.kiln or abs(here.load_start_h - load_h) > SAME_START_H:
            found.append(firing.code)
        elif here.kept is None and seen_firing(firing, clock.start).ware != seen_fired(here, 0).ware:
            refilled.append(firing.code)
    return tuple(found), tuple(refilled)
