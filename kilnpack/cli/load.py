"""`kilnpack load FOLDER --kiln K --programme P --out DIR`."""

from __future__ import annotations

from typing import Annotated

import typer

from kilnpack.cli.options import Effort, Folder, Out, Seconds, Seed, Told, budget_of


def load(
    folder: Folder,
    kiln: Annotated[str, typer.Option(help="Code of the kiln.")],
    programme: Annotated[str, typer.Option(help="Code of the programme.")],
    out: Out,
    *,
    seconds: Seconds = None,
    effort: Effort = None,
    seed: Seed = 0,
    workers: Annotated[int, typer.Option(min=1, max=64, help="Processes to search with.")] = 1,
    reserve: Annotated[float, typer.Option(min=0.0, max=0.9, help="Share of the shelves kept for late pieces.")] = 0.0,
) -> None:
    """Pack what is ready into one load, check it, and write load.json and the loading sheet."""
    budget = budget_of(seconds, effort, usual_s=20.0)
    from kilnpack.workflow.loading import load_kiln

    told = Told()
    found = load_kiln(
        folder, kiln, programme, out, budget=budget, seed=seed, workers=workers, reserve_share=reserve, listener=told
    )
    told.done()
    placed, checked = found.load, found.checked
    print(
        f"{placed.pieces} of {found.ready_pieces} ready pieces stand in {kiln}: {placed.value_share:.0%} of the value."
    )
    print(f"{checked.tiers} tiers in {len(placed.settings)} different settings; the checker has no finding.")
    if checked.tightest_gap:
        print(f"Tightest gap {checked.tightest_gap.mm:.1f} mm, ", end="")
    if checked.tightest_headroom:
        print(f"tightest headroom {checked.tightest_headroom.mm:.1f} mm.")
    for remark in (*placed.remarks, *checked.remarks):
        print(f"Note: {remark}")
    for row in placed.left_out:
        change = f"; {row.change}" if row.change else ""
        print(f"Left out: {row.pieces} of lot {row.lot}: {row.reason} ({row.rule}){change}")
    for words in found.words:
        print(f"Note: {words}.")
    for path in (found.sheets.pdf, found.sheets.html, found.programme.pdf, found.programme.html, found.saved):
        print(path)
    if not placed.pieces:
        raise typer.Exit(3)
