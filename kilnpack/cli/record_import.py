"""`kilnpack record import FOLDER`."""

from __future__ import annotations

from typing import Annotated

import typer

from kilnpack.cli.options import Folder
from kilnpack.cli.record_options import Address, By, desk_of


def import_works(
    folder: Folder,
    *,
    folder_wins: Annotated[
        bool, typer.Option("--folder-wins", help="Also where the records were changed since the last time.")
    ] = False,
    records: Address = None,
    by: By = None,
) -> None:
    """Take the works folder into the records: catalogue, order lines, lots, furniture."""
    from kilnpack.workflow.records import take_works

    works = take_works(desk_of(folder, records, by), folder_wins=folder_wins)
    print(f"{works.name}: {len(works.lines)} order lines and {len(works.lots)} lots are in the records.")
