"""`kilnpack programmes FOLDER --out DIR`."""

from __future__ import annotations

from typing import Annotated

import typer

from kilnpack.cli.options import Folder, Out


def programmes(
    folder: Folder,
    out: Out,
    *,
    lit: Annotated[float, typer.Option(min=0.0, max=24.0, help="Hour of the day at which the fire is lit.")] = 6.0,
) -> None:
    """Write a programme sheet for every kiln and programme: curve, ramp limits, gas, energy by tariff, cautions."""
    from kilnpack.workflow.programmes import write_programmes

    for paths in write_programmes(folder, out, lit_h=lit):
        print(paths.pdf)
        print(paths.html)
