"""Put offset maps into the table of offsets of a works folder; the one table that a command writes."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from kilnpack.errors import Finding, InputFaulty
from kilnpack.model.kilns import OffsetMap
from kilnpack.whole_files import put_whole
from kilnpack.works_folder.describe import SHEETS
from kilnpack.works_folder.grids import find_grids
from kilnpack.works_folder.headings_backlog import OFFSETS
from kilnpack.works_folder.writer import csv_text
from kilnpack.works_folder.writer_rows import table_rows

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from kilnpack.model.kilns import Kiln, OffsetReading
    from kilnpack.model.pieces import Stage
    from kilnpack.model.works import Works


def write_offsets(folder: Path, works: Works, maps: Mapping[tuple[str, Stage], tuple[OffsetReading, ...]]) -> Path:
    """Write `offsets.csv` with some maps in the place of those that were there; the others stay.

    Parameters
    ----------
    works
        As read from the folder.
    maps
        New readings by kiln and stage.

    Raises
    ------
    InputFaulty
        The table stands in a workbook, which people keep.
    SheetNotWritten
        The file cannot be written.
    """
    path = folder / "offsets.csv"
    there = find_grids(folder, tuple(sheet.name for sheet in SHEETS))[0].get("offsets")
    if there is not None and there.file != path.name:
        wanted = (
            "a table offsets.csv; a workbook is not written into: type the proposed rows by hand, or move the table"
        )
        raise InputFaulty([Finding(file=there.file, row=None, field="", found="offsets in a workbook", wanted=wanted)])
    kilns = tuple(_with_maps(kiln, maps) for kiln in works.kilns)
    rows = table_rows(replace(works, kilns=kilns))["offsets"]
    put_whole(path, csv_text(OFFSETS, rows).encode("utf-8-sig"))
    return path


def _with_maps(kiln: Kiln, maps: Mapping[tuple[str, Stage], tuple[OffsetReading, ...]]) -> Kiln:
    mine = {stage: readings for (code, stage), readings in maps.items() if code == kiln.code}
    kept = tuple(replace(one, readings=mine[one.stage]) if one.stage in mine else one for one in kiln.offsets)
    named = {one.stage for one in kept}
    return replace(
        kiln,
        offsets=kept
        + tuple(OffsetMap(stage=stage, readings=rows) for stage, rows in mine.items() if stage not in named),
    )
