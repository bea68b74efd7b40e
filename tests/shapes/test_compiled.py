"""Guards where machine code is kept: beside the kernels, else in a folder that can be written, and never stale."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from kilnpack.shapes.kernel import compiled

if TYPE_CHECKING:
    from pathlib import Path

    import pytest


def test_a_folder_that_cannot_be_written_is_known(tmp_path: Path) -> None:
    """Guards the probe: a folder can be written and is left clean, a file in its place cannot."""
    assert compiled._writable(tmp_path / "new")
    assert list((tmp_path / "new").iterdir()) == []
    (tmp_path / "file").touch()
    assert not compiled._writable(tmp_path / "file")


def test_a_folder_that_others_could_write_is_not_private(tmp_path: Path) -> None:
    """Guards what is run: machine code is kept only in a folder of one's own, not behind a link or open to others."""
    assert compiled._private(tmp_path / "new")
    assert compiled._private(tmp_path / "new")
    (tmp_path / "open").mkdir()
    (tmp_path / "open").chmod(0o777)
    assert not compiled._private(tmp_path / "open")
    (tmp_path / "link").symlink_to(tmp_path / "new")
    assert not compiled._private(tmp_path / "link")
    assert not compiled._private(tmp_path / "missing" / "new")


def test_the_cache_moves_where_the_package_cannot_be_written(monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards import on a read-only machine: the cache goes to the temporary folder, but a user's choice stays."""
    monkeypatch.delenv("NUMBA_CACHE_DIR", raising=False)
    monkeypatch.setattr(compiled, "_writable", lambda folder: "kilnpack-kernels" in folder.name)
    compiled._choose_cache()
    assert "kilnpack-kernels" in os.environ["NUMBA_CACHE_DIR"]
    monkeypatch.setenv("NUMBA_CACHE_DIR", "chosen")
    compiled._choose_cache()
    assert os.environ["NUMBA_CACHE_DIR"] == "chosen"


def test_code_of_other_sources_is_forgotten(tmp_path: Path) -> None:
    """Guards against a stale kernel: a changed source drops all machine code beside it, an unchanged one keeps it."""
    cache = tmp_path / "__pycache__"
    cache.mkdir()
    (tmp_path / "a.py").write_text("one")
    compiled._drop_stale(tmp_path)
    entry = cache / "a.nbc"
    entry.touch()
    compiled._drop_stale(tmp_path)
    assert entry.exists()
    (tmp_path / "a.py").write_text("two")
    compiled._drop_stale(tmp_path)
    assert not entry.exists()
    compiled._drop_stale(tmp_path / "nowhere")
