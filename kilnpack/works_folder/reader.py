"""Read a works folder: files to rows, rows to a works, and every finding at once.

The order of the steps is the order in which faults are told: files, cells, codes and references, then what can only be
seen when the pieces are put together. What rests on something faulty is left out, so that a fault is said once.
"""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from kilnpack.errors import Finding, InputFaulty
from kilnpack.model.orders import Supply, WorkCalendar
from kilnpack.model.settings import WorksSettings
from kilnpack.model.works import Works
from kilnpack.works_folder.build_backlog import build_holidays, build_lines, build_lots, build_moulds, with_offsets
from kilnpack.works_folder.build_furniture import build_furniture
from kilnpack.works_folder.build_measured import build_measured
from kilnpack.works_folder.build_products import (
    Catalogue,
    build_decorations,
    build_glazes,
    build_products,
    build_sets,
)
from kilnpack.works_folder.build_shapes import build_shapes, doubled_ways
from kilnpack.works_folder.checks import cross_findings
from kilnpack.works_folder.describe import SHEETS
from kilnpack.works_folder.grids import find_grids, missing_tables
from kilnpack.works_folder.letters import looks_like, told_apart
from kilnpack.works_folder.reading import Reading, empty_table
from kilnpack.works_folder.replacing import wait_until_replaced
from kilnpack.works_folder.rows import Table, alike_codes, dangling, doubled_codes, read_table
from kilnpack.works_folder.toml_files import WorksFile, read_kilns, read_programmes, read_works_file

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping
    from pathlib import Path

    from kilnpack.model.kilns import Kiln
    from kilnpack.model.programmes import Programme

NEEDED = ("shapes", "products", "routes", "shelves", "posts")
"""Tables without which there is no works."""
SUPPORTS = ("stilts", "setters", "catch_discs")
_KEYS = {"routes": "route", "sets": "set"}
_NO_DAY = datetime(1990, 1, 1)


def read_works(folder: Path) -> Works:
    """Return the works that a folder describes.

    Raises
    ------
    InputFaulty
        With all findings of all files.
    SheetNotWritten
        Another process has been replacing files of it for too long.
    """
    if not folder.is_dir():
        wanted = "a folder with works.toml in it"
        raise InputFaulty([Finding(file=str(folder), row=None, field="", found="no such folder", wanted=wanted)])
    wait_until_replaced(folder)
    works_file, findings = read_works_file(folder)
    reading = _tables(folder, works_file)
    reading.findings[:0] = findings
    reading.add(_references(reading))
    works = _works(reading, works_file)
    reading.add(cross_findings(reading, works))
    if reading.findings:
        raise InputFaulty(dict.fromkeys(reading.findings))
    return works


def _tables(folder: Path, works_file: WorksFile | None) -> Reading:
    """Read every file of the folder into rows and TOML entries."""
    settings = works_file.all_settings if works_file else WorksSettings()
    kilns, kiln_findings = read_kilns(folder, settings)
    programmes, programme_findings = read_programmes(folder)
    grids, findings = find_grids(folder, tuple(sheet.name for sheet in SHEETS))
    tables = {sheet.name: read_table(grids[sheet.name], sheet) for sheet in SHEETS if sheet.name in grids}
    spoilt = {finding.file for finding in findings}
    lacking = [*missing_tables(grids, tuple(name for name in NEEDED if not _is_spoilt(name, spoilt)))]
    unread = frozenset(
        sheet.name
        for sheet in SHEETS
        if (sheet.name not in grids and (sheet.name in NEEDED or _is_spoilt(sheet.name, spoilt)))
        or (sheet.name in tables and tables[sheet.name].cut)
    )
    reading = Reading(
        folder=folder,
        settings=settings,
        kilns=kilns,
        programmes=programmes,
        tables={sheet.name: tables.get(sheet.name) or empty_table(sheet) for sheet in SHEETS},
        unread=unread,
    )
    reading.add([*kiln_findings, *programme_findings, *findings, *lacking])
    reading.add(finding for table in tables.values() for finding in table.findings)
    return reading


