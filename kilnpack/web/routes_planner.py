"""The planner's board: the plan that counts, a firing of it, moved and locked, and what is printed of it."""

from __future__ import annotations

from datetime import UTC, datetime
from functools import partial
from typing import Annotated

from fastapi import APIRouter, Depends, Form, Query, Request, Response
from fastapi.responses import RedirectResponse, StreamingResponse
from pydantic import Field

from kilnpack.records.firings import firing_row
from kilnpack.sheets.from_plan import plan_rows
from kilnpack.web.guard import same_form
from kilnpack.web.pages import page
from kilnpack.web.people import Loader, Planner
from kilnpack.web.planned import Planned
from kilnpack.workflow.board import ZOOMS, board_of
from kilnpack.workflow.plan_prints import PRINTS, SHEETS_ZIP, plan_print, sheets_zip
from kilnpack.workflow.shown import firing_facts, moved_lines
from kilnpack.workflow.standing import AskedMove, lock_firing, move_firing

router = APIRouter(dependencies=[Depends(same_form)])

Code = Annotated[str, Form(max_length=80)]
Version = Annotated[int, Form()]
SAID = "said_to_planner"
MOST_HOURS = 24 * 366
Hours = Annotated[float, Form(ge=-MOST_HOURS, le=MOST_HOURS)]


def planned(request: Request) -> Planned:
    """Return what the pages keep of the plan that counts."""
    kept: Planned = request.app.state.planned
    return kept


@router.get("/planner")
def board(
    request: Request,
    someone: Planner,
    firing: Annotated[str, Query(max_length=80)] = "",
    zoom: Annotated[str, Query(max_length=20)] = "weeks",
) -> Response:
    """Show the plan that counts as lanes over time, with its late lines."""
    with request.app.state.place.records.reading() as session:
        shown, heads = planned(request).shown(session)
    zoom = zoom if zoom in ZOOMS else "weeks"
    facts = {"someone": someone, "zoom": zoom, "zooms": list(ZOOMS), "said": request.session.pop(SAID, "")}
    if shown is None:
        return page(request, "planner.html", shown=None, **facts)
    return page(
        request,
        "planner.html",
        shown=shown,
        rows=plan_rows(shown.works, shown.plan),
        board=board_of(shown.works, shown.plan, heads, zoom=zoom, now=datetime.now(UTC)),
        chosen=firing_facts(shown, heads, firing),
        **facts,
    )


@router.get("/planner/firing/{code}")
def one_firing(
    request: Request, someone: Planner, code: str, zoom: Annotated[str, Query(max_length=20)] = "weeks"
) -> Response:  # fmt: skip
    """Show one firing of the plan that counts, as a part of the board's page."""
    with request.app.state.place.records.reading() as session:
        shown, heads = planned(request).shown(session)
    chosen = firing_facts(shown, heads, code) if shown is not None else None
    return page(request, "planner_firing.html", someone=someone, shown=shown, chosen=chosen, zoom=zoom)


@router.post("/planner/move")
def move(
    request: Request,
    someone: Planner,
    plan: Code,
    version: Version,
    firing: Code,
    hours: Hours = 0.0,
    kiln: Annotated[str, Form(max_length=80)] = "",
    zoom: Annotated[str, Form(max_length=20)] = "weeks",
) -> Response:
    """Move a firing; what breaks a rule is said, and nothing is kept then."""
    records = request.app.state.place.records
    with records.reading() as session:
        before, _ = planned(request).shown(session)
    asked = AskedMove(plan=plan, version=version, firing=firing, hours=hours, kiln=kiln or None)
    after = move_firing(records, someone.name, asked)
    request.session[SAID] = moved_lines(before.plan, after, firing) if before is not None else ""
    return gone_to(request, f"/planner?firing={firing}&zoom={zoom if zoom in ZOOMS else 'weeks'}")


@router.post("/planner/lock")
def locked(
    request: Request,
    someone: Planner,
    code: Code,
    version: Version,
    firing: Code,
    *,
    lock: Annotated[bool, Form()],
    zoom: Annotated[str, Form(max_length=20)] = "weeks",
) -> Response:
    """Lock a firing against planning anew, or free it."""
    lock_firing(request.app.state.place.records, someone.name, code, version, locked=lock)
    return gone_to(request, f"/planner?firing={firing}&zoom={zoom if zoom in ZOOMS else 'weeks'}")


def gone_to(request: Request, path: str) -> Response:
    """Lead on to a page, whoever asked: a form, or a script that swaps parts."""
    if request.headers.get("hx-request"):
        return Response(status_code=204, headers={"hx-redirect": path})
    return RedirectResponse(path, status_code=303)


@router.get("/planner/print/{name}")
def printed(request: Request, _: Loader, name: Annotated[str, Field(max_length=40)]) -> Response:
    """Return a sheet, table or calendar of the plan that counts."""
    with request.app.state.place.records.reading() as session:
        shown, heads = planned(request).shown(session)
    headers = {"content-disposition": f'attachment; filename="{name}"'}
    if name == SHEETS_ZIP and shown is not None:
        codes = [heads[firing.code].code for firing in shown.plan.firings if firing.code in heads]
        sheets = [(f"Load {code}", partial(_sheet, request, code)) for code in codes]
        return StreamingResponse(sheets_zip(sheets), media_type="application/zip", headers=headers)
    return Response(plan_print(name, shown), media_type=PRINTS[name], headers=headers)


def _sheet(request: Request, code: str) -> bytes:
    """Return the loading sheet of a firing, typeset before or now."""
    with request.app.state.place.records.reading() as session:
        pdf: bytes = request.app.state.drawn.sheet(session, firing_row(session, code))
    return pdf
