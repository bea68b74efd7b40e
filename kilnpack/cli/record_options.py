"""Options that the commands of `kilnpack record` share."""

from __future__ import annotations

import getpass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from kilnpack.workflow.records import Desk

Address = Annotated[
    str | None,
    typer.Option(
        "--records",
        envvar="KILNPACK_RECORDS",
        help="Address of the records, such as postgresql://USER@HOST/NAME, or a file; usual is a file in the folder.",
    ),
]
By = Annotated[str | None, typer.Option("--by", help="Who writes; usual is the name you are signed in with.")]
At = Annotated[
    datetime | None,
    typer.Option(
        formats=["%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S", "%Y-%m-%d"],
        help="When it happened, in the works' own time, such as '2026-12-01 07:30'; usual is now.",
    ),
]
FiringCode = Annotated[str, typer.Argument(metavar="FIRING", help="Code of the firing, such as P1.F001.")]


def desk_of(folder: Path, address: str | None, by: str | None) -> Desk:
    """Return the desk that a command writes at."""
    from kilnpack.workflow.records import Desk

    return Desk(folder=folder, address=address, by=by or signed_in_name())


def signed_in_name() -> str:
    """Return the name of who runs the command; a machine may know none."""
    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):
        return "somebody"
