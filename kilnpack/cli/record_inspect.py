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
    records: Address = None,
    by: By = None,
) -> None:
    """Keep how the ware of a firing came out, and move its lots on."""
    from kilnpack.workflow.records import take_inspection

    grades = take_inspection(desk_of(folder, records, by), code, table, at=at)
    print(f"Firing {code}: " + ", ".join(f"{pieces} {grade.value}" for grade, pieces in grades.items()))
