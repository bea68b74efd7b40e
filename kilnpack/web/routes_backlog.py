"""The backlog: order lines, lots, shelves full of it; and new tables sent, shown cell by cell or taken in."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, File, Form, Request, Response, UploadFile
from fastapi.responses import RedirectResponse

from kilnpack.records.deliveries import deliver, line_versions
from kilnpack.web.guard import same_form
from kilnpack.web.pages import page
from kilnpack.web.people import Planner
from kilnpack.web.routes_planner import planned
from kilnpack.workflow.taking_in import TakenIn, take_in
from kilnpack.works_folder.sent_tables import MOST_FILE_BYTES, MOST_FILES, SENT, SentFile

router = APIRouter(dependencies=[Depends(same_form)])

SAID = "said_of_backlog"
MOST_PIECES = 1_000_000
MOST_SAID = 1500
"""Characters of what is said after an upload; it travels in the cookie of the session."""


@router.get("/planner/backlog")
def backlog(request: Request, someone: Planner) -> Response:
    """Show the backlog."""
    return _backlog_page(request, someone, TakenIn(), request.session.pop(SAID, ""))


@router.post("/planner/backlog")
def send(
    request: Request,
    someone: Planner,
    files: Annotated[list[UploadFile], File()],
    files_win: Annotated[str, Form(max_length=3)] = "",
) -> Response:
    """Take tables in, or show every finding at its cell."""
    place = request.app.state.place
    sent = [
        SentFile(name=file.filename or "", content=file.file.read(MOST_FILE_BYTES + 1))
        for file in files[: MOST_FILES + 1]
        if file.filename
    ]
    taken = take_in(place.records, place.folder, someone.name, sent, files_win=files_win == "yes")
    if taken.findings:
        return _backlog_page(request, someone, taken, "", status=422)
    request.session[SAID] = f"Taken in. {'; '.join(taken.said)}"[:MOST_SAID]
    return RedirectResponse("/planner/backlog", status_code=303)


@router.post("/planner/backlog/delivered")
def delivered(
    request: Request,
    someone: Planner,
    line: Annotated[str, Form(max_length=80)],
    version: Annotated[int, Form()],
    quantity: Annotated[int, Form(ge=1, le=MOST_PIECES)],
    note: Annotated[str, Form(max_length=200)] = "",
) -> Response:
    """Note a delivery of an order line."""
    with request.app.state.place.records.writing(someone.name) as session:
        row = deliver(session, line, quantity, note=note.strip(), seen=version)
        said = f"Line {line}: {row.delivered_pieces} of {row.quantity_pieces} delivered"
    request.session[SAID] = said
    return RedirectResponse("/planner/backlog", status_code=303)


def _backlog_page(request: Request, someone: Planner, taken: TakenIn, said: str, status: int = 200) -> Response:
    kept = planned(request)
    with request.app.state.place.records.reading() as session:
        works = kept.works(session)
        shown, _ = kept.shown(session)
        waiting = kept.waiting(session)
        versions = line_versions(session)
    outcomes = {row.line: row for row in shown.plan.outcomes} if shown is not None else {}
    return page(
        request,
        "backlog.html",
        status=status,
        someone=someone,
        works=works,
        shown=shown,
        outcomes=outcomes,
        routes={row.code: row.route for row in works.products},
        waiting=waiting,
        versions=versions,
        taken=taken,
        said=said,
        tables=list(SENT),
    )