def _is_spoilt(name: str, spoilt: Collection[str]) -> bool:
    """Tell whether a table may be missing only because its file could not be read."""
    return bool({f"{name}.csv", f"{name}.xlsx", "works.xlsx"} & set(spoilt))


def _references(reading: Reading) -> list[Finding]:
    """Return doubled codes and references to nothing."""
    tables = reading.tables
    findings = [finding for table in tables.values() for finding in doubled_codes([table])]
    findings += doubled_codes([tables[name] for name in SUPPORTS])
    findings += [finding for table in tables.values() for finding in alike_codes(table)]
    findings += _sets_like_products(reading)
    findings += doubled_ways(reading)
    known = _known_codes(reading)
    for table in tables.values():
        findings += dangling(table, known)
    return list(dict.fromkeys(findings))


def _sets_like_products(reading: Reading) -> list[Finding]:
    products = {looks_like(code): code for code in _codes(reading.tables["products"])}
    findings = []
    for row in reading.tables["sets"].rows:
        code = row.optional_text("set")
        if code is not None and (same := products.get(looks_like(code))) is not None:
            more = "" if same == code else f"; {same} looks the same, in other letters: {told_apart(code, same)}"
            findings.append(row.fault("set", code, f"a code that no product has{more}"))
    return findings


def _codes(table: Table) -> list[str]:
    heading = _KEYS.get(table.sheet.name, "code")
    return [row.text(heading) for row in table.rows if row.get(heading) is not None]


def _known_codes(reading: Reading) -> Mapping[str, Collection[str]]:
    """Return the codes that references may name; what could not be read is left out."""
    known: dict[str, Collection[str]] = {
        name: dict.fromkeys(_codes(table)) for name, table in reading.tables.items() if name not in reading.unread
    }
    unions = {"items": ("products", "sets"), "supports": SUPPORTS}
    for union, names in unions.items():
        if not reading.unread & set(names):
            known[union] = dict.fromkeys(code for name in names for code in known[name])
    for name, coded in (("kilns", reading.kilns), ("programmes", reading.programmes)):
        if coded.codes is not None:
            known[name] = dict.fromkeys(sorted(coded.codes))
    return known


def _works(reading: Reading, works_file: WorksFile | None) -> Works:
    """Put together all that has no finding."""
    settings = reading.settings
    file = works_file or WorksFile(name="unread", now=_NO_DAY)
    programmes: tuple[Programme, ...] = reading.programmes.items
    kilns: tuple[Kiln, ...] = reading.kilns.items
    shapes = build_shapes(reading)
    glazes, decorations = build_glazes(reading), build_decorations(reading)
    catalogue = Catalogue(
        shapes={shape.code: shape for shape in shapes},
        glazes={glaze.code: glaze for glaze in glazes},
        decorations={decoration.code: decoration for decoration in decorations},
        programmes={programme.code: programme for programme in programmes},
        settings=settings,
    )
    furniture = build_furniture(reading)
    products = build_products(reading, catalogue)
    sets = build_sets(reading, products)
    lines = build_lines(reading, {one.code for one in products} | {one.code for one in sets})
    supply = Supply(
        moulds=build_moulds(reading, set(catalogue.shapes)),
        drying_places_pieces=file.supply.drying_places_pieces,
        glazing_pieces_per_hour=file.supply.glazing_pieces_per_hour,
        rack_places_pieces=file.supply.rack_places_pieces,
    )
    calendar = WorkCalendar(
        time_zone=file.calendar.time_zone,
        shifts=file.calendar.model_shifts(),
        holidays=build_holidays(reading),
        unattended_firing=file.calendar.unattended_firing,
    )
    return Works(
        name=file.name, now=file.now, settings=settings, calendar=calendar, supply=supply, furniture=furniture,
        kilns=with_offsets(reading, kilns, settings), programmes=programmes, shapes=shapes, glazes=glazes,
        decorations=decorations, products=products, sets=sets, lines=lines,
        lots=build_lots(reading, products, lines), measured=build_measured(reading, kilns),
    )  # fmt: skip
