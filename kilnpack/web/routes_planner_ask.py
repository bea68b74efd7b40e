"""The planner's questions: which date may be promised, what fills a firing, what differs between two plans."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Form, Query, Request, Response

from kilnpack.records.standing_plan import plan_heads
from kilnpack.web.guard import same_form
from kilnpack.web.pages import page
from kilnpack.web.people import Planner
from kilnpack.web.routes_planner import gone_to, planned
from kilnpack.web.routes_planner_anew import asides
from kilnpack.web.told import told_stream, told_values
from kilnpack.workflow.standing import compare_kept, filling_work, promising_work

router = APIRouter(dependencies=[Depends(same_form)])

Code = Annotated[str, Form(max_length=80)]
Chosen = Annotated[str, Query(max_length=80)]
KEY = "question"
QUESTION_S = 20.0
"""Seconds that an answer may take."""
MOST_S = 600.0
MOST_PIECES = 1_000_000


def key_of(someone: Planner) -> str:
    """Return under which key somebody's question goes on."""
    return f"{KEY} of {someone.name}"


@router.get("/planner/ask")
def ask_page(request: Request, someone: Planner, before: Chosen = "", after: Chosen = "") -> Response:
    """Show the questions, and the answer to the one asked last."""
    aside = asides(request).of(key_of(someone))
    told = aside.told if aside is not None else None
    with request.app.state.place.records.reading() as session:
        works = planned(request).works(session)
        shown, heads = planned(request).shown(session)
        plans = plan_heads(session)
        change = compare_kept(session, before, after) if before and after else None
    return page(
        request,
        "planner_ask.html",
        someone=someone,
        works=works,
        shown=shown,
        heads=heads,
        plans=plans,
        change=change,
        seconds=QUESTION_S,
        chosen=(before, after),
        aside=aside,
        told=told,
        values=told_values(told) if told is not None else None,
        kind=aside.about if aside is not None else "",
    )


@router.post("/planner/ask/promise")
def promise(
    request: Request,
    someone: Planner,
    item: Code,
    quantity: Annotated[int, Form(ge=1, le=MOST_PIECES)],
    seconds: Annotated[float, Form(ge=1.0, le=MOST_S)] = QUESTION_S,
) -> Response:
    """Ask which date may be promised."""
    with request.app.state.place.records.reading() as session:
        work = promising_work(session, item, quantity, seconds)
    what = f"a date for {quantity} of {item}"
    asides(request).begin(key_of(someone), work, what=what, by=someone.name, about="promise")
    return gone_to(request, "/planner/ask")


@router.post("/planner/ask/fill")
def fill(
    request: Request,
    someone: Planner,
    firing: Code,
    seconds: Annotated[float, Form(ge=1.0, le=MOST_S)] = QUESTION_S,
) -> Response:
    """Ask what would fill a firing."""
    with request.app.state.place.records.reading() as session:
        work = filling_work(session, firing, seconds)
    what = f"what would fill {firing}"
    asides(request).begin(key_of(someone), work, what=what, by=someone.name, about="fill")
    return gone_to(request, "/planner/ask")


@router.get("/planner/ask/told")
async def told(request: Request, someone: Planner) -> Response:
    """Tell how far the answer is."""
    return told_stream(request, asides(request).of(key_of(someone)))


@router.post("/planner/ask/stop")
def stop(request: Request, someone: Planner) -> Response:
    """End the search for an answer with the best so far."""
    aside = asides(request).of(key_of(someone))
    if aside is not None:
        aside.stop()
    return gone_to(request, "/planner/ask")


@router.post("/planner/ask/forget")
def forget(request: Request, someone: Planner) -> Response:
    """Forget the answer, or end the search without one."""
    asides(request).forget(key_of(someone))
    return gone_to(request, "/planner/ask")
