"""What is fuzzed: each target makes a faulty file from a valid one, gives it to the reader, and returns what is found.

An empty result means that the file was read as a value. Anything but findings that leaves a target is a failure.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

from kilnpack.errors import Finding, InputFaulty
from kilnpack.model.plans import Plan
from kilnpack.model.settings import WorksSettings
from kilnpack.planning.plan_audit import audit_plan
from kilnpack.rules.checker import audit
from kilnpack.workflow.planning import check_load, compare_files
from kilnpack.works_folder import load_value, read_works, save_value
from kilnpack.works_folder.describe import SHEETS
from kilnpack.works_folder.drawings import drawn_part
from kilnpack.works_folder.grids import grid_of
from kilnpack.works_folder.rows import Row, read_table
from kilnpack.works_folder.sent_tables import SENT, SentFile, lay_down
from kilnpack.works_folder.toml_files import read_kilns, read_programmes, read_works_file
from tests.hard_use.mutations import (
    Dice,
    changed_bytes,
    changed_dxf,
    changed_saved,
    changed_svg,
    changed_table,
    changed_toml,
    changed_workbook,
)
from tests.records.small import small_plan
from tests.rules.small_audit import small_load, small_works
from tests.works_folder.small import measured_files, small_files, write_files
from tests.works_folder.test_sent_tables import book

if TYPE_CHECKING:
    from pathlib import Path

Findings = tuple[Finding, ...]


class Target(Protocol):
    """Something that reads files; `case` is one of them, made by the bytes of the dice."""

    def case(self, dice: Dice) -> Findings:
        """Return what is found in one changed file."""


class WorksFolders:
    """A whole works folder with one to three files changed."""

    def __init__(self, place: Path) -> None:
        self.files = small_files() | measured_files()
        self.folder = write_files(place, self.files)

    def case(self, dice: Dice) -> Findings:
        """Change some files, read the folder, put them back."""
        changed: dict[str, bytes] = {}
        for _ in range(1 + dice.below(3)):
            name = dice.one(sorted(self.files))
            text = changed[name].decode(errors="replace") if name in changed else self.files[name]
            changed[name] = changed_toml(text, dice) if name.endswith(".toml") else changed_table(text, dice)
        for name, raw in changed.items():
            (self.folder / name).write_bytes(raw)
        try:
            read_works(self.folder)
        except InputFaulty as faulty:
            return faulty.findings
        finally:
            for name in changed:
                (self.folder / name).write_text(self.files[name], encoding="utf-8")
        return ()


class Tables:
    """One table by itself, as CSV, with several changes."""

    def __init__(self, place: Path) -> None:
        self.texts = {name.removesuffix(".csv"): text for name, text in _tables().items()}
        self.sheets = {sheet.name: sheet for sheet in SHEETS}
        self.path = place / "table.csv"

    def case(self, dice: Dice) -> Findings:
        """Read one changed table by its headings."""
        name = dice.one(sorted(self.texts))
        raw = changed_table(self.texts[name], dice)
        while dice:
            raw = changed_table(raw.decode(errors="replace"), dice)
        self.path.write_bytes(raw)
        grid = grid_of(self.path, name)
        return (grid,) if isinstance(grid, Finding) else tuple(read_table(grid, self.sheets[name]).findings)


def _tables() -> dict[str, str]:
    return {name: text for name, text in (small_files() | measured_files()).items() if name.endswith(".csv")}


class TomlFiles:
    """One of the three TOML files, with several changes."""

    def __init__(self, place: Path) -> None:
        self.texts = {name: text for name, text in small_files().items() if name.endswith(".toml")}
        self.place = place

    def case(self, dice: Dice) -> Findings:
        """Read one changed file."""
        name = dice.one(sorted(self.texts))
        raw = changed_toml(self.texts[name], dice)
        while dice:
            raw = changed_toml(raw.decode(errors="replace"), dice)
        (self.place / name).write_bytes(raw)
        if name == "works.toml":
            return tuple(read_works_file(self.place)[1])
        if name == "kilns.toml":
            return tuple(read_kilns(self.place, WorksSettings())[1])
        return tuple(read_programmes(self.place)[1])


class Loads:
    """A saved load, read and then audited against its works."""

    def __init__(self, place: Path) -> None:
        self.works, self.path = small_works(), place / "load.json"
        save_value(self.path, small_load())
        self.kind, self.text = type(small_load()), self.path.read_text(encoding="utf-8")

    def case(self, dice: Dice) -> Findings:
        """Read and audit one changed load."""
        self.path.write_bytes(changed_saved(self.text, dice))
        try:
            return audit(self.works, load_value(self.path, self.kind), at=self.works.now).findings
        except InputFaulty as faulty:
            return faulty.findings


class Plans:
    """A saved plan, read and then audited against its works; or compared with the plan it was."""

    def __init__(self, place: Path) -> None:
        self.works, self.path, self.other = small_works(), place / "plan.json", place / "other.json"
        save_value(self.path, small_plan())
        save_value(self.other, small_plan())
        self.text = self.path.read_text(encoding="utf-8")

    def case(self, dice: Dice) -> Findings:
        """Read one changed plan; audit it or compare it."""
        compare = dice.below(4)
        self.path.write_bytes(changed_saved(self.text, dice))
        try:
            if compare < 2:
                compare_files(*((self.path, self.other) if compare else (self.other, self.path)))
                return ()
            return audit_plan(self.works, load_value(self.path, Plan), checker=check_load)
        except InputFaulty as faulty:
            return faulty.findings


class SentTables:
    """A file sent over the pages: CSV, or a workbook of one table."""

    def __init__(self, place: Path, *, workbooks: bool) -> None:
        self.place, self.workbooks = place, workbooks
        self.texts = {name: text for name, text in small_files().items() if name.removesuffix(".csv") in SENT}
        self.books = {
            name.replace(".csv", ".xlsx"): book(**{name.removesuffix(".csv"): _cells(text)})
            for name, text in self.texts.items()
        }

    def sent(self, dice: Dice) -> SentFile:
        """Return a changed file."""
        if self.workbooks:
            name = dice.one(sorted(self.books))
            return SentFile(name=name, content=changed_workbook(self.books[name], dice))
        name = dice.one(sorted(self.texts))
        return SentFile(name=name, content=changed_table(self.texts[name], dice))

    def case(self, dice: Dice) -> Findings:
        """Lay one changed file down, read what it holds, and take it away again."""
        laid, faults = lay_down([self.sent(dice)], self.place)
        found = [finding for one in laid for finding in read_table(one.grid, SENT[one.table]).findings]
        for path in self.place.iterdir():
            path.unlink()
        return (*faults, *found)


def _cells(text: str) -> list[list[object]]:
    return [list(line.split(";")) for line in text.splitlines()]


class Drawings:
    """The drawing of a shape, SVG or DXF, as a half section or an outline."""

    def __init__(self, place: Path) -> None:
        self.place = place

    def case(self, dice: Dice) -> Findings:
        """Read one changed drawing."""
        name = dice.one(("vase.svg", "vase.dxf", "vase.svg"))
        raw = changed_svg(dice) if name.endswith(".svg") else changed_dxf(dice)
        if dice.below(4) == 0:
            raw = changed_bytes(raw, dice)
        (self.place / name).write_bytes(raw)
        return self.read(name, dice.one(("half section", "outline")))

    def read(self, name: str, shows: str) -> Findings:
        """Return what is found in the drawing that lies there."""
        values: dict[str, object] = {
            "drawing": name, "drawing_shows": shows, "mm_per_unit": 1.0, "axis_x_units": 0.0, "axis_y_units": 0.0,
        }  # fmt: skip
        filled = set(values) - ({"axis_y_units"} if shows == "half section" else set())
        if shows == "outline":
            values["drawn_height_mm"] = 30.0
        found: list[Finding] = []
        drawn_part(self.place, Row(file="shapes.csv", number=2, values=values, filled=frozenset(filled)), found)
        return tuple(found)
