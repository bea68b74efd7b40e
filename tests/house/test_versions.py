"""Guards the bounds of what the package asks for: with the lowest and the newest allowed versions it still works."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.long

ROOT = Path(__file__).resolve().parents[2]
BESIDE = (
    "pytest>=8.2",
    "hypothesis>=6.100",
    "httpx>=0.27",
    "httpx2>=2.0",
    "jsonschema>=4.22",
    "openpyxl>=3.1",
    "pypdf>=5.0",
    "pillow",
    "scipy>=1.11",
    "playwright>=1.45",
    "axe-playwright-python>=0.1.4",
)
"""What the tests themselves import; older pages are tested through the first of the two clients."""
PARTS = (
    "tests/works_folder",
    "tests/sheets",
    "tests/shapes",
    "tests/records",
    "tests/web/test_people.py",
    "tests/packing/test_columns.py",
    "tests/cli/test_works_folder_commands.py",
)
"""Tests in which every library is used."""


def run(*command: str | Path, **variables: str) -> None:
    """Run a command at the top of the checkout; a failure shows what it said."""
    done = subprocess.run(
        [str(part) for part in command],
        cwd=ROOT,
        env={**os.environ, **variables},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout[-6000:] + done.stderr[-2000:]


@pytest.mark.parametrize("resolution", ["lowest-direct", "highest"])
def test_the_bounds_of_what_is_asked_for_hold(resolution: str, tmp_path: Path) -> None:
    """A part of the tests passes in an environment of the lowest, and of the newest, versions allowed."""
    uv = (sys.executable, "-m", "uv", "--quiet")
    wanted, environment = tmp_path / "wanted.txt", tmp_path / "environment"
    extras = ("--extra", "cad", "--extra", "checkout", "--extra", "postgresql")
    run(*uv, "pip", "compile", "--resolution", resolution, *extras, "pyproject.toml", "--output-file", wanted)
    run(*uv, "venv", "--python", sys.executable, environment)
    run(*uv, "pip", "install", "--python", environment, "--requirements", wanted, *BESIDE)
    python = environment / ("Scripts" if os.name == "nt" else "bin") / "python"
    marks = "not wheel and not long and not browser and not postgresql"
    run(
        *(python, "-m", "pytest", "--quiet", "-p", "no:cacheprovider", "-m", marks),
        *("--override-ini", "addopts=--strict-markers --import-mode=importlib"),
        *("--override-ini", "filterwarnings=default", *PARTS),
        PYTHONPATH=str(ROOT),
        NUMBA_CACHE_DIR=str(tmp_path / "kernels"),
        PYTHONDONTWRITEBYTECODE="1",
    )
