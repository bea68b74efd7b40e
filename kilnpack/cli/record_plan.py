"""`kilnpack record plan FOLDER PLAN.json`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from kilnpack.cli.options import Folder
from kilnpack.cli.record_options import Address, By, desk_of


def plan(
    folder: Folder,
    file: Annotated[Path, typer.Argument(metavar="PLAN", help="A saved plan (JSON).")],
    *,
    code: Annotated[str | None, typer.Option(help="Code of the plan; usual is P1, P2 and so on.")] = None,
    records: Address = None,
    by: By = None,
) -> None:
    """Keep a plan; its firings take the place of those planned earlier that nobody has begun or locked."""
    from kilnpack.workflow.records import take_plan

    kept, firings = take_plan(desk_of(folder, records, by), file, code)
    print(f"Plan {kept} with {len(firings)} firings:")
    for firing in firings:
        print(firing)
