"""Templates, and what every page knows: who looks at it, its token, and where one can go from it."""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from fastapi.responses import HTMLResponse
from jinja2 import Environment, FunctionLoader, StrictUndefined, select_autoescape

from kilnpack.records.states import Role
from kilnpack.web.guard import form_token
from kilnpack.web.people import at_the_page

if TYPE_CHECKING:
    from fastapi import Request

    from kilnpack.web.people import Person

WAYS = (
    (Role.LOADER, "/loader", "Loading"),
    (Role.LOADER, "/inspection", "Inspection"),
    (Role.PLANNER, "/planner", "Firings"),
    (Role.PLANNER, "/planner/backlog", "Backlog"),
    (Role.OWNER, "/owner", "Costs"),
    (Role.OWNER, "/people", "People"),
)


def _source(name: str) -> str:
    return files("kilnpack.web").joinpath("templates", name).read_text(encoding="utf-8")


@cache
def templates() -> Environment:
    """Return the templates; every value put in is escaped, and a value that is not there is a fault."""
    return Environment(
        loader=FunctionLoader(_source),
        autoescape=select_autoescape(default=True, default_for_string=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def page(request: Request, template: str, /, *, status: int = 200, **facts: Any) -> HTMLResponse:
    """Return a page, or a part of one for a request that swaps only that part."""
    someone: Person | None = facts.pop("someone", None) or at_the_page(request)
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
