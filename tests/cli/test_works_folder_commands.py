"""The commands new, check and schema, run as a person runs them."""

from __future__ import annotations

import json
import sys
from typing import TYPE_CHECKING

import pytest

from kilnpack.cli.main import run
from tests.works_folder.small import small_files, write_files

if TYPE_CHECKING:
    from pathlib import Path


def ran(monkeypatch: pytest.MonkeyPatch, *arguments: str) -> int:
    """Run the command line and return its exit code."""
    monkeypatch.setattr(sys, "argv", ["kilnpack", *arguments])
    with pytest.raises(SystemExit) as ended:
        run()
    return int(ended.value.code or 0)


def test_a_new_folder_is_checked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Guards the two first commands of every user."""
    assert ran(monkeypatch, "new", str(tmp_path / "works")) == 0
    assert ran(monkeypatch, "check", str(tmp_path / "works")) == 0
    said = capsys.readouterr().out
    assert "No finding." in said
    assert "E1, G1" in said


def test_findings_are_printed_and_counted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Guards exit 2 and one line a finding, without a traceback."""
    files = small_files()
    files["shapes.csv"] = files["shapes.csv"].replace("tea cup;0,24", "tea cup;heavy").replace("10 %", "10")
    assert ran(monkeypatch, "check", str(write_files(tmp_path, files))) == 2
    said = capsys.readouterr()
    assert "shapes.csv, row 2, dry_kg: found heavy, wanted a number" in said.out
    assert len(said.out.splitlines()) == 2
    assert said.err == "2 finding(s) in 1 file(s); nothing was written.\n"


def test_a_full_folder_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Guards faults of this package's own kind: said in words, exit 2."""
    (tmp_path / "mine.txt").write_text("x")
    assert ran(monkeypatch, "new", str(tmp_path)) == 2
    assert "nothing is overwritten" in capsys.readouterr().err


def test_schemas_are_printed(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """Guards `kilnpack schema` with and without a name, and with a wrong one."""
    assert ran(monkeypatch, "schema") == 0
    names = capsys.readouterr().out.split()
    assert {"works", "load"} <= set(names)
    assert ran(monkeypatch, "schema", "load") == 0
    assert json.loads(capsys.readouterr().out)["title"] == "kilnpack load"
    assert ran(monkeypatch, "schema", "lode") == 2
