"""`kilnpack record condemn FOLDER KIND CODE PIECES`."""

from __future__ import annotations

from typing import Annotated

import typer

from kilnpack.cli.options import Folder
from kilnpack.cli.record_options import Address, By, desk_of


def condemn(
    folder: Folder,
    kind: Annotated[str, typer.Argument(help="Table of the furniture: shelves, posts, stubs, stilts, setters ...")],
    code: Annotated[str, typer.Argument(help="Code of the type.")],
    pieces: Annotated[int, typer.Argument(min=1, help="How many.")],
    *,
    cause: Annotated[str, typer.Option(help="Why: cracked, bowed, glazed over ...")],
    shelf_lot: Annotated[int | None, typer.Option(min=1, help="Which lot of shelves, from 1.")] = None,
    records: Address = None,
    by: By = None,
) -> None:
    """Take furniture out of use: shelves count as condemned, all else leaves the count."""
    from kilnpack.workflow.records import take_out_of_use

    take_out_of_use(desk_of(folder, records, by), kind, code, pieces, cause=cause, shelf_lot=shelf_lot)
    print(f"{pieces} of {kind} {code} out of use: {cause}.")
