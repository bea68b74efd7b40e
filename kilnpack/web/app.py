"""The application: pages put together, faults turned into pages."""

from __future__ import annotations

from contextlib import asynccontextmanager, suppress
from importlib.resources import files
from typing import TYPE_CHECKING
from urllib.parse import quote

from fastapi import FastAPI, HTTPException, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, RedirectResponse
from starlette.exceptions import HTTPException as StarletteHTTPException
from starlette.middleware.sessions import SessionMiddleware
from starlette.staticfiles import StaticFiles

from kilnpack.errors import ChangedMeanwhile, Finding, InputFaulty, KilnpackError, RecordsUnusable, SheetNotWritten
from kilnpack.records.firings import firing_rows
from kilnpack.web import (
    routes_backlog,
    routes_inspection,
    routes_loader,
    routes_owner,
    routes_people,
    routes_planner,
    routes_planner_anew,
    routes_planner_ask,
    routes_readings,
    routes_rest,
)
from kilnpack.web.drawn import Drawn
from kilnpack.web.guard import Guard
from kilnpack.web.owned import Owned
from kilnpack.web.pages import page
from kilnpack.web.people import NotSignedIn, Tries, at_the_page
from kilnpack.web.place import session_key
from kilnpack.web.planned import Planned
from kilnpack.whole_files import reason_of
from kilnpack.workflow.aside import Asides
from kilnpack.workflow.drawn_ahead import planned_version, versions_of

if TYPE_CHECKING:
    from collections.abc import AsyncIterator, Callable

    from kilnpack.web.place import Place
    from kilnpack.workflow.drawn_ahead import Drawer

NOT_NOW = 503
"""Status where the disk, the data base or the system stands in the way; devices keep their notes and send them again.
"""
SESSION_S = 12 * 3600
"""A session ends after a working day."""
ROUTERS = (
    routes_people.router,
    routes_loader.router,
    routes_inspection.router,
    routes_planner.router,
    routes_planner_anew.router,
    routes_planner_ask.router,
    routes_backlog.router,
    routes_readings.router,
    routes_rest.router,
    routes_owner.router,
)


def make_app(place: Place, *, ahead: Callable[[], Drawer] | None = None) -> FastAPI:
    """Return the pages of one works.

    Parameters
    ----------
    ahead
        Makes the process that draws loads before somebody looks; None draws only what is asked for.

    Raises
    ------
    SheetNotWritten
        The key that signs sessions cannot be kept.
    """
    app = FastAPI(title="kilnpack", docs_url=None, redoc_url=None, openapi_url=None, lifespan=_while_served)
    app.state.place = place
    app.state.tries = Tries()
    app.state.drawn = Drawn(process=ahead)
    app.state.planned = Planned()
    app.state.asides = Asides()
    app.state.owned = Owned(app.state.asides)
    app.mount("/static", StaticFiles(directory=str(files("kilnpack.web").joinpath("static"))), name="static")
    for router in ROUTERS:
        app.include_router(router)
    app.add_middleware(
        SessionMiddleware,
        secret_key=session_key(place.keeping),
        session_cookie="kilnpack",
        max_age=SESSION_S,
        same_site="strict",
        https_only=place.secure,
    )
    app.add_middleware(Guard)
    app.add_exception_handler(NotSignedIn, _not_signed_in)
    app.add_exception_handler(KilnpackError, _faulty)
    app.add_exception_handler(OSError, _no_room)
    app.add_exception_handler(StarletteHTTPException, _refused)
    app.add_exception_handler(RequestValidationError, _not_understood)
    return app


@asynccontextmanager
async def _while_served(app: FastAPI) -> AsyncIterator[None]:
    """Draw ahead from the start, and end the work that goes on beside the pages together with them."""
    records = app.state.place.records
    with suppress(RecordsUnusable), records.reading() as session:  # pages say so themselves, and may be asked again
        rows = firing_rows(session, states=routes_loader.SHOWN, in_short=True)
        firings = [(row.code, planned_version(row), versions_of(row)) for row in routes_loader.in_turn(rows)]
        app.state.drawn.ahead(records, firings)
    yield
    app.state.drawn.end()
    app.state.asides.end()


def wants_data(request: Request) -> bool:
    """Return whether a script asked, which reads JSON, and not a person who reads a page."""
    return "application/json" in request.headers.get("accept", "")


async def _not_signed_in(request: Request, _: Exception) -> Response:
    """Lead to the sign-in page and back again."""
    if wants_data(request):
        return JSONResponse({"said": "Sign in again; what you noted is kept on this device."}, status_code=401)
    back = request.url.path if request.method == "GET" else "/"
    target = f"/sign-in?after={quote(back)}"
    if request.headers.get("hx-request"):
        return Response(status_code=204, headers={"hx-redirect": target})
    return RedirectResponse(target, status_code=303)


async def _faulty(request: Request, fault: Exception) -> Response:
    """Show every finding, or what went wrong in one sentence."""
    findings = fault.findings if isinstance(fault, InputFaulty) else ()
    place = isinstance(fault, RecordsUnusable | SheetNotWritten)
    status = 409 if isinstance(fault, ChangedMeanwhile) else 422 if findings else NOT_NOW if place else 500
    return _fault_page(request, status, "" if findings else str(fault), findings)


async def _no_room(request: Request, fault: Exception) -> Response:
    """Say which fault of the disk or the system stood in the way; nothing of what was asked is kept."""
    reason = reason_of(fault) if isinstance(fault, OSError) else str(fault)
    return _fault_page(request, NOT_NOW, f"Nothing of this was kept, as the system refused: {reason}.", ())


async def _refused(request: Request, fault: Exception) -> Response:
    """Say why a page is not shown."""
    if isinstance(fault.__cause__, OSError):
        return await _no_room(request, fault.__cause__)  # what was sent could not be put down
    status = fault.status_code if isinstance(fault, (HTTPException, StarletteHTTPException)) else 500
    detail = str(getattr(fault, "detail", ""))
    return _fault_page(request, status, "There is no such page." if status == 404 else detail, ())


async def _not_understood(request: Request, fault: Exception) -> Response:
    """Say which field of a form cannot be used; the library's own words are left out."""
    errors = fault.errors() if isinstance(fault, RequestValidationError) else []
    findings = [
        Finding(
            file="form",
            row=None,
            field=str(error["loc"][-1]),
            found="nothing" if error["type"] == "missing" else repr(error.get("input"))[:60],
            wanted="a value" if error["type"] == "missing" else "a value of its kind, not too long",
        )
        for error in errors
    ]
    return _fault_page(request, 422, "", findings)


def _fault_page(request: Request, status: int, said: str, findings: list[Finding] | tuple[Finding, ...]) -> Response:
    if wants_data(request):
        rows = [
            {"file": one.file, "row": one.row, "field": one.field, "found": one.found, "wanted": one.wanted}
            for one in findings
        ]
        return JSONResponse({"said": said, "findings": rows}, status_code=status)
    part = "faults_part.html" if request.headers.get("hx-request") else "faults.html"
    try:
        someone = at_the_page(request)
    except (RecordsUnusable, OSError):
        someone = None  # who it is stands in the records, and they are what is told of
    return page(request, part, status=status, someone=someone, said=said, findings=findings)
