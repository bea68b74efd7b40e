"""docs/formats.md says what the reader does."""

from __future__ import annotations

import re
import tomllib
from dataclasses import fields
from pathlib import Path

import pytest

from kilnpack.codec import decode
from kilnpack.model.kilns import Cooling, Energy, Kiln
from kilnpack.model.programmes import Programme, Segment
from kilnpack.works_folder.columns import Kind
from kilnpack.works_folder.describe import SHEETS, generated, renewed
from kilnpack.works_folder.toml_files import TAG, WorksFile

PAGE = (Path(__file__).parents[2] / "docs" / "formats.md").read_text(encoding="utf-8")


def test_tables_of_the_page_are_those_of_the_reader() -> None:
    """Guards against a heading, default or material that the page does not know; `renewed` mends the page."""
    assert renewed(PAGE) == PAGE
    assert all(part in PAGE for part in generated().values())


UNITS = re.compile(
    r".*_(mm|kg|kwh|m3|degc|k|h|mpa|deg|share|factor|money|pieces|units)|z_mm|mm_per_unit|casts_per_day|points|firings|pieces|pieces_per_gap"
)


def test_numbers_carry_their_unit() -> None:
    """Guards headings: whoever fills a column in sees what is counted."""
    kinds = (Kind.NUMBER, Kind.WHOLE, Kind.SHARE, Kind.POINTS)
    without = [
        f"{sheet.name}.{column.heading}"
        for sheet in SHEETS
        for column in sheet.columns
        if column.kind in kinds and not UNITS.fullmatch(column.heading)
    ]
    assert without == []


def examples() -> list[dict[str, object]]:
    """Return the TOML examples of the page."""
    return [tomllib.loads(text) for text in re.findall(r"```toml\n(.*?)```", PAGE, re.S)]


def test_examples_of_the_page_can_be_read() -> None:
    """Guards the TOML examples: they decode as the files they show."""
    works, kilns, programmes = examples()
    assert decode(works, WorksFile, tag=TAG)[1] == []
    for kiln in kilns["kilns"]:  # type: ignore[attr-defined]
        kiln["offsets"] = []
        assert decode(kiln, Kiln, tag=TAG)[1] == []
    for programme in programmes["programmes"]:  # type: ignore[attr-defined]
        assert decode(programme, Programme, tag=TAG)[1] == []


@pytest.mark.parametrize("kind", [Kiln, Energy, Cooling, Programme, Segment])
def test_every_key_stands_on_the_page(kind: type) -> None:
    """Guards against a key of the TOML files that nobody is told of."""
    for item in fields(kind):
        assert re.search(rf"\b{item.name}\b", PAGE), item.name
