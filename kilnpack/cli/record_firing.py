"""`kilnpack record firing FOLDER FIRING`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from kilnpack.cli.options import Folder
from kilnpack.cli.record_options import Address, At, By, FiringCode, desk_of

STATES = ("loading", "firing", "cooling", "unloaded", "given up")


def firing(
    folder: Folder,
    code: FiringCode,
    *,
    load: Annotated[Path | None, typer.Option(help="A saved load (JSON): makes the firing with it.")] = None,
    as_loaded: Annotated[bool, typer.Option("--as-loaded", help="The load is the one that was really set.")] = False,
    state: Annotated[str | None, typer.Option(help=f"How far it is: {', '.join(STATES)}.")] = None,
    at: At = None,
    records: Address = None,
    by: By = None,
) -> None:
    """Keep a firing that no plan holds, its load as it was set, or how far it is."""
    if load is None and state is None:
        raise typer.BadParameter("give --load, --state, or both")
    if state is not None and state not in STATES:
        raise typer.BadParameter(f"--state {state}; it is one of: {', '.join(STATES)}")
    from kilnpack.records.states import LoadKind, RecordedState
    from kilnpack.workflow.records import step_firing, take_load

    desk = desk_of(folder, records, by)
    if load is not None:
        kind = LoadKind.AS_LOADED if as_loaded else LoadKind.PLANNED
        take_load(desk, code, load, kind)
        print(f"Firing {code}: the load {kind.value} is kept.")
    if state is not None:
        step_firing(desk, code, RecordedState(state), at=at)
        print(f"Firing {code}: {state}.")
    if state == "unloaded":
        print("Opening a kiln is judged by its thermometer and by whoever is in charge of it, not by a record.")
