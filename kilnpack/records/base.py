"""What all tables share: moments kept exactly, names of constraints, and rows that two people may edit."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Any, ClassVar

from sqlalchemy import Integer, MetaData, String
from sqlalchemy.orm import DeclarativeBase, Mapped, declared_attr, mapped_column
from sqlalchemy.types import JSON, TypeDecorator

if TYPE_CHECKING:
    from sqlalchemy.engine import Dialect

CODE = String()
"""Codes of the trade, as the works writes them."""
WORD = String()
"""A word out of a short list."""

Plain = dict[str, Any]
"""A frozen value as `codec.encode` gives it."""


class Moment(TypeDecorator[datetime]):
    """A moment as ISO 8601 text, with its offset or without, so that it comes back as it was.

    A works folder speaks in the works' own time without an offset, a plan with one; a column of the data base's own
    type would lose either. Moments that are compared in a query are all written in UTC to the microsecond.
    """

    impl = String(40)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> str | None:  # noqa: ARG002
        """Return the text that is kept."""
        return None if value is None else value.isoformat(timespec="microseconds")

    def process_result_value(self, value: str | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        """Return the moment."""
        return None if value is None else datetime.fromisoformat(value)


class Base(DeclarativeBase):
    """Root of the tables; constraints have names, so that a later migration can change them."""

    metadata = MetaData(
        naming_convention={
            "ix": "ix_%(table_name)s_%(column_0_N_name)s",
            "uq": "uq_%(table_name)s_%(column_0_N_name)s",
            "fk": "fk_%(table_name)s_%(column_0_N_name)s",
            "pk": "pk_%(table_name)s",
        }
    )
    type_annotation_map: ClassVar[dict[Any, Any]] = {datetime: Moment, Plain: JSON}

    id: Mapped[int] = mapped_column(Integer, primary_key=True)


class Versioned:
    """A row that more than one person may edit.

    Its version goes up with every change; a change that started from an older version is refused.
    """

    what: ClassVar[str]
    """What people call such a row, such as ``lot``."""
    key_name: ClassVar[str] = "code"
    """Column that names the row to people."""

    version: Mapped[int] = mapped_column(Integer)
    changed_by: Mapped[str] = mapped_column(CODE, default="")
    changed_at: Mapped[datetime]

    @declared_attr.directive
    def __mapper_args__(cls) -> dict[str, Any]:  # noqa: N805 - read by SQLAlchemy from the class
        return {"version_id_col": cls.version}

    @property
    def key(self) -> str:
        """What names this row to people."""
        return str(getattr(self, self.key_name))
