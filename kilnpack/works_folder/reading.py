"""One reading of a works folder: its tables, where each thing was said, and every finding so far."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from kilnpack.works_folder.rows import Row, Table

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

    from kilnpack.errors import Finding
    from kilnpack.model.settings import WorksSettings
    from kilnpack.works_folder.columns import Sheet
    from kilnpack.works_folder.toml_files import Coded


@dataclass(slots=True, kw_only=True)
class Reading:
    """What has been read so far.

    `origins` says in which row a code of a table was defined. `unread` are the tables that could not be read at all:
    what refers to them is not judged, so that one fault is not said a hundred times.
    """

    folder: Path
    settings: WorksSettings
    kilns: Coded
    programmes: Coded
    tables: dict[str, Table]
    unread: frozenset[str] = frozenset()
    findings: list[Finding] = field(default_factory=list)
    origins: dict[tuple[str, str], Row] = field(default_factory=dict)

    def add(self, findings: Iterable[Finding]) -> bool:
        """Note findings; tells whether there were any."""
        before = len(self.findings)
        self.findings += findings
        return len(self.findings) > before

    def sound_rows(self, name: str) -> Iterator[Row]:
        """Yield the rows of a table that have no finding."""
        faulty = {(finding.file, finding.row) for finding in self.findings}
        for row in self.tables[name].rows:
            if row.sound and (row.file, row.number) not in faulty:
                yield row

    def is_whole(self, *names: str) -> bool:
        """Tell whether tables were read without any finding, so that what they lack is really lacking."""
        faulty = {finding.file for finding in self.findings}
        return not any(name in self.unread or self.tables[name].file in faulty for name in names)

    def at(self, table: str, code: str, heading: str, found: object, wanted: str) -> Finding:
        """Return a finding at the row where a code of a table was defined."""
        return self.origins[table, code].fault(heading, found, wanted)


def empty_table(sheet: Sheet) -> Table:
    """Return a table that the folder does not have."""
    return Table(sheet=sheet, file=f"{sheet.name}.csv")


def misfilled(row: Row, used: Iterable[str], unused: Iterable[str], why: str) -> Iterator[Finding]:
    """Yield a finding for each needed cell that is empty, and for each filled cell that would not be read."""
    for heading in used:
        if row.get(heading) is None:
            yield row.fault(heading, "", f"a value {why}")
    for heading in unused:
        if heading in row.filled:
            yield row.fault(heading, row.get(heading), f"an empty cell {why}")
