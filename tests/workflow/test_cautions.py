"""Guards the people at the kiln: every sheet and page that sends somebody to one carries the cautions."""

from __future__ import annotations

import html
import re
from typing import TYPE_CHECKING

import pytest
from pypdf import PdfReader

from kilnpack.search.budget import Budget
from kilnpack.sheets.cautions import FIRST, LAST, cautions
from kilnpack.workflow.loading import load_kiln
from kilnpack.workflow.planning import plan_works
from tests.cli.tiny_folder import write_tiny

if TYPE_CHECKING:
    from pathlib import Path

SHEETS = {
    "load-k-d.html": True, "load-k-d.pdf": True, "programme-k-d.html": False, "programme-k-d.pdf": False,
    "work-list.html": False, "work-list.pdf": False,
}  # fmt: skip
"""Sheets by name, and whether all topics hold for them: a programme of an electric kiln has no word on gas."""


@pytest.fixture(scope="module")
def out(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with a load and a plan of a tiny works."""
    place = tmp_path_factory.mktemp("sheets")
    works = write_tiny(place / "works")
    load_kiln(works, "K", "D", place / "out", budget=Budget(effort=1))
    plan_works(works, place / "out" / "plan", budget=Budget(effort=1))
    return place / "out"


def words_of(path: Path) -> str:
    """Return the words of a sheet on one line."""
    if path.suffix == ".pdf":
        text = " ".join(page.extract_text() for page in PdfReader(path).pages)
    else:
        text = html.unescape(re.sub(r"<[^>]+>", " ", path.read_text(encoding="utf-8")))
    return re.sub(r"\s+", "", text.replace("-\n", ""))


@pytest.mark.parametrize("name", SHEETS)
def test_sheets_that_send_somebody_to_a_kiln_carry_the_cautions(out: Path, name: str) -> None:
    """Local codes come first, no sheet says that something is safe, and the loader reads every topic."""
    (path,) = (one for one in out.rglob(name) if one.parent.name != "sheets")
    words = words_of(path)
    wanted = [FIRST, LAST, *(text for _, text in cautions() if SHEETS[name])]
    assert [text for text in wanted if re.sub(r"\s+", "", text) not in words] == []


def test_loading_sheets_of_a_plan_carry_them_too(out: Path) -> None:
    """Each firing has a sheet and a page of its own."""
    sheets = [path for path in (out / "plan" / "sheets").iterdir() if path.suffix in (".html", ".pdf")]
    assert len(sheets) >= 4
    assert [path.name for path in sheets if re.sub(r"\s+", "", FIRST) not in words_of(path)] == []
