"""The loader's pages: which load comes next, setting it place by place, and how far it is."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Form, Request, Response
from fastapi.responses import FileResponse, JSONResponse, RedirectResponse
from pydantic import BaseModel, ConfigDict, Field

from kilnpack.model.orders import Lot
from kilnpack.records.firings import firing_row, firing_rows, lots_of, move_on
from kilnpack.records.states import RecordedState, TickKind
from kilnpack.records.store import expect
from kilnpack.records.tables_firings import FiringRow
from kilnpack.records.ticks import CHANGES, Tick, ticks_of
from kilnpack.sheets.cautions import FIRST, LAST, cautions
from kilnpack.web.guard import same_form
from kilnpack.web.pages import page, static_file
from kilnpack.web.people import Loader
from kilnpack.workflow.at_the_kiln import set_places
from kilnpack.workflow.drawn_ahead import DrawnLoad, planned_version, versions_of
from kilnpack.workflow.other_ware import note_at_the_kiln

router = APIRouter(dependencies=[Depends(same_form)])

SHOWN = (RecordedState.LOADING, RecordedState.PLANNED, RecordedState.FIRING, RecordedState.COOLING)
NEXT = {
    RecordedState.PLANNED: (RecordedState.LOADING, "Begin loading"),
    RecordedState.LOADING: (RecordedState.FIRING, "The kiln is lit"),
    RecordedState.FIRING: (RecordedState.COOLING, "The fire is out"),
    RecordedState.COOLING: (RecordedState.UNLOADED, "All is unloaded"),
}
"""What comes after a state, and the button that says it."""
MOST_TICKS = 500
ARROWS = {"left": "→", "right": "←", "front": "↑", "back": "↓"}
"""Which way a ruler runs from an edge of the shelf."""
Code = Annotated[str, Field(max_length=80)]


class SentTick(BaseModel):
    """A note as the loader's device sends it."""

    model_config = ConfigDict(extra="forbid")

    mark: Annotated[str, Field(min_length=8, max_length=64)]
    what: TickKind
    stack: Code
    tier: Annotated[int, Field(ge=1, le=1000)]
    place: Annotated[int | None, Field(ge=1, le=10_000)] = None
    lot: Code | None = None
    other_lot: Code | None = None
    pieces: Annotated[int | None, Field(ge=1, le=1_000_000)] = None
    note: Annotated[str, Field(max_length=400)] = ""
    at: datetime | None = None
    load_version: Annotated[int | None, Field(ge=0)] = None


class SentTicks(BaseModel):
    """What a device sends at once."""

    model_config = ConfigDict(extra="forbid")

    ticks: Annotated[list[SentTick], Field(max_length=MOST_TICKS)]


@router.get("/loader")
def loads(request: Request, someone: Loader) -> Response:
    """Show what is to be loaded, what burns and what cools, the next load first."""
    with request.app.state.place.records.reading() as session:
        rows = in_turn(firing_rows(session, states=SHOWN, in_short=True))
        draw_ahead(request, rows)
        return page(request, "loader.html", someone=someone, rows=rows, next=NEXT)


def in_turn(rows: Iterable[FiringRow]) -> list[FiringRow]:
    """Return firings as loaders want them: being loaded, next to be loaded, burning, cooling."""
    order = {state.value: k for k, state in enumerate(SHOWN)}
    return sorted(rows, key=lambda row: (order[row.state], str(row.plan_load_start or ""), row.code))


def draw_ahead(request: Request, rows: Iterable[FiringRow]) -> None:
    """Let the loads of a list be drawn before somebody looks at one."""
    firings = [(row.code, planned_version(row), versions_of(row)) for row in rows]
    request.app.state.drawn.ahead(request.app.state.place.records, firings)


@router.get("/loader/worker.js")
def worker() -> Response:
    """Return the script that keeps pages for when the network is gone; it may answer for the loader's pages only."""
    headers = {"cache-control": "no-cache", "service-worker-allowed": "/loader"}
    return FileResponse(static_file("worker.js"), media_type="text/javascript", headers=headers)


@router.get("/loader/{code}")
def one_load(request: Request, someone: Loader, code: str) -> Response:
    """Show a load setting by setting."""
    records = request.app.state.place.records
    found: DrawnLoad = request.app.state.drawn.of(records, code)
    with records.reading() as session:
        row = firing_row(session, code)
        lots = lots_of(row)
        return page(
            request,
            "load.html",
            someone=someone,
            row=row,
            drawn=found.at,
            next=NEXT.get(RecordedState(row.state)),
            arrows=ARROWS,
            cautions=cautions(),
            first=FIRST,
            last=LAST,
            known=known_of(found, lots.values(), _state(session, code)),
        )


