"""Who may sign in. How a password is hashed and judged is not known here."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlalchemy import func, select

from kilnpack.errors import InputFaulty
from kilnpack.records.states import Role
from kilnpack.records.tables_people import EventRow, PersonRow
from kilnpack.records.values import of_command, refuse

if TYPE_CHECKING:
    from sqlalchemy.orm import Session


def add_person(session: Session, name: str, role: Role, password_hash: str) -> PersonRow:
    """Let someone sign in.

    Raises
    ------
    InputFaulty
        The name is empty or taken.
    """
    faults = [] if name.strip() == name and name else [of_command("name", repr(name), "a name without spaces around")]
    if person(session, name) is not None:
        faults.append(of_command("name", name, "a name that nobody has yet"))
    refuse(faults)
    row = PersonRow(name=name, role=role.value, password_hash=password_hash, active=True)
    session.add(row)
    session.flush()
    return row


def person(session: Session, name: str) -> PersonRow | None:
    """Return someone by name, None where there is nobody; capitals do not matter."""
    return session.scalars(select(PersonRow).where(func.lower(PersonRow.name) == name.lower())).first()


def people(session: Session) -> tuple[PersonRow, ...]:
    """Return everybody, by name."""
    return tuple(session.scalars(select(PersonRow).order_by(PersonRow.name)))


def change_person(
    session: Session,
    name: str,
    *,
    role: Role | None = None,
    password_hash: str | None = None,
    active: bool | None = None,
) -> PersonRow:
    """Change what is given; None leaves it.

    Raises
    ------
    InputFaulty
        There is nobody of that name, or no owner who may sign in would be left.
    """
    row = person(session, name)
    if row is None:
        raise InputFaulty([of_command("name", name, "somebody who is known")])
    was_owner = row.active and row.role == Role.OWNER
    row.role = row.role if role is None else role.value
    row.password_hash = password_hash or row.password_hash
    row.active = row.active if active is None else active
    session.flush()
    owners = [one for one in people(session) if one.active and one.role == Role.OWNER]
    refuse(
        []
        if owners or not was_owner
        else [of_command("owner", "none would be left", "one owner who may sign in, at least")]
    )
    return row


def events_of(session: Session, *, what: str | None = None, key: str | None = None, most: int = 100) -> list[EventRow]:
    """Return what was changed, newest first: of everything, of a kind such as ``lot``, or of one row."""
    chosen = select(EventRow).order_by(EventRow.id.desc()).limit(most)
    chosen = chosen.where(EventRow.what == what) if what else chosen
    return list(session.scalars(chosen.where(EventRow.key == key) if key else chosen))
