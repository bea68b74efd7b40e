"""What a loader notes while setting a kiln: kept once each, however often it is sent."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime  # noqa: TC003 - the fields of data are read at run time
from typing import TYPE_CHECKING

from sqlalchemy import select

from kilnpack.records.as_loaded import as_loaded
from kilnpack.records.firings import firing_row, keep_load, load_fired, loads_of, lots_of
from kilnpack.records.lots import lot_row, take_from, whole_of
from kilnpack.records.states import LoadKind, RecordedState, TickKind
from kilnpack.records.tables_firings import TickRow
from kilnpack.records.values import of_command, plain_of, refuse
from kilnpack.words import listed

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from sqlalchemy.orm import Session

    from kilnpack.errors import Finding
    from kilnpack.model.loads import Load, Tier
    from kilnpack.model.orders import Lot
    from kilnpack.records.tables_firings import FiringRow

CHANGES = (TickKind.SWAP, TickKind.BREAKAGE)
"""Notes that change the load."""
_LOADABLE = (RecordedState.PLANNED, RecordedState.LOADING)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    """One note of a loader.

    Parameters
    ----------
    mark
        Given by the device, once for each note, such as a UUID.
    stack, tier, place
        Where: place None means the whole tier.
    lot
        Of which lot the pieces are that broke or were swapped out; None where the place holds one lot.
    other_lot
        Which lot took the place in a swap.
    pieces
        How many broke or were swapped; None means all of that lot at the place.
    form_instead
        How a piece of another kind stands that took the place; the records say it.
    at
        When it was noted, by the clock of whoever noted it; None is now. Nothing is put in order by it.
    packed_over
        Whether the tier was packed anew since; the records say it.
    load_version
        Version of the planned load that whoever noted it looked at; None asks for none.
    """

    mark: str
    what: TickKind
    stack: str
    tier: int
    place: int | None = None
    lot: str | None = None
    other_lot: str | None = None
    pieces: int | None = None
    form_instead: str | None = None
    note: str = ""
    at: datetime | None = None
    packed_over: bool = False
    load_version: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherKind:
    """What comes of a swap for a piece of another kind: the load with it, or why it may not stand there."""

    load: Load | None = None
    lot: Lot | None = None
    pieces: int = 0
    form: str = ""
    findings: tuple[Finding, ...] = ()


def take_ticks(
    session: Session, firing: str, ticks: Iterable[Tick], *, other: Callable[[Load, Tick], OtherKind] | None = None
) -> int:
    """Keep what a loader noted, and bring the load as loaded to it.

    A tick whose mark is known is passed over, so that a device may send its notes again after a lost network.

    Parameters
    ----------
    other
        Judges a swap for another kind of piece, which takes the whole place; without it there is none.

    Returns
    -------
    How many were new.

    Raises
    ------
    InputFaulty
        A tick names a place or lot that is not in the load, or one of a tier that was packed anew since, or the firing
        is lit; nothing is kept.
    """
    row = firing_row(session, firing)
    planned, load = loads_of(row)[LoadKind.PLANNED], load_fired(row)
    known = set(session.scalars(select(TickRow.mark).where(TickRow.firing == firing)))
    new = list({tick.mark: tick for tick in ticks if tick.mark not in known}.values())
    faults: list[Finding] = []
    for tick in new:
        change = tick.what in CHANGES
        kind = other if _is_other_kind(row, load, tick) else None
        found = [*_packed_since(row, planned, tick)]
        found = found or [*_faults(row, load if change else planned, tick, whole=kind is not None)]
        if not found and kind is not None:
            made = kind(load, tick)
            found += made.findings
            load = made.load or load
            tick = _told(row, tick, made)  # noqa: PLW2901 - what follows means this lot, number and form
        faults += found
        if not found and change and kind is None:
            tick = _resolved(load, tick)  # noqa: PLW2901 - what follows means this lot and number
            load = as_loaded(load, [tick])
            if tick.what is TickKind.BREAKAGE:
                _break(session, row, tick)
        session.add(_tick_row(session, firing, tick))
    refuse(faults)
    if new and row.state == RecordedState.PLANNED:
        row.state, row.loading_at = RecordedState.LOADING.value, session.info["at"]
    if any(tick.what in CHANGES for tick in new):
        keep_load(session, firing, load, LoadKind.AS_LOADED)
    session.flush()
    return len(new)


def _is_other_kind(row: FiringRow, load: Load, tick: Tick) -> bool:
    """Return whether a swap is for another kind of piece, or for ware that was not meant for the firing at all."""
    if tick.what is not TickKind.SWAP or tick.place is None or not tick.other_lot:
        return False
    lots = lots_of(row)
    own, instead = lots.get(tick.lot or _sole(load, tick)), lots.get(tick.other_lot)
    return own is None or instead is None or (own.product, own.step) != (instead.product, instead.step)


def _sole(load: Load, tick: Tick) -> str:
    """Return the lot at a place, nothing where there is none or several."""
    found = {
        fill.lot
        for stack in load.stacks
        for tier in stack.tiers
        for fill in tier.fills
        if (stack.place, tier.number, fill.place) == (tick.stack, tick.tier, tick.place)
    }
    return next(iter(found)) if len(found) == 1 else ""


def _told(row: FiringRow, tick: Tick, made: OtherKind) -> Tick:
    """Return a swap for another kind with what it came to; its lot is one of the firing from then on."""
    if made.lot is None:
        return tick
    if made.lot.code not in row.lots:
        row.lots = {**row.lots, made.lot.code: plain_of(made.lot)}
    return replace(tick, pieces=made.pieces, form_instead=made.form)


def _break(session: Session, row: FiringRow, tick: Tick) -> None:
    """Take broken pieces out of their lot, or out of the one that the plan splits it from."""
    lot = lot_row(session, tick.lot or "")
    if lot is None and (part := lots_of(row).get(tick.lot or "")):
        lot = whole_of(session, part)
    if lot is not None:
        take_from(session, lot, tick.pieces or 0, what="broken", firing=row.code, note=tick.note)


def _resolved(load: Load, tick: Tick) -> Tick:
    """Return a swap or breakage with its lot and number said."""
    fills = [fill for fill in _tier(load, tick).fills if fill.place == tick.place and tick.lot in (None, fill.lot)]
    return replace(tick, lot=fills[0].lot, pieces=tick.pieces or fills[0].pieces)


def _tier(load: Load, tick: Tick) -> Tier:
    stack = next(one for one in load.stacks if one.place == tick.stack)
    return next(one for one in stack.tiers if one.number == tick.tier)


def _tick_row(session: Session, firing: str, tick: Tick) -> TickRow:
    now = session.info["at"]
    return TickRow(
        mark=tick.mark, firing=firing, what=tick.what.value, stack=tick.stack, tier=tick.tier, place=tick.place,
        lot=tick.lot, other_lot=tick.other_lot, pieces=tick.pieces, form_instead=tick.form_instead, note=tick.note,
        by=session.info["by"], at=tick.at or now, heard_at=now,
    )  # fmt: skip


def _packed_since(row: FiringRow, planned: Load, tick: Tick) -> Iterator[Finding]:
    """Yield that a note speaks of places which a tier no longer has.

    Only what the last packing changed is known; a note on an older load is refused whatever tier it speaks of.
    """
    now = next(one.version for one in row.loads if one.kind == LoadKind.PLANNED)
    if tick.load_version is None or tick.load_version == now:
        return
    if tick.load_version == now - 1 and planned.changed and (tick.stack, tick.tier) not in planned.changed:
        return
    wanted = "a place as it is now: the tier was packed anew since; open the load again and note it there"
    yield of_command("place", f"stack {tick.stack} tier {tick.tier}", wanted)


def _faults(row: FiringRow, load: Load, tick: Tick, *, whole: bool = False) -> Iterator[Finding]:
    if row.state not in _LOADABLE:
        yield of_command("firing", f"{row.code}, {row.state}", "a firing that is not lit yet")
    tiers = {(stack.place, tier.number): tier for stack in load.stacks for tier in stack.tiers}
    tier = tiers.get((tick.stack, tick.tier))
    if tier is None:
        known = listed(f"{stack} {number}" for stack, number in tiers)
        yield of_command("place", f"stack {tick.stack} tier {tick.tier}", f"a tier of the load: {known}")
        return
    places = sorted({fill.place for fill in tier.fills})
    if tick.place is None and tick.what in CHANGES:
        yield of_command("place", "none", f"the place of the {tick.what.value}")
    elif tick.place is not None and tick.place not in places:
        yield of_command("place", str(tick.place), f"a place of the tier with ware: {listed(map(str, places))}")
    elif tick.what in CHANGES:
        yield from _change_faults(row, load, tier, tick, whole=whole)


def _change_faults(row: FiringRow, load: Load, tier: Tier, tick: Tick, *, whole: bool) -> Iterator[Finding]:
    here = {fill.lot: fill.pieces for fill in tier.fills if fill.place == tick.place}
    lot = tick.lot or (next(iter(here)) if len(here) == 1 else "")
    if lot not in here:
        yield of_command("lot", lot or "none", f"a lot at this place: {listed(here)}")
    elif tick.pieces is not None and not whole and not 1 <= tick.pieces <= here[lot]:
        yield of_command("pieces", str(tick.pieces), f"1 to {here[lot]}")
    if tick.what is TickKind.SWAP and not whole:
        yield from _swap_faults(row, load, lot, tick, tick.pieces or here.get(lot, 0))


def _swap_faults(row: FiringRow, load: Load, lot: str, tick: Tick, pieces: int) -> Iterator[Finding]:
    lots = lots_of(row)
    other, own = lots.get(tick.other_lot or ""), lots.get(lot)
    if other is None:
        yield of_command("other_lot", tick.other_lot or "none", f"a lot of the firing: {listed(lots)}")
        return
    if own is not None and (other.product, other.step) != (own.product, own.step):
        same = f"a lot of {own.product} at the same firing; any other piece needs the load checked anew"
        yield of_command("other_lot", other.code, same)
    standing = sum(
        fill.pieces for stack in load.stacks for tier in stack.tiers for fill in tier.fills if fill.lot == other.code
    )
    if standing + pieces > other.pieces:
        left = f"{pieces} pieces that do not stand yet; of {other.pieces} {standing} stand"
        yield of_command("other_lot", other.code, left)


def ticks_of(session: Session, firing: str) -> tuple[Tick, ...]:
    """Return what was noted of a firing, in the order it was noted."""
    rows = session.scalars(select(TickRow).where(TickRow.firing == firing).order_by(TickRow.id))
    return tuple(
        Tick(
            mark=row.mark, what=TickKind(row.what), stack=row.stack, tier=row.tier, place=row.place, lot=row.lot,
            other_lot=row.other_lot, pieces=row.pieces, form_instead=row.form_instead, note=row.note, at=row.at,
            packed_over=row.packed_over,
        )
        for row in rows
    )  # fmt: skip


def pack_over(session: Session, firing: str, tiers: Iterable[tuple[str, int]]) -> None:
    """Let what was noted of tiers so far, each as (stack, tier), no longer speak of the places they have now."""
    anew = set(tiers)
    for row in session.scalars(select(TickRow).where(TickRow.firing == firing)):
        if (row.stack, row.tier) in anew:
            row.packed_over = True


def places_set(ticks: Iterable[Tick], load: Load) -> frozenset[tuple[str, int, int]]:
    """Return the places that are set, as (stack, tier, place): the last tick of a place counts."""
    all_places = {
        (stack.place, tier.number): [fill.place for fill in tier.fills] for stack in load.stacks for tier in stack.tiers
    }
    done: set[tuple[str, int, int]] = set()
    for tick in ticks:
        known = all_places.get((tick.stack, tick.tier), [])
        places = known if tick.place is None else [place for place in known if place == tick.place]
        meant = {(tick.stack, tick.tier, place) for place in places}
        if tick.what is TickKind.SET:
            done |= meant
        elif tick.what is TickKind.TAKEN_OUT:
            done -= meant
    return frozenset(done)
