"""Ware of another kind in the place of what was planned: what may be offered at the kiln, and the check when it is set.

Offered is ready ware no taller and no wider than what was planned, on the same support, that named on the sheet first.
Whatever is noted is judged by the checker on the whole load as it stands; what it finds beyond what it found before is
told, and nothing is kept.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from kilnpack.errors import Finding
from kilnpack.packing.substitutes import forms_instead
from kilnpack.planning.ready import ready_lots
from kilnpack.records.as_loaded import stood_instead
from kilnpack.records.firings import fired_pieces, firing_row, firing_rows
from kilnpack.records.lots import record_code
from kilnpack.records.states import RecordedState
from kilnpack.records.ticks import OtherKind, take_ticks
from kilnpack.rules.checker import audit
from kilnpack.words import listed
from kilnpack.workflow.at_the_kiln import works_of_row

if TYPE_CHECKING:
    from collections.abc import Iterable

    from sqlalchemy.orm import Session

    from kilnpack.model.loads import Load
    from kilnpack.model.orders import Lot
    from kilnpack.model.works import Works
    from kilnpack.records.tables_firings import FiringRow
    from kilnpack.records.ticks import Tick

IN_KILNS = (RecordedState.LOADING, RecordedState.FIRING, RecordedState.COOLING, RecordedState.UNLOADED)
MOST_OFFERED = 12
"""Lots offered for one form, the named ones among them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """Ready ware that may take the place of a form: `named` where the load names it as a substitute."""

    lot: str
    product: str
    name: str
    order_line: str
    pieces: int
    named: bool


def offers_of(works: Works, load: Load, lots: Iterable[Lot]) -> dict[str, tuple[Offer, ...]]:
    """Return for every form of a load the ware of another kind, or of no lot of the load, that may stand instead.

    Parameters
    ----------
    lots
        Ware that is ready for the firing.
    """
    waiting = tuple(lots)
    named = {(row.form, row.lot) for row in load.substitutes}
    found: dict[str, tuple[Offer, ...]] = {}
    for form in load.forms:
        own = [
            Offer(
                lot=lot.code, product=lot.product, name=works.product(lot.product).name,
                order_line=lot.order_line or "stock", pieces=instead.pieces, named=(form.code, lot.code) in named,
            )
            for lot, instead in forms_instead(works, load.kiln, load.programme, form, waiting)
        ]  # fmt: skip
        found[form.code] = tuple(sorted(own, key=lambda one: (not one.named, one.product, one.lot)))[:MOST_OFFERED]
    return found


def waiting_ware(row: FiringRow, works: Works) -> tuple[Lot, ...]:
    """Return the ware that may be taken for a firing now: ready for it when it is loaded.

    Parameters
    ----------
    works
        With the lots that the firing is filled from (`works_of_row`).
    """
    at = row.plan_load_start or works.now
    return ready_lots(works, works.kiln(row.kiln), works.programme(row.programme), at)


def note_at_the_kiln(session: Session, firing: str, ticks: Iterable[Tick]) -> int:
    """Keep what a loader noted, swaps for another kind of piece among it; returns how many notes were new.

    Raises
    ------
    InputFaulty
        A note cannot be, or a piece of another kind breaks a rule where it was set; nothing is kept.
    """
    row = firing_row(session, firing)

    def other(load: Load, tick: Tick) -> OtherKind:
        return judged(session, row, load, tick)

    return take_ticks(session, firing, ticks, other=other)


def judged(session: Session, row: FiringRow, load: Load, tick: Tick) -> OtherKind:
    """Return what comes of setting ware of another lot at a place of the load as it stands."""
    works = works_of_row(session, row)
    ready = {lot.code: lot for lot in waiting_ware(row, works)}
    lot = ready.get(tick.other_lot or "")
    if lot is None:
        wanted = f"a lot that is ready for {row.programme}: {listed(ready)}"
        return OtherKind(findings=(_fault("other_lot", tick.other_lot or "none", wanted),))
    free = lot.pieces - load.pieces_by_lot[lot.code] - _elsewhere(session, row, lot.code)
    fitting = forms_instead(works, row.kiln, row.programme, load.form(_form_at(load, tick)), (lot,))
    form = next((one for _, one in fitting if one.pieces <= free), None)
    if form is None:
        wanted = f"ware no taller and no wider than what stands there, on the same support; {max(free, 0)} are free"
        return OtherKind(findings=(_fault("other_lot", f"{lot.code}, {lot.product}", wanted),))
    after = stood_instead(load, tick, form, lot.code)
    findings = audit(works, after).findings
    if findings:
        before = set(audit(works, load).findings)
        findings = tuple(one for one in findings if one not in before)
    if findings:
        return OtherKind(findings=findings)
    return OtherKind(load=after, lot=lot, pieces=form.pieces, form=_form_at(after, tick))


def _form_at(load: Load, tick: Tick) -> str:
    """Return the code of the form that stands at a place."""
    tiers = ((stack.place, tier) for stack in load.stacks for tier in stack.tiers)
    tier = next(tier for place, tier in tiers if (place, tier.number) == (tick.stack, tick.tier))
    return next(one.form for one in load.setting(tier.setting).standings if one.place == tick.place)


def _elsewhere(session: Session, row: FiringRow, lot: str) -> int:
    """Return how many pieces of a lot stand in other kilns now, or wait to be inspected."""
    code = record_code(lot)
    return sum(
        pieces
        for one in firing_rows(session, states=IN_KILNS)
        if one.id != row.id
        for other, pieces in fired_pieces(one).items()
        if other == code
    )


def _fault(field: str, found: str, wanted: str) -> Finding:
    return Finding(file="note", row=None, field=field, found=found, wanted=wanted)
