"""Bring the tables to the present form, and tell whether they have it."""

from __future__ import annotations

from importlib import resources
from typing import TYPE_CHECKING

from sqlalchemy import inspect, text

from kilnpack.records.engine import WRITES

if TYPE_CHECKING:
    from sqlalchemy import Connection, Engine

HEAD = "0003"
"""The newest migration; a test holds it against the migrations themselves."""
_TURN = 0x6B696C6E
"""Number under which processes that bring a server's tables up to date wait for each other."""


def revision_of(connection: Connection) -> str | None:
    """Return the form that the tables have, None where there are none."""
    if not inspect(connection).has_table("alembic_version"):
        return None
    return connection.execute(text("SELECT version_num FROM alembic_version")).scalar()


def bring_up(engine: Engine) -> None:
    """Make the tables, or bring older ones to the present form, in one transaction.

    Two processes may do so at once: the second waits, and finds it done.
    """
    from alembic import command
    from alembic.config import Config

    with (
        resources.as_file(resources.files("kilnpack.records") / "migrations") as scripts,
        engine.connect().execution_options(**{WRITES: True}) as connection,
        connection.begin(),
    ):
        if engine.dialect.name == "postgresql":
            connection.execute(text("SELECT pg_advisory_xact_lock(:turn)"), {"turn": _TURN})
        config = Config()
        config.set_main_option("script_location", str(scripts).replace("%", "%%"))
        config.set_main_option("path_separator", "os")
        config.attributes["connection"] = connection
        command.upgrade(config, "head")
