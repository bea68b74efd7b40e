"""Where the records are: a file in the works folder, or a server by its address."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kilnpack.errors import RecordsUnusable

if TYPE_CHECKING:
    from pathlib import Path

    from sqlalchemy import URL

IN_FOLDER = ("records", "records.sqlite")
"""Folder and file inside a works folder; a works folder's own reader passes folders over."""
WANTED = "postgresql://USER@HOST/NAME, or a file"


def records_url(folder: Path, address: str | None = None) -> URL:
    """Return the address of a works' records.

    Parameters
    ----------
    folder
        The works folder, where the file is kept while no address is given.
    address
        ``postgresql://...``, ``sqlite:///...`` or the path of a file.

    Raises
    ------
    RecordsUnusable
        The address cannot be understood.
    """
    from sqlalchemy import URL, make_url
    from sqlalchemy.exc import ArgumentError

    if not address:
        return URL.create("sqlite", database=str(folder.joinpath(*IN_FOLDER)))
    if "://" not in address:
        return URL.create("sqlite", database=address)
    try:
        url = make_url(address)
    except (ArgumentError, ValueError) as fault:
        raise RecordsUnusable(_without_password(address), f"no address; wanted {WANTED}") from fault
    kind = url.drivername.partition("+")[0]
    if kind in ("postgresql", "postgres"):
        return url.set(drivername="postgresql+psycopg")
    if kind == "sqlite" and url.database not in (None, "", ":memory:"):
        return url
    raise RecordsUnusable(_without_password(address), f"{kind} with this name is not known here; wanted {WANTED}")


def _without_password(address: str) -> str:
    """Return an address that may be printed."""
    scheme, _, rest = address.partition("://")
    return f"{scheme}://{rest.rpartition('@')[2]}"


def is_file(url: URL) -> bool:
    """Tell whether the records are a file."""
    return url.get_backend_name() == "sqlite"


def shown_address(url: URL) -> str:
    """Return an address as people may see it."""
    return str(url.database) if is_file(url) else url.render_as_string(hide_password=True)
