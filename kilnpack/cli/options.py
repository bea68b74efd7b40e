"""Options that several commands share, and progress on the error stream."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from rich.live import Live

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


TOLD_EVERY_S = 0.5
"""A screen is written to twice a second at most."""
STOP_NOTE = "Ctrl-C ends with the best so far."


class Told:
    """Shows progress on the error stream: live on a screen, elsewhere a plain line whenever the best so far changes."""

    def __init__(self) -> None:
        self._last_s = -1.0
        self._said = ""
        self._live: Live | None = None

    def heard(self, progress: Progress) -> bool:
        """Show where the search stands and the goals of the best so far; the search goes on."""
        best = progress.said or f"{progress.value:,.1f}"
        if sys.stderr.isatty():
            if progress.elapsed_s - self._last_s >= TOLD_EVERY_S:
                self._last_s = progress.elapsed_s
                self._show(progress, best)
        elif progress.said and progress.said != self._said:
            self._said = progress.said
            print(f"{progress.elapsed_s:6.0f} s  {progress.step}; best so far: {best}", file=sys.stderr, flush=True)
        return True

    def done(self) -> None:
        """Wipe what is shown on a screen."""
        if self._live is not None:
            from rich.text import Text

            self._live.update(Text())
            self._live.stop()
            self._live = None

    def _show(self, progress: Progress, best: str) -> None:
        """Write the screen anew: how far, what is being done, the best so far, how to end it."""
        from rich.console import Console, Group
        from rich.live import Live
        from rich.progress_bar import ProgressBar
        from rich.text import Text

        if self._live is None:
            self._live = Live(console=Console(stderr=True), auto_refresh=False, transient=True)
            self._live.start()
        rows = (
            Text(
                f"{progress.share:4.0%}  {progress.elapsed_s:.0f} s  {progress.step}", overflow="ellipsis", no_wrap=True
            ),
            ProgressBar(total=1.0, completed=progress.share, width=60),
            Text(f"best so far: {best}"),
            Text(STOP_NOTE, style="dim"),
        )
        self._live.update(Group(*rows), refresh=True)
