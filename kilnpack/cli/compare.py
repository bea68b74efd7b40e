"""`kilnpack compare PLAN PLAN`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def compare(
    before: Annotated[Path, typer.Argument(help="The plan before (JSON).")],
    after: Annotated[Path, typer.Argument(help="The plan after (JSON).")],
    *,
    out: Annotated[Path | None, typer.Option("--out", help="File to save the comparison to (JSON).")] = None,
) -> None:
    """Say what moved from one plan to another and why: firings, and order lines that are done sooner or later."""
    from kilnpack.planning.comparing import line_words, moved_words
    from kilnpack.workflow.planning import compare_files
    from kilnpack.works_folder import save_value

    found = compare_files(before, after)
    print(f"before: {found.goals_before.said}")
    print(f"after:  {found.goals_after.said}")
    for words in moved_words(found):
        print(words)
    for row in found.lines:
        print(line_words(row))
    if not found.lines:
        print("no line is done at another time")
    if out is not None:
        save_value(out, found)
        print(out)
