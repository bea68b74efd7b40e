"""Broken works folders give exactly their findings, all of them at once."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from kilnpack.errors import InputFaulty
from kilnpack.works_folder import read_works
from tests.works_folder.breaking import Break, write_broken
from tests.works_folder.breaks_backlog import BACKLOG_BREAKS
from tests.works_folder.breaks_kilns import KILN_BREAKS
from tests.works_folder.breaks_measured import MEASURED_BREAKS
from tests.works_folder.breaks_products import FURNITURE_BREAKS, PRODUCT_BREAKS
from tests.works_folder.breaks_shapes import SHAPE_BREAKS, STACKING_BREAKS
from tests.works_folder.breaks_tables import CELL_BREAKS, CODE_BREAKS, HEADING_BREAKS

if TYPE_CHECKING:
    from pathlib import Path

BREAKS = (
    *CELL_BREAKS,
    *HEADING_BREAKS,
    *CODE_BREAKS,
    *SHAPE_BREAKS,
    *STACKING_BREAKS,
    *PRODUCT_BREAKS,
    *FURNITURE_BREAKS,
    *KILN_BREAKS,
    *BACKLOG_BREAKS,
    *MEASURED_BREAKS,
)


@pytest.mark.parametrize("case", BREAKS, ids=lambda case: case.name)
def test_one_break_gives_exactly_its_findings(tmp_path: Path, case: Break) -> None:
    """Guards each kind of finding: place, field and remedy are said, and nothing follows from it."""
    with pytest.raises(InputFaulty) as caught:
        read_works(write_broken(tmp_path, case))
    found = [(one.file, one.row, one.field) for one in caught.value.findings]
    assert sorted(found, key=str) == sorted((one[:3] for one in case.expected), key=str), str(caught.value)
    for file, row, field, wanted in case.expected:
        said = [one.wanted for one in caught.value.findings if (one.file, one.row, one.field) == (file, row, field)]
        assert any(wanted in one for one in said), str(caught.value)


def test_names_of_breaks_differ() -> None:
    """Guards the list itself: a break written twice would hide one that is missing."""
    names = [case.name for case in BREAKS]
    assert len(set(names)) == len(names)
