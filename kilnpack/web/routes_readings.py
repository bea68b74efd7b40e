"""Readings of a firing that was lit: what the meter, the witness cones and the thermometer said."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from fastapi import APIRouter, Depends, Request, Response
from pydantic import Field

from kilnpack.records.firings import firing_rows
from kilnpack.records.measured import lit_firing, measured_of
from kilnpack.web.guard import same_form
from kilnpack.web.pages import page
from kilnpack.web.people import Loader
from kilnpack.web.routes_planner import gone_to, planned
from kilnpack.workflow.owners_figures import LIT
from kilnpack.workflow.readings import TYPED_TABLES, headings_of, keep_typed

if TYPE_CHECKING:
    from starlette.datastructures import FormData

router = APIRouter(dependencies=[Depends(same_form)])
ROWS = {"meter": 1, "cones": 6, "cooling": 6}
"""Rows that a table of the form has at least."""
MOST_ROWS = 60
Code = Annotated[str, Field(max_length=80)]


@router.get("/readings")
def lit(request: Request, someone: Loader) -> Response:
    """Show the firings that something can be measured of, the latest first, with what was."""
    with request.app.state.place.records.reading() as session:
        rows = [row for row in firing_rows(session, states=LIT, in_short=True) if row.lit_at is not None]
        kept = {row.code: measured_of(session, row.code) for row in rows}
        return page(request, "readings.html", someone=someone, rows=rows[::-1], kept=kept)


@router.get("/readings/{code}")
def of_firing(request: Request, someone: Loader, code: Code) -> Response:
    """Show the form with what was kept before."""
    with request.app.state.place.records.reading() as session:
        row = lit_firing(session, code)
        kept, works = measured_of(session, code), planned(request).works(session)
        values = {"meter": kept.meter, "cones": kept.cones, "cooling": kept.coolings}
        return page(
            request,
            "readings_of.html",
            someone=someone,
            row=row,
            kiln=works.kiln(row.kiln),
            programmes=[one.code for one in works.programmes],
            tables={name: headings_of(sheet) for name, sheet in TYPED_TABLES.items()},
            values=values,
            counts={name: min(MOST_ROWS, max(ROWS[name], len(values[name]) + 2)) for name in ROWS}
            | {"meter": ROWS["meter"]},
        )


@router.post("/readings/{code}")
async def keep(request: Request, someone: Loader, code: Code) -> Response:
    """Keep what was typed; every cell that cannot be is told."""
    form = await request.form()
    typed = {name: _rows(form, name) for name in TYPED_TABLES}
    version = str(form.get("version") or "")
    keep_typed(request.app.state.place.records, someone.name, code, int(version) if version.isdecimal() else 0, typed)
    return gone_to(request, "/readings")


def _rows(form: FormData, name: str) -> list[dict[str, str]]:
    """Return the rows of one table: fields are named table, heading and row."""
    headings = [heading for heading, *_ in headings_of(TYPED_TABLES[name])]
    return [
        {heading: str(form.get(f"{name}|{heading}|{number}") or "")[:80] for heading in headings}
        for number in range(1, MOST_ROWS + 1)
    ]
