"""Who is at the page: sign in, sign out, and who may do what."""

from __future__ import annotations

import time
from collections import OrderedDict
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Annotated

from fastapi import Depends, HTTPException, Request

from kilnpack.records.people import person
from kilnpack.records.states import Role
from kilnpack.web.passwords import is_right

if TYPE_CHECKING:
    from collections.abc import Callable

    from kilnpack.web.place import Place

PERSON = "person"
VERSION = "person_version"
TRIES, TRIES_S = 5, 60.0
"""After so many wrong passwords for a name, as many seconds go by before the next is judged."""
NAMES_KEPT = 2000

MAY = {
    Role.LOADER: frozenset({Role.LOADER}),
    Role.PLANNER: frozenset({Role.LOADER, Role.PLANNER}),
    Role.OWNER: frozenset(Role),
}
"""Whose pages someone may open: a planner the loader's as well, an owner all."""
HOME = {Role.LOADER: "/loader", Role.PLANNER: "/planner", Role.OWNER: "/owner"}


@dataclass(frozen=True, slots=True)
class Person:
    """Who is signed in."""

    name: str
    role: Role

    def may(self, role: Role) -> bool:
        """Return whether the pages of a role are open to this person."""
        return role in MAY[self.role]


class NotSignedIn(Exception):
    """Nobody is signed in; the sign-in page comes first."""


@dataclass(slots=True)
class Tries:
    """Counts wrong passwords by name, for a while."""

    clock: Callable[[], float] = time.monotonic
    _wrong: OrderedDict[str, list[float]] = field(default_factory=OrderedDict)

    def are_up(self, name: str) -> bool:
        """Return whether too many were wrong just now."""
        recent = [at for at in self._wrong.get(name.lower(), []) if self.clock() - at < TRIES_S]
        return len(recent) >= TRIES

    def was_wrong(self, name: str) -> None:
        """Note a wrong password."""
        key = name.lower()
        kept = [at for at in self._wrong.pop(key, []) if self.clock() - at < TRIES_S]
        self._wrong[key] = [*kept, self.clock()][-TRIES:]
        while len(self._wrong) > NAMES_KEPT:
            self._wrong.popitem(last=False)


def sign_in(place: Place, tries: Tries, request: Request, name: str, password: str) -> Person | None:
    """Sign someone in where name and password are right; the session is begun anew."""
    if tries.are_up(name):
        raise HTTPException(429, f"Too many wrong passwords for this name: wait {TRIES_S:.0f} seconds.")
    with place.records.reading() as session:
        row = person(session, name)
        known = row is not None and row.active
        right = is_right(row.password_hash if row is not None and known else None, password)
        if row is None or not right:
            tries.was_wrong(name)
            return None
        request.session.clear()
        request.session.update({PERSON: row.name, VERSION: row.version})
        return Person(row.name, Role(row.role))


def at_the_page(request: Request) -> Person | None:
    """Return who is signed in; nobody any more once the person was changed or may no longer sign in."""
    name = request.session.get(PERSON)
    if not name:
        return None
    place: Place = request.app.state.place
    with place.records.reading() as session:
        row = person(session, name)
        if row is None or not row.active or row.version != request.session.get(VERSION):
            return None
        return Person(row.name, Role(row.role))


def signed_in(request: Request) -> Person:
    """Return who is signed in.

    Raises
    ------
    NotSignedIn
        Nobody is.
    """
    found = at_the_page(request)
    if found is None:
        raise NotSignedIn
    return found


Someone = Annotated[Person, Depends(signed_in)]


def only(role: Role) -> Callable[[Person], Person]:
    """Return what lets in those who may open the pages of a role."""

    def allowed(someone: Someone) -> Person:
        if not someone.may(role):
            raise HTTPException(403, f"This page is for the {role.value}; you are signed in as {someone.role.value}.")
        return someone

    return allowed


Loader = Annotated[Person, Depends(only(Role.LOADER))]
Planner = Annotated[Person, Depends(only(Role.PLANNER))]
Owner = Annotated[Person, Depends(only(Role.OWNER))]
