"""Guards that the long tests never leave a server out in silence."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from types import ModuleType

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def run_file() -> ModuleType:
    """Return run.py as a module."""
    spec = importlib.util.spec_from_file_location("run_file", ROOT / "run.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("there", [True, False])
def test_a_missing_server_is_said_in_the_summary(
    run_file: ModuleType, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, there: bool
) -> None:
    """With the server's programs all long tests run; without them the name of the step says what did not."""
    monkeypatch.setattr(run_file.shutil, "which", lambda _name: "/somewhere/initdb" if there else None)
    monkeypatch.setattr(run_file, "Path", lambda _path: tmp_path)
    name, marks = run_file.long_tests()
    assert marks == ("long" if there else "long and not postgresql")
    assert ("NOT RUN" in name) is not there
    steps = run_file.test_steps(long=True)
    assert steps[-1][0] == name
    assert steps[-1][1][-1] == marks
