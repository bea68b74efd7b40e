"""`kilnpack plan FOLDER --out DIR`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from kilnpack.cli.options import Cluster, Effort, Folder, Out, Seconds, Seed, Told, Workers, budget_of

INTERRUPTED = 130
"""Exit code of a shell's command that an interrupt ended; the plan was written all the same."""


def plan(
    folder: Folder,
    out: Out,
    *,
    before: Annotated[Path | None, typer.Option("--from", help="The plan before (JSON), to keep most of.")] = None,
    lock: Annotated[list[str] | None, typer.Option(help="A firing of it that keeps load, time and kiln.")] = None,
    down: Annotated[
        list[str] | None, typer.Option(metavar="KILN FROM TO", help="A kiln that holds nothing meanwhile.")
    ] = None,
    urgent: Annotated[list[str] | None, typer.Option(help="An order line to be done as soon as can be.")] = None,
    seconds: Seconds = None,
    effort: Effort = None,
    seed: Seed = 0,
    workers: Workers = None,
    cluster: Cluster = None,
) -> None:
    """Plan the firings over the backlog, each with a checked load, and write plan, sheets, tables and calendar.

    With --workers or --cluster several plans are made beside each other, and the best of them is kept.
    """
    budget = budget_of(seconds, effort, usual_s=120.0)
    from kilnpack.search.cluster import on_cluster
    from kilnpack.workflow.asking import Wishes
    from kilnpack.workflow.planning import plan_works

    told = Told()
    wishes = Wishes(before=before, lock=tuple(lock or ()), down=tuple(down or ()), urgent=tuple(urgent or ()))
    with on_cluster(cluster) as joined:
        beside = workers or 1 + (joined.workers if joined else 0)
        found = plan_works(folder, out, budget=budget, seed=seed, listener=told, wishes=wishes, plans=beside)
    told.done()
    made = found.plan
    late = [row for row in made.outcomes if row.late_days > 0 or row.finish is None]
    print(f"{len(made.firings)} firings for {len(made.outcomes)} order lines; {len(late)} late or open.")
    print(f"Goals: {made.goals.said}.")
    for row in late:
        when = f"{row.late_days} days late" if row.finish else f"{row.open_pieces} open"
        print(f"  {row.line} due {row.due}: {when}: {row.reason.value} {row.detail}".rstrip())
        if row.remedy:
            print(f"    would save it: {row.remedy}")
    for remark in made.remarks:
        print(f"Note: {remark}")
    print(found.saved)
    print(found.written.plan.page)
    if not made.firings:
        raise typer.Exit(3)
    if made.cut_short:
        print("Planning was interrupted; this is the best plan found by then.")
        raise typer.Exit(INTERRUPTED)
