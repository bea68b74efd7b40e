"""The rest of a load planned anew: asked for at the kiln, heard of while it goes on, kept or thrown away."""

from __future__ import annotations

from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Depends, Form, Request, Response
from pydantic import Field

from kilnpack.records.firings import firing_row, load_fired
from kilnpack.search.budget import Budget
from kilnpack.web.guard import same_form
from kilnpack.web.pages import page
from kilnpack.web.people import Loader
from kilnpack.web.routes_planner import gone_to
from kilnpack.web.routes_planner_anew import asides
from kilnpack.web.told import told_stream, told_values
from kilnpack.workflow.at_the_kiln import set_places, works_of_row
from kilnpack.workflow.rest_anew import AskedRest, furniture_codes, keep_rest, open_tiers, rest_work

router = APIRouter(dependencies=[Depends(same_form)])

Code = Annotated[str, Field(max_length=80)]
USUAL_S, MOST_S = 15.0, 120.0
BROKEN_ROWS = 3
Typed = Annotated[list[str], Form(max_length=80)]


def key_of(code: str) -> str:
    """Return under which key the rest of a firing is planned."""
    return f"rest of {code}"


@router.get("/rest/{code}")
def rest(request: Request, someone: Loader, code: Code) -> Response:
    """Show the form; while the rest is packed its progress; then what came of it."""
    aside = asides(request).of(key_of(code))
    told = aside.told if aside is not None else None
    with request.app.state.place.records.reading() as session:
        row = firing_row(session, code)
        works, load = works_of_row(session, row), load_fired(row)
        return page(
            request,
            "rest.html",
            someone=someone,
            row=row,
            tiers=open_tiers(works, load, set_places(session, code)),
            furniture=furniture_codes(works),
            broken_rows=range(BROKEN_ROWS),
            usual_s=USUAL_S,
            most_s=MOST_S,
            aside=aside,
            told=told,
            values=told_values(told) if told is not None else None,
        )


@router.post("/rest/{code}")
def begin(
    request: Request,
    someone: Loader,
    code: Code,
    from_tier: Annotated[str, Form(max_length=80)] = "",
    seconds: Annotated[float, Form(ge=1.0, le=MOST_S)] = USUAL_S,
    broken: Typed = [],  # noqa: B006 - read, never written
    count: Typed = [],  # noqa: B006
) -> Response:
    """Begin to plan the rest anew in a process of its own."""
    named = tuple(f"{one}:{number.strip() or 1}" for one, number in zip(broken, count, strict=False) if one.strip())
    asked = AskedRest(firing=code, from_tier=from_tier, broken=named, budget=Budget(seconds=seconds))
    with request.app.state.place.records.reading() as session:
        work, begun = rest_work(session, asked)
    asides(request).begin(key_of(code), work, what=f"the rest of {code}", by=someone.name, about=begun)
    return gone_to(request, f"/rest/{quote(code)}")


@router.get("/rest/{code}/told")
async def told(request: Request, _: Loader, code: Code) -> Response:
    """Tell how far the rest is."""
    return told_stream(request, asides(request).of(key_of(code)))


@router.post("/rest/{code}/stop")
def stop(request: Request, _: Loader, code: Code) -> Response:
    """End the packing with the best so far."""
    aside = asides(request).of(key_of(code))
    if aside is not None:
        aside.stop()
    return gone_to(request, f"/rest/{quote(code)}")


@router.post("/rest/{code}/keep")
def keep(request: Request, someone: Loader, code: Code) -> Response:
    """Let the load that was packed count; pages that show it load themselves anew."""
    aside = asides(request).of(key_of(code))
    made = aside.told.answer if aside is not None else None
    if aside is not None and made is not None:
        keep_rest(request.app.state.place.records, someone.name, made, aside.about)
        asides(request).forget(key_of(code))
    return gone_to(request, f"/loader/{quote(code)}")


@router.post("/rest/{code}/throw-away")
def throw_away(request: Request, _: Loader, code: Code) -> Response:
    """Forget what was packed, or end the packing without it."""
    asides(request).forget(key_of(code))
    return gone_to(request, f"/loader/{quote(code)}")
