"""`kilnpack reload FOLDER LOAD.json --broken ID --from-tier 3 --out DIR`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from kilnpack.cli.load import print_load
from kilnpack.cli.options import Effort, Folder, Out, Seconds, Seed, Told, budget_of


def reload(
    folder: Folder,
    load: Annotated[Path, typer.Argument(help="The saved load that is being set (load.json).")],
    out: Out,
    broken: Annotated[list[str], typer.Option(help="Lot or furniture that is missing; CODE:3 for three of it.")],
    from_tier: Annotated[
        str, typer.Option(help="First tier not yet set: 3 in every stack, or a name such as B3 and all after it.")
    ],
    *,
    seconds: Seconds = None,
    effort: Effort = None,
    seed: Seed = 0,
) -> None:
    """Pack the tiers not yet set anew without what is broken; the tiers below stay as they are."""
    budget = budget_of(seconds, effort, usual_s=15.0)
    from kilnpack.workflow.reloading import reload_kiln

    told = Told()
    found = reload_kiln(folder, load, out, broken=broken, from_tier=from_tier, budget=budget, seed=seed, listener=told)
    told.done()
    print_load(found)
