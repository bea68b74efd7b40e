"""Tables of people and of what they changed."""

from __future__ import annotations

from datetime import datetime
from typing import ClassVar

from sqlalchemy.orm import Mapped, mapped_column

from kilnpack.records.base import CODE, WORD, Base, Plain, Versioned


class PersonRow(Versioned, Base):
    """Someone who may sign in. The hash is made and judged elsewhere; no password is kept."""

    __tablename__ = "people"
    what: ClassVar[str] = "person"
    key_name: ClassVar[str] = "name"

    name: Mapped[str] = mapped_column(CODE, unique=True)
    role: Mapped[str] = mapped_column(WORD)
    password_hash: Mapped[str]
    active: Mapped[bool] = mapped_column(default=True)


class EventRow(Base):
    """Who changed what and when: one row for every change of a row that people edit.

    `change` holds the columns changed, each as [before, after]; values and hashes are named but not repeated.
    """

    __tablename__ = "events"

    at: Mapped[datetime] = mapped_column(index=True)
    by: Mapped[str] = mapped_column(CODE)
    what: Mapped[str] = mapped_column(WORD, index=True)
    key: Mapped[str] = mapped_column(CODE, index=True)
    did: Mapped[str] = mapped_column(WORD)
    change: Mapped[Plain]
