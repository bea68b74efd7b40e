"""A new works folder reads without a finding and helps to fill itself in."""

from __future__ import annotations

from typing import TYPE_CHECKING

import openpyxl
import pytest

from kilnpack.errors import SheetNotWritten
from kilnpack.works_folder import read_works
from kilnpack.works_folder.columns import Kind
from kilnpack.works_folder.describe import SHEETS
from kilnpack.works_folder.template import new_works

if TYPE_CHECKING:
    from pathlib import Path


def test_a_new_folder_reads_without_a_finding(tmp_path: Path) -> None:
    """Guards the first step of every user, with example rows and with headings only."""
    new_works(tmp_path / "full", example=True)
    works = read_works(tmp_path / "full")
    assert len(works.products) >= 3
    assert works.lots
    new_works(tmp_path / "bare", example=False)
    assert read_works(tmp_path / "bare").products == ()


def test_sheets_have_headings_examples_and_drop_downs(tmp_path: Path) -> None:
    """Guards the workbook: every heading with a note, three example rows, lists to choose from, codes as text."""
    new_works(tmp_path / "full", example=True)
    book = openpyxl.load_workbook(tmp_path / "full" / "works.xlsx")
    assert book.sheetnames == [sheet.name for sheet in SHEETS]
    for sheet in SHEETS:
        page = book[sheet.name]
        assert [cell.value for cell in page[1]] == [column.heading for column in sheet.columns]
        assert all(cell.comment is not None for cell in page[1])
        assert page.max_row >= 4
        checked = {cells.min_col for rule in page.data_validations.dataValidation for cells in rule.sqref.ranges}
        for place, column in enumerate(sheet.columns, start=1):
            if column.kind is Kind.CODE:
                assert page.cell(2, place).number_format in ("@", "General") or page.cell(2, place).value is None
            if column.kind in (Kind.CHOICE, Kind.YES_NO, Kind.NUMBER, Kind.WHOLE, Kind.SHARE) and not column.none_mark:
                assert place in checked, (sheet.name, column.heading)


def test_drop_downs_name_the_choices(tmp_path: Path) -> None:
    """Guards lists and references between sheets."""
    new_works(tmp_path / "full", example=True)
    page = openpyxl.load_workbook(tmp_path / "full" / "works.xlsx")["lots"]
    lists = {rule.formula1 for rule in page.data_validations.dataValidation if rule.type == "list"}
    assert '"normal,refire,sample,filler"' in lists
    assert "products!$A$2:$A$5000" in lists


def test_nothing_is_overwritten(tmp_path: Path) -> None:
    """Guards work that is there already."""
    new_works(tmp_path / "full", example=True)
    with pytest.raises(SheetNotWritten, match="nothing is overwritten"):
        new_works(tmp_path / "full", example=True)
