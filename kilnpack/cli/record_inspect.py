"""`kilnpack record inspect FOLDER FIRING TABLE`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from kilnpack.cli.options import Folder
from kilnpack.cli.record_options import Address, At, By, FiringCode, desk_of


def inspect(
    folder: Folder,
    code: FiringCode,
    table: Annotated[
        Path, typer.Argument(help="CSV or XLSX: lot, grade (first, second, refire, scrap), pieces, cause, place.")
    ],
    *,
    at: At = None,
    correct: Annotated[
        bool,
        typer.Option("--correct", help="It was inspected already: this table counts instead, the old one is kept."),
    ] = False,
    records: Address = None,
    by: By = None,
) -> None:
    """Keep how the ware of a firing came out, and move its lots on."""
    from kilnpack.workflow.records import take_inspection

    grades = take_inspection(desk_of(folder, records, by), code, table, at=at, corrects=correct)
    print(
        f"Firing {code}{', corrected' if correct else ''}: "
        + ", ".join(f"{pieces} {grade.value}" for grade, pieces in grades.items())
    )
