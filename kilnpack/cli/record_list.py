"""`kilnpack record list FOLDER`."""

from __future__ import annotations

from typing import Annotated

import typer

from kilnpack.cli.options import Folder
from kilnpack.cli.record_options import Address, desk_of


def list_firings(
    folder: Folder,
    *,
    every: Annotated[bool, typer.Option("--all", help="Also those inspected or given up.")] = False,
    records: Address = None,
) -> None:
    """Print the firings of the records, and how far each is."""
    from kilnpack.workflow.records import firings_kept

    found = firings_kept(desk_of(folder, records, None), every=every)
    for row in found:
        when = f"{row.begins:%Y-%m-%d %H:%M}" if row.begins else "-"
        locked = "  locked" if row.locked else ""
        print(f"{row.code:12} {row.kiln:8} {row.programme:8} {when:16}  {row.pieces:5} pieces  {row.state}{locked}")
    print(f"{len(found)} firing(s).")
