"""Plan anew: asked for, heard of while it goes on, stopped, and then kept or thrown away."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Form, Request, Response
from fastapi.responses import RedirectResponse

from kilnpack.errors import Finding, InputFaulty
from kilnpack.planning.comparing import compared
from kilnpack.records.firings import plan_of
from kilnpack.sheets.from_plan import plan_rows
from kilnpack.web.guard import same_form
from kilnpack.web.pages import page
from kilnpack.web.people import Planner
from kilnpack.web.routes_planner import SAID, gone_to, planned
from kilnpack.web.told import told_stream, told_values
from kilnpack.workflow.aside import Asides
from kilnpack.workflow.shown import of_backlog
from kilnpack.workflow.standing import Anew, keep_planned, planning_work

router = APIRouter(dependencies=[Depends(same_form)])

KEY = "plan"
LEAST_S, USUAL_S, MOST_S = 1.0, 90.0, 3600.0
DOWNS = 3
"""Stretches of a kiln that is down, asked for on the page."""
Typed = Annotated[list[str], Form(max_length=200)]


def asides(request: Request) -> Asides:
    """Return the work that goes on beside the pages."""
    kept: Asides = request.app.state.asides
    return kept


@router.get("/planner/anew")
def anew_page(request: Request, someone: Planner) -> Response:
    """Show the form; while a plan is made its progress; then what came of it beside the plan that counts."""
    aside = asides(request).of(KEY)
    with request.app.state.place.records.reading() as session:
        works = planned(request).works(session)
        shown, _ = planned(request).shown(session)
        told = aside.told if aside is not None else None
        made = told.answer if told is not None else None
        begun = aside.about if aside is not None else None
        before = plan_of(session, begun.code) if made is not None and begun is not None and begun.code else None
    return page(
        request,
        "planner_anew.html",
        someone=someone,
        works=works,
        shown=shown,
        usual_s=USUAL_S,
        most_s=MOST_S,
        downs=range(DOWNS),
        aside=aside,
        told=told,
        values=told_values(told) if told is not None else None,
        made=made,
        rows=plan_rows(works, of_backlog(made, works)) if made is not None else None,
        begun=begun,
        before=before,
        change=compared(before, made) if before is not None and made is not None else None,
    )


@router.post("/planner/anew")
def begin(
    request: Request,
    someone: Planner,
    seconds: Annotated[float, Form(ge=LEAST_S, le=MOST_S)] = USUAL_S,
    keep_locked: Annotated[str, Form(max_length=3)] = "",
    kiln: Typed = [],  # noqa: B006 - read, never written
    start: Typed = [],  # noqa: B006
    end: Typed = [],  # noqa: B006
    urgent: Typed = [],  # noqa: B006
) -> Response:  # fmt: skip
    """Begin to plan anew in a process of its own."""
    place = request.app.state.place
    asked = Anew(
        seconds=seconds,
        keep_locked=keep_locked == "yes",
        downs=tuple(row for row in zip(kiln, start, end, strict=False) if any(row)),
        urgent=tuple(code for code in urgent if code),
    )
    with place.records.reading() as session:
        work, begun = planning_work(session, place.folder, asked)
    asides(request).begin(KEY, work, what="planning", by=someone.name, about=begun)
    return gone_to(request, "/planner/anew")


@router.get("/planner/anew/told")
async def told(request: Request, _: Planner) -> Response:
    """Tell how far the planning is, as long as it goes on."""
    return told_stream(request, asides(request).of(KEY))


@router.post("/planner/anew/stop")
def stop(request: Request, _: Planner) -> Response:
    """End the planning with the best plan so far."""
    aside = asides(request).of(KEY)
    if aside is not None:
        aside.stop()
    return RedirectResponse("/planner/anew", status_code=303)


@router.post("/planner/anew/keep")
def keep(request: Request, someone: Planner) -> Response:
    """Let the plan that was made count."""
    aside = asides(request).of(KEY)
    made = aside.told.answer if aside is not None else None
    if aside is None or made is None:
        wanted = "a plan that was made and not thrown away"
        raise InputFaulty([Finding(file="pages", row=None, field="plan", found="none", wanted=wanted)])
    code = keep_planned(request.app.state.place.records, someone.name, made, aside.about)
    asides(request).forget(KEY)
    request.session[SAID] = f"{code} counts now."
    return gone_to(request, "/planner")


@router.post("/planner/anew/throw-away")
def throw_away(request: Request, _: Planner) -> Response:
    """Forget the plan that was made, or end the planning without one."""
    asides(request).forget(KEY)
    return RedirectResponse("/planner/anew", status_code=303)
