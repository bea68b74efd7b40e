"""Options that several commands share, and progress on the error stream."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from kilnpack.errors import Finding
    from kilnpack.search.budget import Budget
    from kilnpack.search.listener import Progress

Folder = Annotated[Path, typer.Argument(help="The works folder.")]
Out = Annotated[Path, typer.Option("--out", help="Folder to write to; made where it is missing.")]
Seconds = Annotated[float | None, typer.Option(min=0.0, max=86_400.0, help="Wall time to search.")]
Effort = Annotated[
    int | None, typer.Option(min=0, help="Thousands of evaluations instead of seconds; repeats exactly.")
]
DOWN_WORDS = 3
"""A kiln and two moments."""
Cluster = Annotated[
    str | None,
    typer.Option(
        "--cluster",
        metavar="ADDRESS",
        envvar="KILNPACK_CLUSTER",
        help="Scheduler of a Dask cluster, such as tcp://10.0.0.5:8786, that works too.",
    ),
]
Workers = Annotated[
    int | None, typer.Option(min=1, max=512, help="Searches beside each other; all of a cluster where one is given.")
]
Seed = Annotated[int, typer.Option(min=0, help="Start of the random numbers.")]


def budget_of(seconds: float | None, effort: int | None, *, usual_s: float) -> Budget:
    """Return the budget asked for: effort where given, else seconds.

    Raises
    ------
    typer.BadParameter
        Both were given.
    """
    from kilnpack.search.budget import Budget

    if seconds is not None and effort is not None:
        raise typer.BadParameter("give --seconds or --effort, not both")
    if effort is not None:
        return Budget(effort=effort)
    return Budget(seconds=usual_s if seconds is None else seconds)


def with_downs_joined(words: list[str]) -> list[str]:
    """Return the words of a command line with the three behind each ``--down`` as one, as an option takes one."""
    found: list[str] = []
    left = list(words)
    while left:
        word = left.pop(0)
        found.append(word)
        if (
            word == "--down"
            and len(left) >= DOWN_WORDS
            and not any(part.startswith("--") for part in left[:DOWN_WORDS])
        ):
            found.append(" ".join(left[:DOWN_WORDS]))
            left = left[DOWN_WORDS:]
    return found


def print_findings(findings: tuple[Finding, ...]) -> None:
    """Print a line for every finding, and how many there are on the error stream."""
    for finding in findings:
        print(finding)
    print(f"{len(findings)} finding(s).", file=sys.stderr)


class Told:
    """Prints progress on one line of the error stream where that is a screen."""

    def __init__(self) -> None:
        self._last_s = -1.0

    def heard(self, progress: Progress) -> bool:
        """Show where the search stands, twice a second at most; the search goes on."""
        if sys.stderr.isatty() and progress.elapsed_s - self._last_s >= 0.5:
            self._last_s = progress.elapsed_s
            best = progress.said or f"{progress.value:,.1f}"
            line = f"{progress.share:4.0%}  {progress.step}  best {best}"
            print(f"\r{line[:140]:140}", end="", file=sys.stderr, flush=True)
        return True

    def done(self) -> None:
        """Clear the line."""
        if sys.stderr.isatty():
            print(f"\r{'':140}\r", end="", file=sys.stderr, flush=True)
