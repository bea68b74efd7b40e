"""Faults and outcomes.

The error tree, with the exit code the command line gives each::

    KilnpackError                  every error this package raises itself
    |-- InputFaulty      exit 2    a works folder or a saved value has findings; its owner mends the files
    |-- SheetNotWritten  exit 2    a file could not be written; its owner mends the place
    |-- RecordsUnusable  exit 2    the records cannot be opened, read or written; the place or the address is mended
    |-- ChangedMeanwhile exit 2    another changed the same thing in the records; look again, then decide
    |-- ClusterUnusable  exit 2    other machines cannot be worked with; their keeper mends them, or it goes without
    `-- SolverFault      exit 1    a solver gave back something that cannot be; ours to mend

A search that ends without a plan is no error: it says how it `Ended` (the command line then gives exit 3). A plan that
an interrupt cut short is written whole (exit 130). A fault of the disk that reaches the command line ends with exit 2.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, ClassVar

from kilnpack.words import printable

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path


class Ended(StrEnum):
    """How a search ended. Outcomes are values, not exceptions."""

    PROVEN_BEST = "proven best"
    TIME_UP = "time up"
    PROVEN_IMPOSSIBLE = "proven impossible"
    NOTHING_FOUND = "nothing found"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One fault of the input, said so that the owner of the file can mend it.

    Parameters
    ----------
    file
        Name of the file as the owner knows it, relative to the works folder.
    row
        Row as a spreadsheet counts (the heading is row 1), or None when the whole file is meant.
    field
        Column heading, key, or the name of the rule; empty when the whole row is meant.
    found
        What stands there.
    wanted
        What would be right, with the remedy where one is known.
    """

    file: str
    row: int | None
    field: str
    found: str
    wanted: str

    def __post_init__(self) -> None:
        """Mark the signs that no screen or sheet can print, such as those of a file name in another encoding."""
        for name in ("file", "field", "found", "wanted"):
            object.__setattr__(self, name, printable(getattr(self, name)))

    def __str__(self) -> str:
        """Return the finding as one line: place, then what was found, then what is wanted."""
        row = "" if self.row is None else f"row {self.row}"
        place = ", ".join(part for part in (self.file, row, self.field) if part)
        return " ".join(f"{place}: found {self.found or 'nothing'}, wanted {self.wanted}".split())


class KilnpackError(Exception):
    """Root of every error this package raises itself."""

    exit_code: ClassVar[int] = 1


class InputFaulty(KilnpackError):
    """A works folder or a saved value cannot be used as it is.

    Parameters
    ----------
    findings
        Every fault seen, not only the first; at least one.
    """

    exit_code: ClassVar[int] = 2

    def __init__(self, findings: Iterable[Finding]) -> None:
        self.findings = tuple(findings)
        super().__init__("\n".join(str(finding) for finding in self.findings))

    def __reduce__(self) -> tuple[type[InputFaulty], tuple[tuple[Finding, ...]]]:
        """Travel between processes with the findings, not with their text."""
        return (type(self), (self.findings,))


class SheetNotWritten(KilnpackError):
    """A sheet, table or saved value could not be written.

    Parameters
    ----------
    path
        The file meant.
    reason
        Why it could not be written, in words.
    """

    exit_code: ClassVar[int] = 2

    def __init__(self, path: Path, reason: str) -> None:
        self.path = path
        self.reason = reason
        super().__init__(f"{path} cannot be written: {reason}")

    def __reduce__(self) -> tuple[type[SheetNotWritten], tuple[Path, str]]:
        """Travel between processes with both parts."""
        return (type(self), (self.path, self.reason))


class RecordsUnusable(KilnpackError):
    """The records cannot be opened, read or written.

    Parameters
    ----------
    address
        Where they were looked for, without a password.
    reason
        Why they cannot be used, in words, with the remedy where one is known.
    """

    exit_code: ClassVar[int] = 2

    def __init__(self, address: str, reason: str) -> None:
        self.address = address
        self.reason = reason
        super().__init__(f"the records at {address} cannot be used: {reason}")

    def __reduce__(self) -> tuple[type[RecordsUnusable], tuple[str, str]]:
        """Travel between processes with both parts."""
        return (type(self), (self.address, self.reason))


class ChangedMeanwhile(KilnpackError):
    """Another editor changed the same thing in the records; nothing was overwritten.

    Parameters
    ----------
    what
        The thing meant, such as ``lot L-17``.
    by
        Who changed it; empty where the records do not say.
    at
        When, in words; empty where the records do not say.
    how
        What was changed, such as ``pieces 40 -> 38``; empty where the records do not say.
    """

    exit_code: ClassVar[int] = 2

    def __init__(self, what: str, by: str, at: str, how: str) -> None:
        self.what, self.by, self.at, self.how = what, by, at, how
        said = f"{what} was changed meanwhile by {by or 'another'}"
        said += f" at {at}" if at else ""
        said += f" ({how})" if how else ""
        super().__init__(f"{said}; nothing was overwritten: look at it again, then decide")

    def __reduce__(self) -> tuple[type[ChangedMeanwhile], tuple[str, str, str, str]]:
        """Travel between processes with all parts."""
        return (type(self), (self.what, self.by, self.at, self.how))


class ClusterUnusable(KilnpackError):
    """The cluster of other machines cannot be joined, or was lost.

    Parameters
    ----------
    address
        Of its scheduler.
    reason
        Why, in words, with the remedy where one is known.
    """

    exit_code: ClassVar[int] = 2

    def __init__(self, address: str, reason: str) -> None:
        self.address = address
        self.reason = reason
        super().__init__(f"the cluster at {address} cannot be used: {reason}")

    def __reduce__(self) -> tuple[type[ClusterUnusable], tuple[str, str]]:
        """Travel between processes with both parts."""
        return (type(self), (self.address, self.reason))


class SolverFault(KilnpackError):
    """A solver gave back something that cannot be; a fault of this package, never of the input."""

    exit_code: ClassVar[int] = 1
