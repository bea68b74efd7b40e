"""`kilnpack new FOLDER`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def new(
    folder: Annotated[Path, typer.Argument(help="A folder that is new or empty.")],
    example: Annotated[
        bool, typer.Option("--example/--headings-only", help="Fill in example rows, or write headings only.")
    ] = True,
) -> None:
    """Write a works folder to start from: a workbook with headings, units and drop-downs, and three TOML files."""
    from kilnpack.works_folder.template import new_works

    new_works(folder, example=example)
    print(f"{folder}: works.xlsx, works.toml, kilns.toml, programmes.toml")
    print(f"Change them to your works, then: kilnpack check {folder}")
