"""`kilnpack plan FOLDER --out DIR`."""

from __future__ import annotations

import typer

from kilnpack.cli.options import Effort, Folder, Out, Seconds, Seed, Told, budget_of


def plan(folder: Folder, out: Out, *, seconds: Seconds = None, effort: Effort = None, seed: Seed = 0) -> None:
    """Plan the firings over the backlog, each with a checked load, and write plan, sheets, tables and calendar."""
    budget = budget_of(seconds, effort, usual_s=120.0)
    from kilnpack.workflow.planning import plan_works

    told = Told()
    found = plan_works(folder, out, budget=budget, seed=seed, listener=told)
    told.done()
    made = found.plan
    late = [row for row in made.outcomes if row.late_days > 0 or row.finish is None]
    print(f"{len(made.firings)} firings for {len(made.outcomes)} order lines; {len(late)} late or open.")
    for row in late:
        when = f"{row.late_days} days late" if row.finish else f"{row.open_pieces} open"
        print(f"  {row.line} due {row.due}: {when}: {row.reason.value} {row.detail}".rstrip())
    for remark in made.remarks:
        print(f"Note: {remark}")
    print(found.saved)
    print(found.written.plan.page)
    if not made.firings:
        raise typer.Exit(3)
