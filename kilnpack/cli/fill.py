"""`kilnpack fill FOLDER PLAN FIRING`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from kilnpack.cli.options import Effort, Folder, Seconds, Seed, budget_of


def fill(
    folder: Folder,
    plan: Annotated[Path, typer.Argument(help="A saved plan (JSON).")],
    firing: Annotated[str, typer.Argument(help="Code of the firing.")],
    *,
    out: Annotated[Path | None, typer.Option("--out", help="Folder for the fuller load and its sheet.")] = None,
    seconds: Seconds = None,
    effort: Effort = None,
    seed: Seed = 0,
) -> None:
    """Say which ware that is ready would fill a planned firing, packed and checked beside all that it holds."""
    budget = budget_of(seconds, effort, usual_s=10.0)
    from kilnpack.workflow.planners_questions import fill_firing

    found = fill_firing(folder, plan, firing, budget=budget, seed=seed, out_dir=out)
    print(f"{found.offered_pieces} more pieces are ready when {firing} is loaded.")
    for row in found.added:
        line = f" of line {row.order_line}" if row.order_line else ""
        later = f", planned for {row.from_firing}" if row.from_firing else ""
        print(f"  {row.pieces} of lot {row.lot} ({row.product}{line}{later})")
    if not found.added:
        print("None of them was placed beside all that the firing holds.")
        raise typer.Exit(3)
    print(f"Ware {found.ware_before_kg:.1f} to {found.ware_after_kg:.1f} kg; checked.")
    if found.cool_after_h > found.cool_before_h:
        print(f"It cools {found.cool_after_h - found.cool_before_h:.1f} h longer: plan again before it is loaded so.")
    if out is not None:
        print(out)
