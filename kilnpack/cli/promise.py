"""`kilnpack promise FOLDER --product P --quantity N`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from kilnpack.cli.options import Effort, Folder, Seconds, Seed, Told, budget_of


def promise(
    folder: Folder,
    product: Annotated[str, typer.Option(help="Code of the product or set.")],
    quantity: Annotated[int, typer.Option(min=1, help="Pieces, or sets.")],
    *,
    plan: Annotated[
        Path | None, typer.Option("--plan", help="A saved plan (JSON) of which nothing is to move.")
    ] = None,
    sure: Annotated[float, typer.Option(min=0.5, max=0.99, help="Share of futures in which it is to hold.")] = 0.9,
    out: Annotated[Path | None, typer.Option("--out", help="File to save the answer to (JSON).")] = None,
    seconds: Seconds = None,
    effort: Effort = None,
    seed: Seed = 0,
) -> None:
    """Say when so many pieces can be there: at the earliest, and a date that holds in most simulated futures."""
    budget = budget_of(seconds, effort, usual_s=60.0)
    from kilnpack.workflow.promising import promise_date
    from kilnpack.works_folder import save_value

    told = Told()
    found = promise_date(
        folder, product, quantity, plan_file=plan, budget=budget, seed=seed, sure_share=sure, listener=told
    )
    told.done()
    if out is not None:
        save_value(out, found)
    if found.earliest is None:
        print(f"{quantity} of {product}: no plan has them; see kilnpack plan for the reason.")
        raise typer.Exit(3)
    print(f"{quantity} of {product}: {found.earliest:%Y-%m-%d %H:%M} with losses as expected.")
    if found.sure is not None:
        print(
            f"{found.sure:%Y-%m-%d %H:%M} holds in {found.met_share:.0%} of {found.futures} simulated futures; "
            "a forecast, not a guarantee."
        )
    if found.soonest is not None:
        print(f"No plan has them before {found.soonest:%Y-%m-%d %H:%M}.")
    print(f"Start {found.start_pieces} pieces ({found.usual_pieces} with losses as expected).")
    if found.firings:
        print(f"Fired in {', '.join(found.firings)}.")
    for remark in found.remarks:
        print(f"Note: {remark}")
