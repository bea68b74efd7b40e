"""Guards the package as people install it: alone, with nothing beside it but what it asks for."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
COMMANDS = ("new", "check", "load", "audit", "plan", "energy", "schema")
# What the child measures of itself: its own work, whatever else the machine does.
MEASURED = """
import os, sys
sys.argv = ["kilnpack", "--help"]
from kilnpack.cli.main import run
try:
    run()
except SystemExit as end:
    code = end.code
print("CPU", sum(os.times()[:2]), file=sys.stderr)
sys.exit(code)
"""

pytestmark = pytest.mark.wheel


def told(*command: str | Path, folder: Path) -> subprocess.CompletedProcess[str]:
    """Run a command away from the checkout and return what it said; a failure shows all of it."""
    variables = {name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "VIRTUAL_ENV"))}
    done = subprocess.run(
        [str(part) for part in command],
        cwd=folder,
        env=variables,
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with nothing of the checkout in it."""
    return tmp_path_factory.mktemp("installed")


@pytest.fixture(scope="module")
def installed(place: Path) -> Path:
    """Build the wheel, install it into an empty environment with what it asks for; return the programs' folder."""
    told(sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", place, ROOT, folder=place)
    (wheel,) = place.glob("kilnpack-*.whl")
    environment = place / "environment"
    programs = environment / ("Scripts" if os.name == "nt" else "bin")
    uv = (sys.executable, "-m", "uv")
    told(*uv, "venv", "--python", sys.executable, environment, folder=place)
    told(
        *(*uv, "pip", "install", "--python", environment, "--constraints", ROOT / "requirements.lock", wheel),
        folder=place,
    )
    told(*uv, "pip", "check", "--python", environment, folder=place)
    return programs


def test_help_runs_and_lists_the_commands(installed: Path, place: Path) -> None:
    """The installed program answers; the time of its own work is printed, not judged, for machines differ."""
    shown = told(installed / "kilnpack", "--help", folder=place)
    assert [name for name in COMMANDS if not re.search(rf"\b{name}\b", shown.stdout)] == []
    measured = told(installed / "python", "-c", MEASURED, folder=place)
    (seconds,) = re.findall(r"^CPU ([0-9.]+)$", measured.stderr, re.M)
    assert float(seconds) > 0
    sys.stdout.write(f"kilnpack --help: {float(seconds):.2f} s of processor time\n")


def test_the_published_tables_travel_with_the_package(installed: Path, place: Path) -> None:
    """Tables and sources are read from inside the installed package, and are those of the checkout."""
    asked = (
        "import json, kilnpack.shared_tables as t; "
        "print(json.dumps([str(t._folder()), t.table_names(), sorted(t.sources())]))"
    )
    folder, names, keys = json.loads(told(installed / "python", "-c", asked, folder=place).stdout)
    assert Path(folder).is_relative_to(place.resolve())
    assert set(names) == {path.stem for path in (ROOT / "shared").glob("*.csv")}
    assert {"common-practice", "memory"} <= set(keys)


def test_a_new_works_folder_can_be_written_and_checked(installed: Path, place: Path) -> None:
    """The first two commands of a new user work from the wheel alone."""
    told(installed / "kilnpack", "new", "works", folder=place)
    assert list((place / "works").iterdir())
    told(installed / "kilnpack", "check", "works", folder=place)
