"""The owner's pages: what firing costs, what to change, what was lost where, and what is learnt."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Form, HTTPException, Query, Request, Response

from kilnpack.sheets.owner_charts import loss_map
from kilnpack.sheets.owner_tables import (
    PRODUCT_HEADINGS,
    PRODUCT_ORDERS,
    WORDY,
    blocks,
    products,
    summary,
)
from kilnpack.web.guard import same_form
from kilnpack.web.owned import KEY, Kept, Owned
from kilnpack.web.pages import page
from kilnpack.web.people import Owner
from kilnpack.web.routes_planner import gone_to, planned
from kilnpack.web.routes_planner_anew import asides
from kilnpack.web.told import told_stream, told_values
from kilnpack.workflow.owner_questions import AS_USUAL, WhatIf, losses_by_place

router = APIRouter(dependencies=[Depends(same_form)])

CHANGE, DEAR = "What to change first", "The ten dearest products, and why"
PRODUCTS, FIRINGS = "By product, dearest in all first", "By firing"
PICTURE_HEADERS = {
    "content-security-policy": "default-src 'none'; style-src 'unsafe-inline'; sandbox",
    "cache-control": "private, max-age=3600",
}
"""A chart brings its own styles; it is a picture, and nothing in it may run."""
POSTS_EFFORT = 150
"""Effort of each packing that asks what more posts would bring; about a second."""
MOST_POSTS = 1000


def owned(request: Request) -> Owned:
    """Return what the pages keep for the owner."""
    kept: Owned = request.app.state.owned
    return kept


def _kept(request: Request, someone: Owner) -> Kept:
    with request.app.state.place.records.reading() as session:
        kept, _ = owned(request).figures(session, request.app.state.place, someone.name)
    if kept is None:
        raise HTTPException(404, "The figures are not reckoned yet: open the owner's page first.")
    return kept


@router.get("/owner")
def costs(request: Request, someone: Owner, order: Annotated[str, Query(max_length=20)] = "in all") -> Response:
    """Show the figures reckoned last, and what the inspections teach."""
    place = request.app.state.place
    with place.records.reading() as session:
        works = planned(request).works(session)
        kept, aside = owned(request).figures(session, place, someone.name)
        yields, lost = owned(request).taught(session, works)
    order = order if order in PRODUCT_ORDERS else "in all"
    rows = kept.figures.rows if kept is not None else None
    by_place = losses_by_place(lost)
    return page(
        request,
        "owner.html",
        someone=someone,
        kept=kept,
        aside=aside,
        told=aside.told if aside is not None else None,
        values=told_values(aside.told) if aside is not None else None,
        summary=summary(rows) if rows is not None else [],
        blocks={one[0]: one for one in blocks(rows)} if rows is not None else {},
        apart=(CHANGE, DEAR, PRODUCTS),
        wordy=WORDY,
        headings=PRODUCT_HEADINGS,
        products=products(rows, order) if rows is not None else [],
        orders={key: words for key, (words, _) in PRODUCT_ORDERS.items()},
        order=order,
        maps=[loss_map(by_place, kiln) for kiln in sorted({one.kiln for one in by_place})],
        lost=[one for one in lost if one.lost_share or one.stack is None],
        yields=yields,
        usual=AS_USUAL,
        most_posts=MOST_POSTS,
    )


@router.post("/owner/reckon")
def reckon(
    request: Request,
    someone: Owner,
    lighter: Annotated[float, Form(gt=0.0, lt=100.0)] = 100.0 * AS_USUAL.thinner_share,
    posts: Annotated[int, Form(ge=1, le=MOST_POSTS)] = AS_USUAL.more_posts_pieces,
    ask_posts: Annotated[str, Form(max_length=3)] = "",
) -> Response:
    """Begin to reckon the figures anew, with what the owner would change."""
    what_if = WhatIf(
        thinner_share=lighter / 100.0,
        more_posts_pieces=posts,
        posts_effort=POSTS_EFFORT if ask_posts == "yes" else 0,
    )
    with request.app.state.place.records.reading() as session:
        owned(request).ask(session, request.app.state.place, someone.name, what_if)
    return gone_to(request, "/owner")


@router.get("/owner/told")
async def told(request: Request, _: Owner) -> Response:
    """Tell how far the figures are, as long as they are reckoned."""
    return told_stream(request, asides(request).of(KEY))


@router.post("/owner/stop")
def stop(request: Request, _: Owner) -> Response:
    """End the reckoning; the figures before stay."""
    owned(request).stop()
    return gone_to(request, "/owner")


@router.get("/owner/chart/{name}.svg")
def chart(request: Request, someone: Owner, name: str) -> Response:
    """Return one of the charts."""
    figures = _kept(request, someone).figures
    pictures = (*figures.prints.pictures, *((figures.fired_picture,) if figures.fired_picture is not None else ()))
    found = next((one for one in pictures if one.name == name), None)
    if found is None:
        raise HTTPException(404, "There is no such chart.")
    return Response(found.svg, media_type="image/svg+xml", headers=PICTURE_HEADERS)


@router.get("/owner/report.pdf")
def report_pdf(request: Request, someone: Owner) -> Response:
    """Return the report to print."""
    headers = {"content-disposition": 'attachment; filename="what-firing-costs.pdf"'}
    return Response(_kept(request, someone).figures.prints.pdf, media_type="application/pdf", headers=headers)


@router.get("/owner/report.html")
def report_html(request: Request, someone: Owner) -> Response:
    """Return the report as one file for a screen."""
    headers = {"content-disposition": 'attachment; filename="what-firing-costs.html"'}
    return Response(_kept(request, someone).figures.prints.html, media_type="text/html", headers=headers)
