"""What a break of the small works is: edits of its files, with exactly the findings they must give.

An edit replaces a text of a file that stands there once; a finding is (file, row, field, part of what is wanted).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from tests.works_folder.small import measured_files, small_files, write_files

if TYPE_CHECKING:
    from pathlib import Path

Expected = tuple[str, int | None, str, str]


@dataclass(frozen=True, kw_only=True)
class Break:
    """Edits of the small works and the findings they cause."""

    name: str
    edits: tuple[tuple[str, str, str], ...]
    expected: tuple[Expected, ...]


def one(name: str, file: str, old: str, new: str, *expected: Expected) -> Break:
    """Return a break of one edit."""
    return Break(name=name, edits=((file, old, new),), expected=expected)


def broken_files(case: Break) -> dict[str, str]:
    """Return the texts of the small works with the edits of a break made."""
    measured = measured_files()
    files = small_files() | (measured if any(file in measured for file, _, _ in case.edits) else {})
    for file, old, new in case.edits:
        text = files.get(file, "")
        assert text.count(old) == 1 or not old, f"{file} holds {old!r} {text.count(old)} times"
        files[file] = text.replace(old, new, 1) if old else new
    return files


def row_of(file: str, text: str) -> int:
    """Return the row of a file of the small works that begins with a text."""
    lines = small_files()[file].splitlines()
    return next(number for number, line in enumerate(lines, start=1) if line.startswith(text))


def write_broken(folder: Path, case: Break) -> Path:
    """Write the broken works into a folder and return it."""
    return write_files(folder, broken_files(case))
