"""`kilnpack backlog FOLDER`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from kilnpack.cli.options import Folder


def backlog(
    folder: Folder,
    *,
    out: Annotated[Path | None, typer.Option("--out", help="File to save the table to (JSON).")] = None,
) -> None:
    """Show the backlog in shelves full, by programme and by the posts that the height of the ware asks for."""
    from kilnpack.workflow.planners_questions import backlog_of_folder
    from kilnpack.works_folder import save_value

    found = backlog_of_folder(folder)
    print(f"{'programme':12}{'shelf':10}{'posts':10}{'room mm':>8}{'pieces':>8}{'ready':>8}{'shelves':>9}{'ready':>8}")
    for row in found.classes:
        room = f"{row.room_mm:.0f}" if row.room_mm is not None else "more"
        print(
            f"{row.programme:12}{row.shelf:10}{row.posts or '-':10}{room:>8}{row.pieces:>8}{row.ready_pieces:>8}"
            f"{row.all_shelves:>9.1f}{row.ready_shelves:>8.1f}"
        )
    if out is not None:
        save_value(out, found)
        print(out)
