"""`kilnpack check FOLDER`."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer


def check(folder: Annotated[Path, typer.Argument(help="The works folder.")]) -> None:
    """Read a works folder: print every finding (exit 2), or what was read."""
    from kilnpack.errors import InputFaulty
    from kilnpack.workflow.cooling_words import cooling_of_folder
    from kilnpack.works_folder import read_works
    from kilnpack.works_folder.summary import summary

    try:
        works = read_works(folder)
    except InputFaulty as faulty:
        for finding in faulty.findings:
            print(finding)
        files = len({finding.file.partition(":")[0] for finding in faulty.findings})
        print(f"{len(faulty.findings)} finding(s) in {files} file(s); nothing was written.", file=sys.stderr)
        raise typer.Exit(faulty.exit_code) from faulty
    for what, how_much in summary(works):
        print(f"{what:12} {how_much}")
    for remark in cooling_of_folder(folder, works):
        print(f"Note: {remark}")
    print("No finding.")
