"""Sign in and out, and the owner's page of people."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Form, Request, Response
from fastapi.responses import RedirectResponse

from kilnpack.records import people
from kilnpack.records.states import Role
from kilnpack.web.guard import same_form
from kilnpack.web.pages import page
from kilnpack.web.passwords import hashed
from kilnpack.web.people import HOME, Owner, Someone, sign_in

router = APIRouter(dependencies=[Depends(same_form)])
Text = Annotated[str, Form(max_length=400)]
Word = Annotated[str, Form(max_length=40)]


def within(path: str) -> str:
    """Return a path of these pages, "/" for anything that leads elsewhere."""
    return path if path.startswith("/") and not path.startswith(("//", "/\\")) else "/"


@router.get("/")
def home(someone: Someone) -> Response:
    """Lead everybody to the page of their role."""
    return RedirectResponse(HOME[someone.role], status_code=303)


@router.get("/sign-in")
def sign_in_page(request: Request, after: str = "/") -> Response:
    """Show the form."""
    return page(request, "sign_in.html", after=within(after), wrong=False, name="")


@router.post("/sign-in")
def sign_in_now(request: Request, name: Text, password: Text, after: Text = "/") -> Response:
    """Sign in, and go on to where one wanted to be."""
    found = sign_in(request.app.state.place, request.app.state.tries, request, name, password)
    if found is None:
        return page(request, "sign_in.html", status=401, after=within(after), wrong=True, name=name)
    return RedirectResponse(within(after), status_code=303)


@router.post("/sign-out")
def sign_out(request: Request) -> Response:
    """End the session."""
    request.session.clear()
    return RedirectResponse("/sign-in", status_code=303)


@router.get("/people")
def people_page(request: Request, owner: Owner) -> Response:
    """Show who may sign in."""
    with request.app.state.place.records.reading() as session:
        rows = people.people(session)
        return page(request, "people.html", someone=owner, rows=rows, roles=list(Role))


@router.post("/people")
def add_person(request: Request, owner: Owner, name: Text, role: Word, password: Text) -> Response:
    """Let someone sign in."""
    with request.app.state.place.records.writing(owner.name) as session:
        people.add_person(session, name.strip(), _role(role), hashed(password))
    return RedirectResponse("/people", status_code=303)


@router.post("/people/{name}")
def change_person(
    request: Request, owner: Owner, name: str, role: Word, password: Text = "", active: Word = ""
) -> Response:
    """Change role, password, or whether someone may sign in."""
    with request.app.state.place.records.writing(owner.name) as session:
        people.change_person(
            session,
            name,
            role=_role(role),
            password_hash=hashed(password) if password else None,
            active=active == "yes",
        )
    return RedirectResponse("/people", status_code=303)


def _role(word: str) -> Role:
    """Return the role meant, the one that may least where the word is none."""
    return Role(word) if word in set(Role) else Role.LOADER
