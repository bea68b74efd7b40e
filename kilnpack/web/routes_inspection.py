"""Inspection after a firing: how every lot came out, and where a piece was lost."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fastapi import APIRouter, Depends, Request, Response
from fastapi.responses import RedirectResponse

from kilnpack.errors import Finding, InputFaulty
from kilnpack.records.correcting import correct, corrections_of, inspected_of
from kilnpack.records.firings import firing_row, firing_rows, load_fired, lots_of
from kilnpack.records.inspection import Inspected, inspect
from kilnpack.records.lots import record_code
from kilnpack.records.states import Grade, RecordedState
from kilnpack.records.store import expect
from kilnpack.sheets.order import tier_name
from kilnpack.web.guard import same_form
from kilnpack.web.pages import page
from kilnpack.web.people import Loader

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from starlette.datastructures import FormData

    from kilnpack.records.tables_firings import FiringRow

router = APIRouter(dependencies=[Depends(same_form)])
OUT = (RecordedState.COOLING, RecordedState.UNLOADED)
NOT_FIRST = (Grade.SECOND, Grade.REFIRE, Grade.SCRAP)
MOST_PIECES = 1_000_000
SHOWN_DONE = 30
"""Inspections kept last that the page offers for correction."""


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
        return f"{self.stack}|{self.tier}|{record_code(self.lot)}"


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
        rows = firing_rows(session, states=OUT, in_short=True)
        done = firing_rows(session, states=[RecordedState.INSPECTED], in_short=True)[: -SHOWN_DONE - 1 : -1]
        return page(request, "inspection.html", someone=someone, rows=rows, done=done)


@router.get("/inspection/{code}")
def one(request: Request, someone: Loader, code: str) -> Response:
    """Show the form of a firing: all first grade until something else is written, or what was written before."""
    with request.app.state.place.records.reading() as session:
        row = firing_row(session, code)
        kept = inspected_of(session, code)
        return page(
            request,
            "inspect.html",
            someone=someone,
            row=row,
            tiers=tiers_out(row),
            grades=NOT_FIRST,
            kept=kept,
            written={key: _typed(lines) for key, lines in _by_tier(kept).items()},
            without_place=_without_place(kept),
            before=corrections_of(session, code),
        )


@router.post("/inspection/{code}")
async def keep(request: Request, someone: Loader, code: str) -> Response:
    """Keep how the ware came out, for the first time or corrected; a number that cannot be is a finding."""
    form = await request.form()
    with request.app.state.place.records.writing(someone.name) as session:
        row = firing_row(session, code)
        expect(session, row, _whole(form.get("version")) or 0)
        faults: list[Finding] = []
        kept = inspected_of(session, code)
        if _without_place(kept):
            wanted = "a table with --correct: what was written names no places, and this form asks for them"
            faults.append(Finding(file="form", row=None, field="inspection", found="this form", wanted=wanted))
        tiers, lines = tiers_out(row), _by_tier(kept)
        out = [one for tier in tiers for one in _of_tier(tier, form, faults, lines.get(tier.key, ()))]
        if faults:
            raise InputFaulty(faults)
        if row.state == RecordedState.INSPECTED:
            correct(session, code, out)
        else:
            inspect(session, code, out)
    return RedirectResponse("/inspection", status_code=303)


def _without_place(kept: Iterable[Inspected]) -> bool:
    """Return whether something that is not of first grade has no place, so that the form cannot show it."""
    return any(one.tier is None and one.grade is not Grade.FIRST for one in kept)


def _by_tier(kept: Iterable[Inspected]) -> dict[str, tuple[Inspected, ...]]:
    """Return what was written of every row of the form."""
    found: dict[str, tuple[Inspected, ...]] = {}
    for one in kept:
        key = f"{one.stack}|{one.tier}|{one.lot}"
        found[key] = (*found.get(key, ()), one)
    return found


def _typed(lines: Iterable[Inspected]) -> dict[str, str]:
    """Return what the fields of a row of the form say for lines that were kept."""
    counts: dict[str, int] = {}
    for one in lines:
        counts[one.grade.value] = counts.get(one.grade.value, 0) + one.pieces
    causes = dict.fromkeys(one.cause for one in lines if one.cause)
    return {**{grade.value: str(counts.get(grade.value, "")) for grade in NOT_FIRST}, "cause": "; ".join(causes)}


def _whole(text: object) -> int | None:
    """Return a whole number as typed; 0 where nothing is, None where it is none."""
    words = str(text or "0").strip()
    return int(words) if words.isdecimal() and int(words) <= MOST_PIECES else None


def _of_tier(tier: TierOut, form: FormData, faults: list[Finding], kept: tuple[Inspected, ...]) -> Iterator[Inspected]:
    """Yield what a row of the form says; one left as it was keeps every line that was behind it."""
    names = (*(grade.value for grade in NOT_FIRST), "cause")
    typed_now = {name: str(form.get(f"{name}|{tier.key}") or "").strip() for name in names}
    if kept and typed_now == _typed(kept):
        yield from kept
        if (rest := tier.pieces - sum(one.pieces for one in kept)) > 0:
            yield _inspected(tier, Grade.FIRST, rest, "")
        return
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
