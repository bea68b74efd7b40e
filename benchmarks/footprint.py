"""What the command line costs before it works: start-up, memory, and the size of the package and its libraries.

python3 run.py bench footprint [--works FOLDER]
"""

from __future__ import annotations

import argparse
import re
import resource
import subprocess
import sys
from importlib import metadata
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

ROOT = Path(__file__).resolve().parent.parent
COMMAND = "from kilnpack.cli.main import run; run()"
UNTIL_FIRST_LOAD = """
import sys, resource, time
from kilnpack.search.budget import Budget
from kilnpack.workflow.loading import load_kiln
from pathlib import Path
from tempfile import TemporaryDirectory
class Ear:
    def heard(self, progress):
        print(time.process_time(), resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
        sys.stdout.flush()
        import os
        os._exit(0)
load_kiln(Path(sys.argv[1]), "E1", "BISC", Path(sys.argv[1]) / "none", budget=Budget(seconds=20), listener=Ear())
"""
"""Ends with the first line of progress, before anything is written."""


def spent(*words: str) -> tuple[float, float]:
    """Return processor seconds and peak MB of one command; a larger one before it hides the peak."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([sys.executable, "-c", COMMAND, *words], cwd=ROOT, stdout=subprocess.DEVNULL, check=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    seconds = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return seconds, after.ru_maxrss / 1024.0


def until_first_load(works: Path) -> tuple[float, float]:
    """Return processor seconds and peak MB until `load` tells of progress for the first time."""
    ran = subprocess.run(
        [sys.executable, "-c", UNTIL_FIRST_LOAD, str(works)], cwd=ROOT, stdout=subprocess.PIPE, text=True, check=True
    )
    seconds, peak_mb = ran.stdout.split()
    return float(seconds), float(peak_mb)


def installed_mb(name: str) -> float:
    """Return the size of an installed library's files, MB; 0 where it is not for this system."""
    try:
        files = metadata.files(name) or []
    except metadata.PackageNotFoundError:
        return 0.0
    paths = (Path(str(file.locate())) for file in files)
    return sum(path.stat().st_size for path in paths if path.is_file()) / 1e6


def locked(lock: str) -> list[str]:
    """Return the names that a lock file pins."""
    return re.findall(r"^([A-Za-z0-9_.-]+)==", (ROOT / lock).read_text(encoding="utf-8"), re.M)


def own_mb(ending: str) -> float:
    """Return the size of the package's own files with an ending, MB."""
    files = (path for folder in ("kilnpack", "shared") for path in (ROOT / folder).rglob(f"*{ending}"))
    return sum(path.stat().st_size for path in files if path.is_file() and "__pycache__" not in path.parts) / 1e6


def main(words: Sequence[str] | None = None) -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(prog="bench footprint", description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--works", type=Path, default=Path("demo_orders/porcelain_works"))
    asked = parser.parse_args(words)
    for what in (("--help",), ("load", "--help"), ("check", str(asked.works))):
        seconds, peak_mb = spent(*what)
        print(f"kilnpack {' '.join(what):36} {seconds:6.2f} processor s, peak {peak_mb:4.0f} MB", flush=True)
    seconds, peak_mb = until_first_load(asked.works)
    print(f"{'kilnpack load, until the first line':45} {seconds:6.2f} processor s, peak {peak_mb:4.0f} MB")
    print(f"the package itself: {own_mb(''):.1f} MB, of it Python {own_mb('.py'):.1f} MB")
    sizes = sorted(((installed_mb(name), name) for name in locked("requirements.lock")), reverse=True)
    largest = ", ".join(f"{name} {size:.0f}" for size, name in sizes[:8])
    print(f"its libraries: {sum(size for size, _ in sizes):.0f} MB in {len(sizes)}; the largest: {largest}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
