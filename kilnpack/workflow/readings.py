"""Readings of meter, cones and thermometer as they are typed at a page, kept where every cell is in order."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kilnpack.errors import Finding, InputFaulty
from kilnpack.records.firings import firing_row
from kilnpack.records.store import expect
from kilnpack.workflow.records import Metered, keep_measured
from kilnpack.works_folder.headings_records import CONES, COOLING, METER
from kilnpack.works_folder.record_tables import read_typed

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from kilnpack.records.store import Records
    from kilnpack.works_folder.columns import Sheet
    from kilnpack.works_folder.rows import Row

TYPED_TABLES = {"meter": METER, "cones": CONES, "cooling": COOLING}
"""Tables of a page of readings, by the name that stands before their fields."""


def keep_typed(
    records: Records, by: str, code: str, version: int, typed: Mapping[str, Sequence[Mapping[str, str]]]
) -> None:
    """Keep what was typed of a firing; a table without a word leaves what was kept before.

    Parameters
    ----------
    version
        Of the firing, as its editor saw it.
    typed
        Rows by heading, for each of `TYPED_TABLES`.

    Raises
    ------
    InputFaulty
        With the finding of every cell, or what does not go together; nothing is kept then.
    ChangedMeanwhile
        Another changed the firing since it was looked at.
    """
    read: dict[str, tuple[Row, ...]] = {}
    faults: list[Finding] = []
    for name, sheet in TYPED_TABLES.items():
        try:
            read[name] = read_typed(sheet, typed.get(name, ()), name)
        except InputFaulty as faulty:
            faults += faulty.findings
    if not faults and not any(read.values()):
        faults = [Finding(file="form", row=None, field="", found="no reading", wanted="a row of one table at least")]
    if faults:
        raise InputFaulty(faults)
    meter = _metered(read["meter"][0]) if read["meter"] else None
    with records.writing(by) as session:
        expect(session, firing_row(session, code), version)
        keep_measured(session, code, meter, read["cones"], read["cooling"])


def _metered(row: Row) -> Metered:
    return Metered(
        metered_kwh=row.optional_number("metered_kwh"),
        metered_m3=row.optional_number("metered_m3"),
        gross_kwh_per_m3=row.optional_number("gross_kwh_per_m3"),
        before=row.optional_text("before"),
        stood_h=row.optional_number("stood_h"),
    )


def headings_of(sheet: Sheet) -> tuple[tuple[str, str, bool, tuple[str, ...]], ...]:
    """Return heading, what it says, whether it is needed, and what may be chosen, of every column of a table."""
    return tuple((one.heading, one.says, one.needed, tuple(one.choices)) for one in sheet.columns)
