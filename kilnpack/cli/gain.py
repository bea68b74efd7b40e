"""`kilnpack gain FOLDER`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from kilnpack.cli.options import Effort, Folder, Seconds, Seed, Told, budget_of


def gain(
    folder: Folder,
    *,
    more: Annotated[
        list[str] | None, typer.Option(help="What to try, such as 'kiln K', 'car K', 'shift', 'posts P'; else all.")
    ] = None,
    box: Annotated[int, typer.Option(min=1, max=100_000, help="Posts in a box.")] = 24,
    out: Annotated[Path | None, typer.Option("--out", help="File to save the answer to (JSON).")] = None,
    seconds: Seconds = None,
    effort: Effort = None,
    seed: Seed = 0,
) -> None:
    """Say what one more kiln, car, shift or box of posts would bring; each is planned with the time given."""
    budget = budget_of(seconds, effort, usual_s=60.0)
    from kilnpack.workflow.planners_questions import gains_of
    from kilnpack.works_folder import save_value

    told = Told()
    found = gains_of(folder, more or [], budget=budget, seed=seed, box_posts=box, listener=told)
    told.done()
    print(f"{'one more':16}{'open':>6}{'late days':>11}{'firings':>9}{'mean finish h':>15}{'kWh':>10}")
    for row in (found.now, *found.rows):
        goals = row.goals
        print(
            f"{row.what:16}{goals.open_lines:>6}{goals.weighted_late_days:>11.1f}{goals.firings:>9}"
            f"{goals.mean_finish_h:>15.0f}{row.energy_kwh:>10,.0f}"
        )
    for remark in found.remarks:
        print(f"Note: {remark}")
    if out is not None:
        save_value(out, found)
        print(out)
