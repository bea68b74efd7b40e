"""Inspection after a firing: how every lot came out, and where a piece was lost."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fastapi import APIRouter, Depends, Request, Response
from fastapi.responses import RedirectResponse

from kilnpack.errors import Finding, InputFaulty
from kilnpack.records.firings import firing_row, firing_rows, load_fired, lots_of
from kilnpack.records.inspection import Inspected, inspect
from kilnpack.records.states import Grade, RecordedState
from kilnpack.records.store import expect
from kilnpack.sheets.order import tier_name
from kilnpack.web.guard import same_form
from kilnpack.web.pages import page
from kilnpack.web.people import Loader

if TYPE_CHECKING:
    from collections.abc import Iterator

    from starlette.datastructures import FormData

    from kilnpack.records.tables_firings import FiringRow

router = APIRouter(dependencies=[Depends(same_form)])
OUT = (RecordedState.COOLING, RecordedState.UNLOADED)
NOT_FIRST = (Grade.SECOND, Grade.REFIRE, Grade.SCRAP)
MOST_PIECES = 1_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class TierOut:
    """Pieces of one lot that stood on one tier."""

    name: str
    stack: str
    tier: int
    lot: str
    product: str
    pieces: int

    @property
    def key(self) -> str:
        """What names the fields of this row in the form."""
        return f"{self.stack}|{self.tier}|{self.lot}"


def tiers_out(row: FiringRow) -> tuple[TierOut, ...]:
    """Return what stood in a firing, by tier and lot, as it is unloaded: top to bottom."""
    lots = lots_of(row)
    found = []
    for stack in load_fired(row).stacks:
        for tier in reversed(stack.tiers):
            pieces: dict[str, int] = {}
            for fill in tier.fills:
                pieces[fill.lot] = pieces.get(fill.lot, 0) + fill.pieces
            found += [
                TierOut(
                    name=tier_name(stack.place, tier.number), stack=stack.place, tier=tier.number, lot=lot,
                    product=lots[lot].product, pieces=count,
                )
                for lot, count in pieces.items()
            ]  # fmt: skip
    return tuple(found)


@router.get("/inspection")
def to_inspect(request: Request, someone: Loader) -> Response:
    """Show which firings wait to be inspected."""
    with request.app.state.place.records.reading() as session:
        return page(request, "inspection.html", someone=someone, rows=firing_rows(session, states=OUT, in_short=True))


@router.get("/inspection/{code}")
def one(request: Request, someone: Loader, code: str) -> Response:
    """Show the form of a firing: all first grade until something else is written."""
    with request.app.state.place.records.reading() as session:
        row = firing_row(session, code)
        return page(request, "inspect.html", someone=someone, row=row, tiers=tiers_out(row), grades=NOT_FIRST)


@router.post("/inspection/{code}")
async def keep(request: Request, someone: Loader, code: str) -> Response:
    """Keep how the ware came out; a number that cannot be is a finding at its field."""
    form = await request.form()
    with request.app.state.place.records.writing(someone.name) as session:
        row = firing_row(session, code)
        expect(session, row, _whole(form.get("version")) or 0)
        faults: list[Finding] = []
        out = [one for tier in tiers_out(row) for one in _of_tier(tier, form, faults)]
        if faults:
            raise InputFaulty(faults)
        inspect(session, code, out)
    return RedirectResponse("/inspection", status_code=303)


def _whole(text: object) -> int | None:
    """Return a whole number as typed; 0 where nothing is, None where it is none."""
    words = str(text or "0").strip()
    return int(words) if words.isdecimal() and int(words) <= MOST_PIECES else None


def _of_tier(tier: TierOut, form: FormData, faults: list[Finding]) -> Iterator[Inspected]:
    cause = str(form.get(f"cause|{tier.key}") or "").strip()[:400]
    left = tier.pieces
    for grade in NOT_FIRST:
        typed = form.get(f"{grade.value}|{tier.key}")
        count = _whole(typed)
        if count is None or count > left:
            field = f"{tier.name} {tier.product} {grade.value}"
            faults.append(Finding(file="form", row=None, field=field, found=str(typed), wanted=f"0 to {left} pieces"))
            continue
        left -= count
        if count:
            yield _inspected(tier, grade, count, cause)
    if left:
        yield _inspected(tier, Grade.FIRST, left, "")


def _inspected(tier: TierOut, grade: Grade, pieces: int, cause: str) -> Inspected:
    return Inspected(
        lot=tier.lot, grade=grade, pieces=pieces, cause=cause, stack=tier.stack, tier=tier.tier, file="form"
    )
