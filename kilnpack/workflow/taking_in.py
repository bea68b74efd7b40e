"""The backlog sent over the pages: read beside the works as the records have it, shown cell by cell, then taken in.

Nothing is changed while there is a finding. What is taken in is written anew from what was read, so that no byte of a
file that was sent stands in the works folder.
"""

from __future__ import annotations

from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

from kilnpack.errors import Finding, InputFaulty
from kilnpack.records.store import open_records
from kilnpack.records.works_values import get_works, put_works, works_version
from kilnpack.works_folder import read_works, write_works
from kilnpack.works_folder.grids import TABLE_ENDINGS, Grid, grid_of
from kilnpack.works_folder.replacing import is_left, make_whole
from kilnpack.works_folder.rows import plain_heading
from kilnpack.works_folder.sent_tables import SENT, SentFile, SentTable, lay_down
from kilnpack.works_folder.table_files import older_kept, table_texts, tables_replaced

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from sqlalchemy import URL

    from kilnpack.model.works import Works
    from kilnpack.records.store import Records

ALWAYS = ("orders", "lots")
"""Written into the folder together, as each names codes of the other."""
OLDER = "older_tables"
"""Where, in the works folder, tables are kept that were written by other hands and are replaced."""
MOST_ROWS_SHOWN = 60
"""A table of more rows is shown without those that are right."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CellShown:
    """A cell, and what is wrong with it; `wanted` is empty where nothing is."""

    text: str
    wanted: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class RowShown:
    """A row by its number in the file; `wanted` says what is wrong with the row as a whole."""

    number: int
    cells: tuple[CellShown, ...]
    wanted: tuple[str, ...] = ()

    @property
    def faulty(self) -> bool:
        """Whether anything is wrong in it."""
        return bool(self.wanted) or any(cell.wanted for cell in self.cells)


@dataclass(frozen=True, slots=True, kw_only=True)
class TableShown:
    """A table with its findings at their cells; `left_out` rows that are right are not shown."""

    name: str
    headings: tuple[CellShown, ...]
    rows: tuple[RowShown, ...]
    left_out: int


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenIn:
    """What came of tables that were sent: findings and where they stand, or what changed."""

    findings: tuple[Finding, ...] = ()
    tables: tuple[TableShown, ...] = ()
    elsewhere: tuple[Finding, ...] = ()
    said: tuple[str, ...] = ()


def take_in(
    records: Records, folder: Path, by: str, files: Sequence[SentFile], *, files_win: bool = False
) -> TakenIn:  # fmt: skip
    """Read tables that were sent, and take them in where nothing is wrong with them.

    Parameters
    ----------
    folder
        The works folder; its tables are replaced once the records have taken the new ones.
    files_win
        Take the files' word also where a line or a lot was changed in the records since they were last taken in.

    Raises
    ------
    SheetNotWritten
        The works folder cannot be written; nothing was changed.
    """
    finish_taking_in(folder, records)
    with records.reading() as session:
        known = get_works(session)
    with TemporaryDirectory(prefix="kilnpack-sent-") as kept:
        aside = Path(kept)
        sent, faults = _laid(aside, files)
        if faults:
            return _with_findings(aside / "works", sent, faults)
        try:
            works = _read(aside / "works", known, sent)
        except InputFaulty as fault:
            return _with_findings(aside / "works", sent, fault.findings)
        tables = {one.table for one in sent}
        try:
            older = _keep(records, folder, by, works, tables, files_win=files_win)
        except InputFaulty as fault:
            return _with_findings(aside / "works", sent, fault.findings)
    words = (f"What other hands wrote into the works folder is kept: {', '.join(older)}",) if older else ()
    return TakenIn(said=(*_changes(known, works), *words))


def _laid(aside: Path, files: Sequence[SentFile]) -> tuple[tuple[SentTable, ...], tuple[Finding, ...]]:
    (aside / "sent").mkdir()
    return lay_down(files, aside / "sent")


def _read(folder: Path, known: Works, sent: Sequence[SentTable]) -> Works:
    """Return the works as it is with the tables that were sent in the place of its own."""
    write_works(known, folder)
    for one in sent:
        for ending in TABLE_ENDINGS:
            (folder / f"{one.table}{ending}").unlink(missing_ok=True)
        one.path.rename(folder / one.path.name)
    found = read_works(folder)
    # Measured values live in the records; a folder has no place for all of what they hold.
    return replace(found, measured=known.measured)


def _keep(
    records: Records, folder: Path, by: str, works: Works, tables: Iterable[str], *, files_win: bool
) -> tuple[str, ...]:  # fmt: skip
    """Take the works into the records and its tables into the folder: both or neither.

    Return where the tables are kept that stood there and said other than the records wrote last or would write.
    """
    names = {*ALWAYS, *tables}
    with records.reading() as session:
        before = table_texts(get_works(session), names)
    aside = f"{OLDER}/{records.clock():%Y-%m-%dT%H-%M-%S}"
    # The records are kept before the tables count: contexts end in the other order.
    with ExitStack() as replaced, records.writing(by) as session:
        about = {"records": records.address, "works_version": works_version(session)}
        put_works(session, works, folder_wins=files_win)
        older = older_kept(folder, before, aside)
        replaced.enter_context(tables_replaced(folder, table_texts(works, names), about))
    return older


def finish_taking_in(folder: Path, records: Records) -> None:
    """Let the folder say what the records say, where a process was killed while tables were taken in.

    Raises
    ------
    InputFaulty
        They were taken into other records.
    SheetNotWritten
        The folder cannot be written.
    """

    def counts(about: dict[str, Any]) -> bool:
        if about["records"] != records.address:
            wanted = f"the records at {about['records']}, into which its tables were being taken"
            raise InputFaulty(
                [Finding(file=str(folder), row=None, field="records", found=records.address, wanted=wanted)]
            )
        with records.reading() as session:
            return bool(works_version(session) != about["works_version"])

    make_whole(folder, counts)


def finish_before_reading(folder: Path, url: URL) -> None:
    """Do the same before the records are needed, where there is anything to finish.

    Raises
    ------
    InputFaulty
        Tables were being taken into other records.
    RecordsUnusable
        The records cannot be opened.
    SheetNotWritten
        The folder cannot be written.
    """
    if is_left(folder):
        records = open_records(url)
        try:
            finish_taking_in(folder, records)
        finally:
            records.close()


def _with_findings(folder: Path, sent: Sequence[SentTable], findings: Sequence[Finding]) -> TakenIn:
    """Return the findings at their cells: of the tables sent, and of those of the works that they do not agree with."""
    shown = {one.path.name: one.shown for one in sent}
    told = tuple(replace(one, file=shown.get(one.file, one.file)) for one in findings)
    grids = {one.shown: one.grid for one in sent}
    for file in dict.fromkeys(one.file for one in told):
        path = folder / file
        if file not in grids and file in {f"{name}.csv" for name in SENT} and path.is_file():
            grid = grid_of(path, path.stem)
            grids |= {file: grid} if isinstance(grid, Grid) else {}
    tables = tuple(
        _table(name, grid, [one for one in told if one.file == name])
        for name, grid in grids.items()
        if any(one.file == name and one.row is not None for one in told)
    )
    elsewhere = tuple(one for one in told if one.file not in grids or one.row is None)
    return TakenIn(findings=told, tables=tables, elsewhere=elsewhere)


def _table(name: str, grid: Grid, findings: Sequence[Finding]) -> TableShown:
    number, heads = grid.rows[0] if grid.rows else (1, ())
    fields = [plain_heading(cell) for cell in heads]
    rows = [_row(fields, at, cells, findings) for at, cells in grid.rows[1:]]
    wanted = [row for row in rows if row.faulty] if len(rows) > MOST_ROWS_SHOWN else rows
    return TableShown(
        name=name,
        headings=tuple(
            CellShown(text=_text(cell), wanted=_wanted(findings, number, field))
            for cell, field in zip(heads, fields, strict=True)
        ),
        rows=tuple(wanted),
        left_out=len(rows) - len(wanted),
    )


def _row(fields: Sequence[str], number: int, cells: Sequence[object], findings: Sequence[Finding]) -> RowShown:
    padded = [*cells, *([""] * (len(fields) - len(cells)))]
    here = [one for one in findings if one.row == number]
    return RowShown(
        number=number,
        cells=tuple(
            CellShown(
                text=_text(cell), wanted=_wanted(here, number, fields[at] if at < len(fields) else f"column {at + 1}")
            )
            for at, cell in enumerate(padded)
        ),
        wanted=tuple(f"{one.field}: {one.found}; wanted {one.wanted}" for one in here if one.field not in fields),
    )


def _wanted(findings: Iterable[Finding], row: int, field: str) -> tuple[str, ...]:
    return tuple(one.wanted for one in findings if one.row == row and one.field == field and field)


def _text(cell: object) -> str:
    if isinstance(cell, float) and cell.is_integer():
        return f"{cell:.0f}"
    return "" if cell is None else str(cell)


def _changes(before: Works, after: Works) -> tuple[str, ...]:
    """Return in words what the new tables changed."""
    pairs = (
        ("order line", {row.code: row for row in before.lines}, {row.code: row for row in after.lines}),
        ("lot", {row.code: row for row in before.lots}, {row.code: row for row in after.lots}),
    )
    said = []
    for what, old, new in pairs:
        added, gone = sorted(new.keys() - old.keys()), sorted(old.keys() - new.keys())
        changed = sorted(code for code in new.keys() & old.keys() if new[code] != old[code])
        for words, codes in (("new", added), ("changed", changed), ("gone", gone)):
            if codes:
                more = f" and {len(codes) - 8} more" if len(codes) > 8 else ""
                plural = "s" if len(codes) > 1 else ""
                said.append(f"{len(codes)} {what}{plural} {words}: {', '.join(codes[:8])}{more}")
    return tuple(said) or ("Nothing differs from what was there.",)
