"""`kilnpack record export FOLDER OUT`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from kilnpack.cli.options import Folder
from kilnpack.cli.record_options import Address, At, desk_of


def export(
    folder: Folder,
    out: Annotated[Path, typer.Argument(help="A folder that is new or empty.")],
    *,
    now: At = None,
    records: Address = None,
) -> None:
    """Write the works as the records have it into a new works folder, to plan from."""
    from kilnpack.workflow.records import give_works

    works = give_works(desk_of(folder, records, None), out, now=now)
    print(f"{out}: {len(works.lines)} order lines, {len(works.lots)} lots, as of {works.now:%Y-%m-%d %H:%M}")
