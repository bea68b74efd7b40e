"""`kilnpack record deliver FOLDER LINE PIECES`."""

from __future__ import annotations

from typing import Annotated

import typer

from kilnpack.cli.options import Folder
from kilnpack.cli.record_options import Address, By, desk_of


def deliver(
    folder: Folder,
    line: Annotated[str, typer.Argument(help="Code of the order line.")],
    pieces: Annotated[int, typer.Argument(min=1, help="How many pieces, or sets, left the works.")],
    *,
    note: Annotated[str, typer.Option(help="Kept beside it, such as the number of the delivery note.")] = "",
    records: Address = None,
    by: By = None,
) -> None:
    """Note a delivery: it counts for the order line and is taken from finished ware."""
    from kilnpack.workflow.records import take_delivery

    delivered, ordered = take_delivery(desk_of(folder, records, by), line, pieces, note=note)
    print(f"Line {line}: {delivered} of {ordered} delivered.")
