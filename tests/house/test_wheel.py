"""Guards the package as people install it: alone, with nothing beside it but what it asks for, and with no network.

The wheel is built from the source package, so that both are whole.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import tarfile
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
    """Build the source package and from it the wheel, install that into an empty environment; return its programs."""
    told(sys.executable, "-m", "build", "--no-isolation", "--outdir", place, ROOT, folder=place)
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


def test_the_source_package_is_whole(installed: Path, place: Path) -> None:
    """Every file of the package and of the published figures is in the source package, and nothing that was made."""
    assert installed.is_dir()
    (archive,) = place.glob("kilnpack-*.tar.gz")
    with tarfile.open(archive) as packed:
        names = {Path(*Path(name).parts[1:]) for name in packed.getnames()}
    wanted = {
        path.relative_to(ROOT)
        for folder in ("kilnpack", "shared")
        for path in (ROOT / folder).rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    assert wanted <= names
    assert not any("__pycache__" in name.parts or name.parts[:1] == ("out",) for name in names)


@pytest.fixture(scope="module")
def apart() -> list[str]:
    """Return the words that run a command in a network of its own without any route; none where that cannot be made.

    What then is not shown is said, for the commands themselves run all the same.
    """
    words = ["unshare", "--map-root-user", "--net"]
    tools = shutil.which("unshare") and shutil.which("ip")
    if tools and not subprocess.run([*words, "true"], capture_output=True, check=False).returncode:
        return words
    sys.stdout.write("NOT SHOWN: no network namespace can be made here, so the commands ran with a network\n")
    return []


def test_a_load_and_a_plan_are_made_without_a_network(installed: Path, place: Path, apart: list[str]) -> None:
    """The main commands work from the wheel alone, where every packet would be lost."""
    works = shutil.copytree(ROOT / "demo_orders" / "round_kiln_studio", place / "studio")
    kilnpack = installed / "kilnpack"
    firing = ("--kiln", "R1", "--programme", "GLOST", "--out", "load", "--effort", "20")
    told(*apart, kilnpack, "load", works, *firing, folder=place)
    load = json.loads((place / "load" / "load.json").read_text(encoding="utf-8"))
    assert load["value"]["stacks"]
    (sheets,) = (place / "load").glob("load-*.pdf")
    assert sheets.read_bytes().startswith(b"%PDF")
    told(*apart, kilnpack, "plan", works, "--out", "plan", "--effort", "20", folder=place)
    assert json.loads((place / "plan" / "plan.json").read_text(encoding="utf-8"))["value"]["firings"]


PAGES_ALONE = """
import subprocess, sys, time, urllib.request
if sys.argv[3]:
    subprocess.run(["ip", "link", "set", "lo", "up"], check=True)
pages = subprocess.Popen([sys.argv[1], "serve", sys.argv[2], "--port", "8431"])
try:
    for _ in range(600):
        try:
            print(urllib.request.urlopen("http://127.0.0.1:8431/sign-in", timeout=5).status)
            break
        except OSError:
            time.sleep(0.2)
finally:
    pages.terminate()
    pages.wait()
"""


def test_the_pages_are_served_without_a_network(installed: Path, place: Path, apart: list[str]) -> None:
    """The pages start and answer over loopback alone."""
    works = shutil.copytree(ROOT / "demo_orders" / "round_kiln_studio", place / "served")
    said = told(
        *(*apart, installed / "python", "-c", PAGES_ALONE, installed / "kilnpack", works, "alone" if apart else ""),
        folder=place,
    )
    assert "200" in said.stdout
