"""Writing files."""

from __future__ import annotations

import importlib.util
from typing import TYPE_CHECKING

import pytest

from kilnpack.errors import SheetNotWritten
from kilnpack.sheets import files
from kilnpack.sheets.files import file_name, fonts_folder, write_bytes

if TYPE_CHECKING:
    from pathlib import Path


def test_a_file_is_replaced_in_one_step(tmp_path: Path) -> None:
    """Guards that old content stays until the new one is complete, and that no rest is left."""
    place = tmp_path / "a" / "b.txt"
    write_bytes(place, b"one")
    write_bytes(place, b"two")
    assert place.read_bytes() == b"two"
    assert [path.name for path in place.parent.iterdir()] == ["b.txt"]


def test_a_place_that_is_a_folder_is_refused_without_a_rest(tmp_path: Path) -> None:
    """Guards the last step: when the rename fails, the file written aside is taken away again."""
    (tmp_path / "b.txt" / "full").mkdir(parents=True)
    with pytest.raises(SheetNotWritten) as said:
        write_bytes(tmp_path / "b.txt", b"x")
    assert said.value.path == tmp_path / "b.txt"
    assert [path.name for path in tmp_path.iterdir()] == ["b.txt"]


def test_names_are_safe_on_every_system() -> None:
    """Guards file names made from titles."""
    assert file_name("Load 7: glost / A") == "Load-7-glost-A"
    assert file_name("../../") == "sheet"
    assert file_name("") == "sheet"


def test_the_fonts_are_there_and_their_absence_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards the typeface: it comes with a package, never from the system."""
    assert (fonts_folder() / "DejaVuSans.ttf").is_file()
    assert (fonts_folder() / "DejaVuSans-Bold.ttf").is_file()
    monkeypatch.setattr(files, "find_spec", lambda _: None)
    with pytest.raises(SheetNotWritten):
        fonts_folder()
    assert importlib.util.find_spec("matplotlib") is not None
