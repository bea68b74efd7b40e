"""`kilnpack calibrate` from the command line."""

from __future__ import annotations

from typing import TYPE_CHECKING

from typer.testing import CliRunner

from kilnpack.cli.main import app
from kilnpack.works_folder.template import new_works

if TYPE_CHECKING:
    from pathlib import Path


def test_factors_ranges_and_what_is_not_known_are_printed(tmp_path: Path) -> None:
    """Every kiln with its factors, its errors with and without, the proposed map, and where it was written."""
    new_works(tmp_path / "works", example=True)
    ran = CliRunner().invoke(app, ["calibrate", str(tmp_path / "works")])
    assert ran.exit_code == 0, ran.output
    for wanted in ("Kiln E1", "lining x", "by the others alone", "cannot be told from", "Offset map for glost"):
        assert wanted in ran.output
    assert "calibration.json" in ran.output
    assert "The thermometer decides" in ran.output


def test_a_dry_run_says_that_it_wrote_nothing(tmp_path: Path) -> None:
    """Nothing is kept."""
    new_works(tmp_path / "works", example=True)
    ran = CliRunner().invoke(app, ["calibrate", str(tmp_path / "works"), "--dry-run"])
    assert ran.exit_code == 0
    assert "Nothing was written." in ran.output
    assert not (tmp_path / "works" / "calibration.json").exists()
