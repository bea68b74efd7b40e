"""Open a works for its pages and serve them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlalchemy import select

from kilnpack.records.address import records_url
from kilnpack.records.store import init_records
from kilnpack.records.tables_works import WorksRow
from kilnpack.records.works_values import put_works
from kilnpack.web.place import Place
from kilnpack.works_folder import read_works

if TYPE_CHECKING:
    from pathlib import Path

END_S = 3
"""Seconds that pages which still listen to progress have when the server ends."""
HERE = frozenset({"127.0.0.1", "::1", "localhost"})
"""Hosts that only this machine can reach."""


def open_place(folder: Path, address: str | None = None, *, secure: bool = False) -> Place:
    """Return a works for its pages; records that are not there yet are made.

    Parameters
    ----------
    folder
        The works folder.
    address
        Where the records are; None is the file in the works folder.
    secure
        Whether the pages are reached by https.

    Raises
    ------
    RecordsUnusable
        The records cannot be made or opened.
    """
    records = init_records(records_url(folder, address))
    return Place(folder=folder, records=records, keeping=folder / "records", secure=secure)


def with_works(place: Place) -> None:
    """Take the works folder into the records where they hold no works yet; later it is imported by whoever wants so.

    Raises
    ------
    InputFaulty
        The folder has findings.
    """
    with place.records.reading() as session:
        known = session.scalars(select(WorksRow.id)).first()
    if known is None:
        works = read_works(place.folder)
        with place.records.writing("serve") as session:
            put_works(session, works)


def serve(place: Place, host: str, port: int) -> None:
    """Serve the pages until the process is told to end."""
    import uvicorn

    from kilnpack.web.app import make_app
    from kilnpack.workflow.drawn_ahead import DrawingProcess

    uvicorn.run(
        make_app(place, ahead=DrawingProcess),
        host=host,
        port=port,
        log_level="warning",
        server_header=False,
        timeout_graceful_shutdown=END_S,
    )
