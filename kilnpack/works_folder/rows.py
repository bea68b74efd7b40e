"""From a grid to rows of values by heading, with every fault of heading and cell; then codes and references."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from itertools import zip_longest
from typing import TYPE_CHECKING, cast

from kilnpack.errors import Finding
from kilnpack.words import MOST_FINDINGS, listed, nearest, shown
from kilnpack.works_folder.cells import NONE_MARK, CellFault, is_empty, read_cell
from kilnpack.works_folder.columns import Kind
from kilnpack.works_folder.letters import looks_like, told_apart

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Mapping

    from kilnpack.works_folder.columns import Column, Sheet
    from kilnpack.works_folder.grids import Grid


MOST_LOOKS = 20_000
"""Comparisons of codes that the hints of one column may cost."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row: values by heading, defaults filled in. `filled` are the headings the owner wrote something under."""

    file: str
    number: int
    values: Mapping[str, object]
    filled: frozenset[str]
    sound: bool = True
    """False where a cell could not be read; such a row is not built from."""

    def get(self, heading: str) -> object:
        """Return the value under a heading, None where there is none."""
        return self.values.get(heading)

    def text(self, heading: str) -> str:
        """Return a text or code that is there."""
        return cast("str", self.values[heading])

    def optional_text(self, heading: str) -> str | None:
        """Return a text or code, or None."""
        return cast("str | None", self.values.get(heading))

    def number_at(self, heading: str) -> float:
        """Return a number that is there."""
        return cast("float", self.values[heading])

    def optional_number(self, heading: str) -> float | None:
        """Return a number, or None."""
        return cast("float | None", self.values.get(heading))

    def whole(self, heading: str) -> int:
        """Return a whole number that is there."""
        return cast("int", self.values[heading])

    def yes(self, heading: str) -> bool:
        """Return yes or no."""
        return bool(self.values.get(heading))

    def codes(self, heading: str) -> tuple[str, ...]:
        """Return a list; empty where there is none."""
        value = self.values.get(heading)
        return () if value in (None, NONE_MARK) else cast("tuple[str, ...]", value)

    def fault(self, heading: str, found: object, wanted: str) -> Finding:
        """Return a finding at a heading of this row."""
        return Finding(file=self.file, row=self.number, field=heading, found=shown(found), wanted=wanted)


@dataclass(slots=True)
class Table:
    """The rows of one table with the findings met while reading them."""

    sheet: Sheet
    file: str
    rows: list[Row] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    cut: bool = False
    """True where it has so many findings that it was not read to its end."""


def plain_heading(text: object) -> str:
    """Return a heading without the differences that do not matter: ``Foot R (mm)`` is ``foot_r_mm``."""
    return re.sub(r"[^\w]+", "_", str(text).strip().lower()).strip("_")


def read_table(grid: Grid, sheet: Sheet) -> Table:
    """Return the rows of a grid read by the columns of its sheet."""
    table = Table(sheet=sheet, file=grid.file)
    if not grid.rows:
        table.findings.append(_of_headings(table, None, "", "an empty table", "a row of headings"))
        return table
    number, headings = grid.rows[0]
    places = _places(table, number, headings)
    for number, cells in grid.rows[1:]:
        if len(table.findings) > MOST_FINDINGS:
            found = f"more than {MOST_FINDINGS} findings"
            table.findings.append(_of_headings(table, number, "", found, "these mended first; no further row was read"))
            table.cut = True
            break
        row = _row(table, number, cells, places)
        unnamed = [cell for cell, name in zip_longest(cells, headings) if is_empty(name) and not is_empty(cell)]
        if unnamed:
            found = listed(map(shown, unnamed))
            table.findings.append(_of_headings(table, number, "", found, "no cells without a heading over them"))
        table.rows.append(row)
    table.findings += _lost_zeros(table, grid, places)
    return table


def _of_headings(table: Table, row: int | None, heading: str, found: str, wanted: str) -> Finding:
    return Finding(file=table.file, row=row, field=heading, found=found, wanted=wanted)


def _places(table: Table, row: int, cells: tuple[object, ...]) -> dict[str, int]:
    """Return where each heading stands, and note unknown, doubled and missing ones."""
    known = {column.heading: column for column in table.sheet.columns}
    places: dict[str, int] = {}
    for place, cell in enumerate(cells):
        heading = plain_heading(cell)
        if heading in places:
            table.findings.append(_of_headings(table, row, heading, "the heading twice", "each heading once"))
        elif heading in known:
            places[heading] = place
        elif heading and not heading.startswith("note"):
            wanted = f"a known heading, or one that begins with note{nearest(heading, known)}"
            table.findings.append(_of_headings(table, row, heading, f"an unknown heading {shown(cell)}", wanted))
    for heading, column in known.items():
        if column.needed and heading not in places:
            table.findings.append(_of_headings(table, row, heading, "no such heading", f"a column of: {column.says}"))
    return places


