"""A PostgreSQL server of the tests' own, in a folder that is thrown away; only for the long tests."""

from __future__ import annotations

import os
import shutil
import subprocess
from contextlib import contextmanager
from pathlib import Path
from tempfile import mkdtemp
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

DEBIAN = Path("/usr/lib/postgresql")


def programs() -> Path | None:
    """Return the folder of initdb and pg_ctl, the newest there is, or None."""
    found = shutil.which("initdb")
    if found:
        return Path(found).resolve().parent
    debian = sorted(DEBIAN.glob("*/bin/initdb"), key=lambda path: float(path.parts[-3]))
    return debian[-1].parent if debian else None


@contextmanager
def server() -> Iterator[str]:
    """Run a server over a socket in its own folder, without a port, and return its address."""
    folder = Path(mkdtemp(prefix="kp-pg-", dir="/tmp"))
    bin_folder = programs()
    assert bin_folder is not None, "no PostgreSQL; run.py says so and leaves these tests out"
    data = folder / "data"
    if os.geteuid() == 0:
        shutil.chown(folder, "nobody")
    try:
        _run(bin_folder / "initdb", "-D", data, "-U", "kilnpack", "--auth=trust", "--no-sync", "-E", "UTF8")
        options = f"-c listen_addresses='' -c unix_socket_directories='{folder}' -c fsync=off"
        _run(bin_folder / "pg_ctl", "-D", data, "-w", "-l", folder / "log", "-o", options, "start")
        try:
            yield f"postgresql://kilnpack@/postgres?host={folder}"
        finally:
            _run(bin_folder / "pg_ctl", "-D", data, "-w", "-m", "immediate", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _run(*command: object) -> None:
    """Run a program of the server; it refuses to be root, so root gives way to nobody."""
    words = [str(word) for word in command]
    user = "nobody" if os.geteuid() == 0 else None
    ran = subprocess.run(
        words, user=user, cwd="/", stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE,
        text=True, check=False,
    )  # fmt: skip
    assert ran.returncode == 0, ran.stderr
