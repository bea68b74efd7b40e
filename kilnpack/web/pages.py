"""Templates, and what every page knows: who looks at it, its token, and where one can go from it."""

from __future__ import annotations

import re
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from fastapi.responses import HTMLResponse
from jinja2 import Environment, FunctionLoader, StrictUndefined, select_autoescape
from markupsafe import Markup

from kilnpack.records.states import Role
from kilnpack.web.guard import form_token
from kilnpack.web.people import at_the_page

if TYPE_CHECKING:
    from datetime import datetime

    from fastapi import Request

    from kilnpack.sheets.svg import Drawing
    from kilnpack.web.people import Person

WAYS = (
    (Role.LOADER, "/loader", "Loading"),
    (Role.LOADER, "/inspection", "Inspection"),
    (Role.LOADER, "/readings", "Readings"),
    (Role.PLANNER, "/planner", "Firings"),
    (Role.PLANNER, "/planner/backlog", "Backlog"),
    (Role.OWNER, "/owner", "Costs"),
    (Role.OWNER, "/people", "People"),
)


def static_file(name: str) -> str:
    """Return where one of the files shown as they are lies."""
    return str(files("kilnpack.web").joinpath("static", name))


def _source(name: str) -> str:
    return files("kilnpack.web").joinpath("templates", name).read_text(encoding="utf-8")


@cache
def templates() -> Environment:
    """Return the templates; every value put in is escaped, and a value that is not there is a fault."""
    made = Environment(
        loader=FunctionLoader(_source),
        autoescape=select_autoescape(default=True, default_for_string=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["when"] = when
    made.filters["day"] = day
    made.filters["drawing"] = drawing
    return made


def when(moment: datetime | None) -> str:
    """Return a moment as people say it, in the zone it carries."""
    return "" if moment is None else f"{moment:%a %d %b %H:%M}"


def day(moment: datetime) -> str:
    """Return the day of a moment in the zone it carries."""
    return f"{moment:%A %d %B}"


def drawing(drawn: Drawing) -> Markup:
    """Return a drawing that takes the width it is given; its words were escaped where it was drawn."""
    return Markup(drawn.svg.replace(_size(drawn), "", 1))


def _size(drawn: Drawing) -> str:
    found = re.search(r'width="[^"]*" height="[^"]*" ', drawn.svg)
    return found.group(0) if found else ""


def page(request: Request, template: str, /, *, status: int = 200, **facts: Any) -> HTMLResponse:
    """Return a page, or a part of one for a request that swaps only that part."""
    someone: Person | None = facts.pop("someone") if "someone" in facts else at_the_page(request)
    ways = [(path, words) for role, path, words in WAYS if someone is not None and someone.may(role)]
    here = max((path for path, _ in ways if request.url.path.startswith(path)), key=len, default="")
    text = templates().get_template(template).render(
        someone=someone,
        token=form_token(request.session),
        ways=ways,
        here=here,
        works_name=request.app.state.place.folder.name,
        **facts,
    )  # fmt: skip
    return HTMLResponse(text, status_code=status)