def _row(table: Table, number: int, cells: tuple[object, ...], places: dict[str, int]) -> Row:
    values: dict[str, object] = {}
    faults: list[Finding] = []
    filled = set()
    for column in table.sheet.columns:
        place = places.get(column.heading)
        cell = cells[place] if place is not None and place < len(cells) else None
        if not is_empty(cell):
            filled.add(column.heading)
        try:
            value = _value(cell, column)
        except CellFault as fault:
            found = "" if is_empty(cell) else shown(cell)
            if place is not None:  # a missing column has been said once, at the headings
                faults.append(
                    Finding(file=table.file, row=number, field=column.heading, found=found, wanted=str(fault))
                )
            continue
        if value is not None:
            values[column.heading] = value
    table.findings += faults
    sound = not faults and all(column.heading in values for column in table.sheet.columns if column.needed)
    return Row(file=table.file, number=number, values=values, filled=frozenset(filled), sound=sound)


def _value(cell: object, column: Column) -> object:
    if not is_empty(cell):
        return read_cell(cell, column)
    if column.needed:
        raise CellFault(column.says)
    return column.default


def _lost_zeros(table: Table, grid: Grid, places: dict[str, int]) -> Iterator[Finding]:
    """Yield bare numbers in a column of codes that elsewhere begin with a nought: 007 that became 7."""
    for column in table.sheet.columns:
        place = places.get(column.heading)
        if column.kind is not Kind.CODE or place is None:
            continue
        cells = [(number, row[place]) for number, row in grid.rows[1:] if place < len(row)]
        if not any(isinstance(cell, str) and re.fullmatch(r"0\d+", cell.strip()) for _, cell in cells):
            continue
        for number, cell in cells:
            if isinstance(cell, float | int) and not isinstance(cell, bool) and float(cell).is_integer():
                wanted = "a code with its noughts in front; format the column as text and type it anew"
                yield _of_headings(table, number, column.heading, shown(float(cell)), wanted)


def doubled_codes(tables: Iterable[Table], key: str | None = None) -> Iterator[Finding]:
    """Yield every row whose code is already taken by an earlier row of the same tables."""
    seen: dict[str, tuple[str, Row]] = {}
    for table in tables:
        heading = key or table.sheet.key
        for row in table.rows:
            if heading is None or heading not in row.values:
                continue
            value = row.text(heading)
            same, other = seen.setdefault(looks_like(value), (value, row))
            if other is not row:
                there = f"row {other.number} of {other.file}"
                has = f"{there} has it too" if same == value else _alike(value, same, there)
                yield row.fault(heading, value, f"a code of its own; {has}")


def alike_codes(table: Table) -> Iterator[Finding]:
    """Yield codes that rows share, such as that of an order or a route, where they only look like an earlier one."""
    for column in table.sheet.columns:
        if column.kind is not Kind.CODE or column.refers is not None or column.heading == table.sheet.key:
            continue
        seen: dict[str, tuple[str, Row]] = {}
        for row in table.rows:
            if row.get(column.heading) in (None, NONE_MARK):
                continue
            value = row.text(column.heading)
            same, other = seen.setdefault(looks_like(value), (value, row))
            if same != value:
                there = f"row {other.number} of {other.file}"
                yield row.fault(column.heading, value, f"{same}, or another code; {_alike(value, same, there)}")


def _alike(value: str, same: str, there: str) -> str:
    return f"that of {there} looks the same, in other letters: {told_apart(value, same)}"


def dangling(table: Table, known: Mapping[str, Collection[str]]) -> Iterator[Finding]:
    """Yield every code of a table that refers to nothing; `known` gives the codes by what a column refers to."""
    for column in table.sheet.columns:
        codes = known.get(column.refers) if column.refers else None
        if codes is None:
            continue
        remedies = _Remedies(codes)
        for row in table.rows:
            for value in _codes_in(row, column):
                if value not in codes:
                    yield row.fault(column.heading, value, f"a code of {column.refers}{remedies.of(value)}")


def _codes_in(row: Row, column: Column) -> tuple[str, ...]:
    value = row.get(column.heading)
    if value is None or value == NONE_MARK:
        return ()
    return (value,) if isinstance(value, str) else cast("tuple[str, ...]", value)


class _Remedies:
    """What to say of codes that are not there; the nearest is looked for until `MOST_LOOKS` are used up."""

    def __init__(self, codes: Collection[str]) -> None:
        self._codes = codes
        self._without_noughts: dict[str, str] = {}
        for item in codes:
            self._without_noughts.setdefault(item.lstrip("0"), item)
        self._looks = {looks_like(item): item for item in codes}
        self._looked = 0

    def of(self, value: str) -> str:
        """Return what to say of one."""
        alike = self._without_noughts.get(value.lstrip("0"))
        if alike:
            return f" such as {alike}; the spreadsheet took the noughts: format the column as text and type it anew"
        if (look := self._looks.get(looks_like(value))) is not None:
            return f" such as {look}, which looks the same: type it anew in its letters; {told_apart(value, look)}"
        self._looked += len(self._codes)
        near = nearest(value, self._codes) if self._looked <= MOST_LOOKS else ""
        return near or f"; there are {listed(self._codes, most=6)}"
