"""Guards the file that sets everything up: it must be readable by an old Python, and say what is wrong with its use."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


def run_py(*arguments: str) -> subprocess.CompletedProcess[str]:
    """Call run.py as a person does."""
    return subprocess.run(
        [sys.executable, str(ROOT / "run.py"), *arguments], capture_output=True, text=True, check=False, timeout=60
    )


def test_an_old_python_can_read_it() -> None:
    """Python 3.8 must get as far as saying what to install, so it must parse the file."""
    ast.parse((ROOT / "run.py").read_text(encoding="utf-8"), feature_version=(3, 8))


def test_it_needs_the_standard_library_alone() -> None:
    """Nothing is installed yet when it runs."""
    tree = ast.parse((ROOT / "run.py").read_text(encoding="utf-8"))
    plain = {name.name for node in ast.walk(tree) if isinstance(node, ast.Import) for name in node.names}
    named = {node.module or "" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    assert {name.split(".")[0] for name in plain | named} <= set(sys.stdlib_module_names)


def test_help_lists_every_command() -> None:
    """Each command stands in the help with a line of its own."""
    shown = run_py("--help")
    assert shown.returncode == 0
    assert [
        word for word in ("demo", "test", "bench", "exec") if not re.search(rf"^{word} +\w", shown.stdout, re.M)
    ] == []


@pytest.mark.parametrize("arguments", [(), ("nothing",), ("bench",), ("bench", "nothing"), ("exec",)])
def test_wrong_use_ends_with_two_and_no_traceback(arguments: tuple[str, ...]) -> None:
    """A missing or unknown word is answered with what is wanted, before anything is set up."""
    shown = run_py(*arguments)
    assert shown.returncode == 2
    assert shown.stderr.strip()
    assert "Traceback" not in shown.stderr


def test_the_lock_files_name_no_download_address() -> None:
    """Each machine asks the index it is set up for."""
    for lock in ROOT.glob("requirements*.lock"):
        assert "://" not in lock.read_text(encoding="utf-8"), lock.name


def test_running_takes_the_same_versions_as_development() -> None:
    """What the tests ran with is what people get."""
    pins = [
        set(re.findall(r"^[^\s=#]+==\S+", (ROOT / name).read_text(encoding="utf-8"), re.M))
        for name in ("requirements.lock", "requirements-dev.lock")
    ]
    assert pins[0]
    assert pins[0] <= pins[1]


def test_every_dependency_is_pinned() -> None:
    """A library added to the package is pinned before it is used; scripts/lock does it."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    pinned = re.findall(r"^([^\s=#]+)==", (ROOT / "requirements.lock").read_text(encoding="utf-8"), re.M)
    wanted = {re.split(r"[<>=~!\[; ]", line)[0].lower() for line in project["dependencies"]}
    assert wanted <= set(pinned)
