"""`kilnpack load FOLDER --kiln K --programme P --out DIR`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from kilnpack.cli.options import Cluster, Effort, Folder, Out, Seconds, Seed, Told, Workers, budget_of

if TYPE_CHECKING:
    from pathlib import Path

    from kilnpack.model.loads import Load
    from kilnpack.search.budget import Budget
    from kilnpack.workflow.loading import LoadedKiln

MOST_RESERVE = 0.9


def load(
    folder: Folder,
    kiln: Annotated[list[str], typer.Option(help="Code of the kiln; several share the furniture at the same time.")],
    programme: Annotated[str, typer.Option(help="Code of the programme.")],
    out: Out,
    *,
    seconds: Seconds = None,
    effort: Effort = None,
    seed: Seed = 0,
    workers: Workers = None,
    cluster: Cluster = None,
    reserve: Annotated[
        list[str] | None,
        typer.Option(
            help="Room kept for late pieces: a share of the shelves (0.1), or PRODUCT:PIECES; may be repeated."
        ),
    ] = None,
    settings: Annotated[
        int | None, typer.Option(min=1, max=999, help="Most different settings; else what the works says.")
    ] = None,
    every: Annotated[bool, typer.Option("--all", help="All that is ready, in as few loads as are found.")] = False,
    advise: Annotated[
        bool, typer.Option("--advise", help="Also pack again with one more shelf, more posts and so on: advise.json.")
    ] = False,
) -> None:
    """Pack what is ready into one load, check it, and write load.json and the loading sheet.

    With --all, or with several kilns that burn at the same time, everything ready goes into as few loads as are found.
    """
    budget = budget_of(seconds, effort, usual_s=20.0)
    share, late = reserve_of(reserve or [])
    if every or len(kiln) > 1:
        if reserve or advise:
            raise typer.BadParameter("--reserve and --advise look at one load of one kiln")
        _every(folder, kiln, programme, out, budget=budget, seed=seed, settings=settings)
        return
    from kilnpack.search.cluster import on_cluster
    from kilnpack.workflow.loading import load_kiln

    with on_cluster(cluster) as joined:
        at_a_time = workers or 1 + (joined.workers if joined else 0)
        if advise:
            _advise(folder, kiln[0], programme, out, effort=effort, seed=seed, workers=at_a_time, settings=settings)
        told = Told()
        found = load_kiln(
            folder,
            kiln[0],
            programme,
            out,
            budget=budget,
            seed=seed,
            workers=at_a_time,
            reserve_share=share,
            late=late,
            settings_most=settings,
            prove=True,
            listener=told,
        )
    told.done()
    print_load(found)


def _advise(
    folder: Path,
    kiln: str,
    programme: str,
    out: Path,
    *,
    effort: int | None,
    seed: int,
    workers: int,
    settings: int | None,
) -> None:
    """Pack again with each change of the works and print what it brings."""
    from kilnpack.cli.advise import print_advice
    from kilnpack.workflow.advising import USUAL_EFFORT, advise

    each = min(effort or USUAL_EFFORT, USUAL_EFFORT)
    print_advice(*advise(folder, kiln, programme, out, effort=each, seed=seed, workers=workers, settings_most=settings))


def _every(
    folder: Path, kilns: list[str], programme: str, out: Path, *, budget: Budget, seed: int, settings: int | None
) -> None:
    """Pack all that is ready into few loads and print a line for each."""
    from kilnpack.workflow.many_loads import load_kilns

    found = load_kilns(folder, kilns, programme, out, budget=budget, seed=seed, settings_most=settings)
    count = sum(len(turn) for turn in found.turns)
    print(f"{found.ready_pieces - found.left_pieces} of {found.ready_pieces} ready pieces in {count} loads.")
    for number, turn in enumerate(found.turns, start=1):
        for one in turn:
            print(f"Turn {number}, {one.load.kiln}: {one.load.pieces} pieces on {one.checked.tiers} tiers: {one.saved}")
    if len(kilns) > 1:
        print("Loads of one turn use the furniture at the same time; it was counted together.")
    if found.left_pieces:
        print(f"{found.left_pieces} pieces may stand in none of these kilns; the last load says why.")
    if not count:
        raise typer.Exit(3)


def reserve_of(texts: list[str]) -> tuple[float, dict[str, int]]:
    """Return the share of the shelves and the pieces of products that are asked for.

    Raises
    ------
    typer.BadParameter
        A text is neither.
    """
    share, late = 0.0, dict[str, int]()
    for text in texts:
        product, colon, pieces = text.rpartition(":")
        try:
            if colon:
                late[product] = late.get(product, 0) + int(pieces)
            else:
                share += float(text)
        except ValueError:
            raise typer.BadParameter(
                f"{text}: give a share such as 0.1, or PRODUCT:PIECES", param_hint="--reserve"
            ) from None
    if not 0.0 <= share <= MOST_RESERVE or any(pieces < 1 for pieces in late.values()):
        wanted = f"a share from 0 to {MOST_RESERVE:g}, or one piece of a product at least"
        raise typer.BadParameter(f"give {wanted}", param_hint="--reserve")
    return share, late


def distance_words(load: Load) -> str:
    """Return how far a load is from the proved bound, and from what its settings would give in fractions."""
    proved = "No bound is proved"
    if load.bound_share is not None:
        gap = max(0.0, 1.0 - load.value_share / load.bound_share) if load.bound_share else 0.0
        proved = f"Proved: no load places more than {load.bound_share:.1%} of the value; this one is within {gap:.1%}"
    if load.columns_share is None:
        return f"{proved}."
    gap = max(0.0, 1.0 - load.value_share / load.columns_share) if load.columns_share else 0.0
    return f"{proved}; the gap to the settings found, taken in fractions, is {gap:.1%}."


def print_load(found: LoadedKiln) -> None:
    """Print what stands, what is wished for, what is left out and where it was written."""
    placed, checked = found.load, found.checked
    print(
        f"{placed.pieces} of {found.ready_pieces} ready pieces stand in {placed.kiln}: "
        f"{placed.value_share:.0%} of the value."
    )
    print(distance_words(placed))
    print(f"{checked.tiers} tiers in {len(placed.settings)} different settings; the checker has no finding.")
    tight = {"gap": checked.tightest_gap, "headroom": checked.tightest_headroom}
    if told := [f"tightest {what} {at.mm:.1f} mm" for what, at in tight.items() if at]:
        print(f"{', '.join(told).capitalize()}.")
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