def known_of(found: DrawnLoad, lots: Iterable[Lot], state: dict[str, object]) -> dict[str, object]:
    """Return what the script on the page knows: every place, what may stand in for what, the state."""
    places = {
        f"{one.stack}|{one.number}": {
            place.place: {
                "stands": place.stands,
                "across": f"{ARROWS[one.page.side_edge]}{place.ruler.across}",
                "deep": f"{ARROWS[one.page.near_edge]}{place.ruler.deep}",
                "hour": place.ruler.hour,
                "parts": [
                    {"lot": part.lot, "what": f"{part.product} {part.name}", "line": part.order_line, "n": part.pieces}
                    for part in place.parts
                ],
            }
            for place in one.places
        }
        for one in found.at.stations
    }
    kinds = {lot.code: f"{lot.product}|{lot.step}" for lot in lots}
    offers = {
        form: [
            {"lot": one.lot, "named": one.named, "pieces": one.pieces,
             "what": f"{one.pieces} × {one.product} {one.name}, lot {one.lot}, {one.order_line}"}
            for one in rows
        ]
        for form, rows in found.offers.items()
    }  # fmt: skip
    ware = {one.lot: one.product for rows in found.offers.values() for one in rows}
    ware |= {lot: kind.partition("|")[0] for lot, kind in kinds.items()}
    forms = {f"{stack}|{tier}": rows for (stack, tier), rows in found.forms.items()}
    return {"places": places, "kinds": kinds, "offers": offers, "forms": forms, "ware": ware, **state}


@router.get("/loader/{code}/state")
def how_far(request: Request, _: Loader, code: str) -> Response:
    """Tell a device what others have noted meanwhile."""
    with request.app.state.place.records.reading() as session:
        return JSONResponse(_state(session, code))


def _state(session: Any, code: str) -> dict[str, object]:
    row, noted = firing_row(session, code), ticks_of(session, code)
    changes = [
        {"what": tick.what, "stack": tick.stack, "tier": tick.tier, "place": tick.place, "lot": tick.lot,
         "other_lot": tick.other_lot, "pieces": tick.pieces, "note": tick.note, "other": tick.form_instead is not None}
        for tick in noted
        if tick.what in CHANGES and not tick.packed_over
    ]  # fmt: skip
    loads = {load.kind: load.version for load in row.loads}
    return {
        # Rises with every note and every change, so that a device knows which of two answers is the later one.
        "counted": len(noted) + row.version + sum(loads.values()),
        "state": row.state,
        "next": NEXT.get(RecordedState(row.state)),
        "row_version": row.version,
        "done": [list(place) for place in sorted(set_places(session, code))],
        "changes": changes,
        "load_version": loads.get("planned"),
    }


@router.post("/loader/{code}/ticks")
def keep_ticks(request: Request, someone: Loader, code: str, sent: SentTicks) -> Response:
    """Keep what a device noted; a note that came before is passed over."""
    records = request.app.state.place.records
    with records.writing(someone.name) as session:
        new = note_at_the_kiln(session, code, [Tick(**tick.model_dump()) for tick in sent.ticks])
    with records.reading() as session:
        return JSONResponse({"new": new, **_state(session, code)})


@router.post("/loader/{code}/step")
def step(
    request: Request,
    someone: Loader,
    code: str,
    state: Annotated[RecordedState, Form()],
    version: Annotated[int, Form()],
) -> Response:
    """Note that a firing went on."""
    with request.app.state.place.records.writing(someone.name) as session:
        expect(session, firing_row(session, code), version)
        move_on(session, code, state)
    return RedirectResponse("/loader", status_code=303)


@router.get("/loader/{code}/sheet.pdf")
def sheet(request: Request, _: Loader, code: str) -> Response:
    """Return the printed loading sheet."""
    with request.app.state.place.records.reading() as session:
        pdf = request.app.state.drawn.sheet(session, firing_row(session, code))
    safe = "".join(sign if sign.isalnum() or sign in "-." else "-" for sign in code)
    headers = {"content-disposition": f'inline; filename="load-{safe}.pdf"'}
    return Response(pdf, media_type="application/pdf", headers=headers)
