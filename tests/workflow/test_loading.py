"""From folder to checked load: what is written, what is refused, and that hand-made loads are judged alike."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from kilnpack.errors import InputFaulty, SheetNotWritten, SolverFault
from kilnpack.model.loads import Load
from kilnpack.search.budget import Budget
from kilnpack.workflow import loading
from kilnpack.workflow.loading import audit_file, load_kiln
from kilnpack.works_folder import load_value, read_works, save_value, write_works

if TYPE_CHECKING:
    from pathlib import Path

    from kilnpack.workflow.loading import LoadedKiln


def test_a_load_is_written_and_judged_good(studio: Path, loaded: LoadedKiln) -> None:
    """The saved load reads back equal and the checker finds nothing in it, from the file alone."""
    assert loaded.load.pieces > 30
    assert load_value(loaded.saved, Load) == loaded.load
    again, checked = audit_file(studio, loaded.saved)
    assert again.pieces == checked.pieces
    assert checked.findings == ()
    assert loaded.sheets.pdf.read_bytes().startswith(b"%PDF")
    assert "R1" in loaded.sheets.html.read_text()


def test_effort_and_seed_repeat_the_load(studio: Path, loaded: LoadedKiln, tmp_path: Path) -> None:
    """The same effort and seed give the same load, the same sheet and the same file."""
    again = load_kiln(studio, "R1", "GLOST", tmp_path / "again", budget=Budget(effort=40), seed=3)
    assert again.load == loaded.load
    assert again.saved.read_bytes() == loaded.saved.read_bytes()
    assert again.sheets.pdf.read_bytes() == loaded.sheets.pdf.read_bytes()


def test_unknown_codes_are_findings_and_nothing_is_written(studio: Path, tmp_path: Path) -> None:
    """Two wrong codes are two findings with what is near; a programme of no kiln is one."""
    out = tmp_path / "none"
    with pytest.raises(InputFaulty) as caught:
        load_kiln(studio, "R2", "GLAST", out, budget=Budget(effort=1))
    assert [(row.field, row.found) for row in caught.value.findings] == [("--kiln", "R2"), ("--programme", "GLAST")]
    assert [row.wanted for row in caught.value.findings] == ["one of R1", "GLOST?"]
    assert not out.exists()


def test_a_kiln_that_does_not_fire_the_programme_is_a_finding(studio: Path, tmp_path: Path) -> None:
    """The colour kiln of the works does not fire glost."""
    works = studio.parent / "porcelain_works"
    with pytest.raises(InputFaulty, match="one that D1 fires: COL1190"):
        load_kiln(works, "D1", "GLOST", tmp_path / "none", budget=Budget(effort=1))


def test_a_place_that_cannot_be_made_is_said_plainly(studio: Path, tmp_path: Path) -> None:
    """A file where the folder should be: no sheet, no traceback of another kind."""
    blocked = tmp_path / "file"
    blocked.write_text("here")
    with pytest.raises(SheetNotWritten, match="cannot be written"):
        load_kiln(studio, "R1", "BISC", blocked / "out", budget=Budget(effort=1))


def test_a_load_that_breaks_a_rule_is_never_written(
    studio: Path, loaded: LoadedKiln, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Were the packer wrong, the checker would stop the load before anything is written."""
    stack, *others = loaded.load.stacks
    sunk = replace(stack.tiers[-1], base_mm=stack.tiers[-1].base_mm - 20.0)
    wrong = replace(loaded.load, stacks=(replace(stack, tiers=(*stack.tiers[:-1], sunk)), *others))
    monkeypatch.setattr(loading, "pack_load", lambda *_args, **_more: wrong)
    with pytest.raises(SolverFault, match="breaks a rule"):
        load_kiln(studio, "R1", "GLOST", tmp_path / "none", budget=Budget(effort=1))
    assert not (tmp_path / "none").exists()


def test_nothing_ready_is_an_empty_load_and_no_fault(studio: Path, tmp_path: Path) -> None:
    """A studio without a lot: no piece, no fault of the packer, and a sheet that says so."""
    bare = tmp_path / "bare"
    write_works(replace(read_works(studio), lots=(), lines=()), bare)
    found = load_kiln(bare, "R1", "GLOST", tmp_path / "out", budget=Budget(effort=1))
    assert (found.load.pieces, found.ready_pieces) == (0, 0)
    assert found.sheets.pdf.exists()


def test_an_edited_load_has_findings(studio: Path, loaded: LoadedKiln, tmp_path: Path) -> None:
    """A body moved onto its neighbour by hand in the JSON file is found."""
    whole = json.loads(loaded.saved.read_text())
    crowded = max(whole["value"]["settings"], key=lambda row: len(row["standings"]))
    first, second = crowded["standings"][:2]
    second["x_mm"], second["y_mm"] = first["x_mm"], first["y_mm"]
    edited = tmp_path / "edited.json"
    edited.write_text(json.dumps(whole))
    _, checked = audit_file(studio, edited)
    assert any("C1" in row.field for row in checked.findings)


def test_a_load_of_another_works_has_findings(studio: Path, loaded: LoadedKiln, tmp_path: Path) -> None:
    """Judged against the other works, every code that it does not know is a finding, and none a traceback."""
    other = tmp_path / "other.json"
    save_value(other, loaded.load)
    _, checked = audit_file(studio.parent / "porcelain_works", other)
    assert checked.findings
