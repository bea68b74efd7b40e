#!/usr/bin/env python3
"""Set up kilnpack in its own environment and run it: demo, test, bench, exec.

Needs nothing but Python's standard library. It must parse on Python 3.8, so that an old interpreter is told what is
wanted instead of showing a syntax error.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import shutil
import subprocess
import sys
import time
from contextlib import contextmanager
from pathlib import Path
from typing import Dict, Iterator, List, Optional, Sequence, Tuple

ROOT = Path(__file__).resolve().parent
ENVIRONMENT = ROOT / ".venv"
OUT = ROOT / "out"
RUNTIME_LOCK = "requirements.lock"
DEVELOPMENT_LOCK = "requirements-dev.lock"
OLDEST = (3, 11)
# Interpreters looked for when the one running this file is too old, newest tried first.
CANDIDATES = ("python3.13", "python3.12", "python3.11", "python3", "python")
# What a stamp vouches for; raise it when the steps of set_up change.
SET_UP_VERSION = "1"
# What looks at the pages in the tests, the first found on the path.
BROWSERS = ("chromium", "chromium-browser", "google-chrome")
WHAT_TO_INSTALL = """kilnpack needs Python 3.11 or newer; this is Python {version}.
  Debian, Ubuntu:  apt install python3 python3-venv   (Debian 12 or Ubuntu 23.04 and newer)
  Windows, macOS:  the installer of the Python project, then run the same command with that Python
  anywhere:        install uv; it brings a Python of its own"""
NO_VENV = """This Python cannot make an environment: its 'ensurepip' is missing.
  Debian, Ubuntu:  apt install python3-venv
Then run the same command again."""
NEXT_COMMANDS = {
    "demo": ("exec", "kilnpack", "--help"),
    "test": ("demo",),
}


class Failed(Exception):
    """A step of this file failed; the text says which and what to do."""

    def __init__(self, text: str, code: int = 1) -> None:
        super().__init__(text)
        self.code = code


def say(text: str) -> None:
    """Print one line at once, so that it stands before what a child process prints."""
    print(text, flush=True)


def in_environment(name: str) -> Path:
    """Return the path of a program of the environment."""
    if os.name == "nt":
        return ENVIRONMENT / "Scripts" / (name + ".exe")
    return ENVIRONMENT / "bin" / name


def environment_variables() -> Dict[str, str]:
    """Return the variables for child processes, with the environment's programs first."""
    variables = dict(os.environ)
    variables.pop("PYTHONHOME", None)
    variables["VIRTUAL_ENV"] = str(ENVIRONMENT)
    variables["PATH"] = str(in_environment("python").parent) + os.pathsep + variables.get("PATH", "")
    return variables


def run(command: Sequence[str], variables: Optional[Dict[str, str]] = None) -> int:
    """Run a command at the top of the checkout and return its exit code."""
    merged = environment_variables()
    merged.update(variables or {})
    try:
        return subprocess.call([str(part) for part in command], cwd=str(ROOT), env=merged)
    except OSError as fault:
        say("cannot run {}: {}".format(command[0], fault.strerror))
        return 127


def must(command: Sequence[str], remedy: str) -> None:
    """Run a step of the set-up; a failure ends this file with the remedy."""
    code = run(command)
    if code:
        raise Failed("This step failed (exit {}): {}\n{}".format(code, " ".join(map(str, command)), remedy))


# -- set-up ---------------------------------------------------------------------------------------------------------


def version_of(interpreter: str) -> Tuple[int, int]:
    """Return the version of an interpreter, (0, 0) when it cannot be asked."""
    question = "import sys; print(*sys.version_info[:2])"
    try:
        answer = subprocess.run(
            [interpreter, "-c", question], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, check=True, timeout=20
        ).stdout.split()
        return int(answer[0]), int(answer[1])
    except (OSError, ValueError, IndexError, subprocess.SubprocessError):
        return (0, 0)


def find_interpreter() -> Optional[str]:
    """Return an interpreter that is new enough: the one running, else the first found on the path."""
    if sys.version_info[:2] >= OLDEST:
        return sys.executable
    found = (shutil.which(name) for name in CANDIDATES)
    return next((path for path in found if path and version_of(path) >= OLDEST), None)


def make_environment(uv: Optional[str]) -> None:
    """Make the environment, unless one with a Python that is new enough is there."""
    if version_of(str(in_environment("python"))) >= OLDEST:
        return
    interpreter = find_interpreter()
    if uv:
        wanted = interpreter or ">={}.{}".format(*OLDEST)
        say("Making the environment in .venv with uv ...")
        must([uv, "venv", "--quiet", "--clear", "--python", wanted, str(ENVIRONMENT)], "Remove .venv and try again.")
        return
    if interpreter is None:
        raise Failed(WHAT_TO_INSTALL.format(version="{}.{}".format(*sys.version_info[:2])), 2)
    if subprocess.call([interpreter, "-c", "import ensurepip, venv"], stderr=subprocess.DEVNULL):
        raise Failed(NO_VENV, 2)
    say("Making the environment in .venv ...")
    must([interpreter, "-m", "venv", "--clear", str(ENVIRONMENT)], "Remove .venv and try again.")


def install(lock: Path, uv: Optional[str]) -> None:
    """Install the pinned libraries by their hashes, then the package itself, editable.

    A lock names everything, so nothing is resolved anew: pip would otherwise take up a newer release for a library that
    another one wants with an extra, and refuse it as not pinned.
    """
    say("Installing the libraries pinned in {} with {} ...".format(lock.name, "uv" if uv else "pip"))
    python = str(in_environment("python"))
    if uv:
        installer = [uv, "pip", "install", "--quiet", "--python", python]
    else:
        installer = [python, "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
    network = "Is the network there? The libraries come from the Python package index; try again."
    must([*installer, "--no-deps", "--require-hashes", "-r", str(lock)], network)
    must([*installer, "--no-deps", "--no-build-isolation", "--editable", str(ROOT)], "Remove .venv and try again.")


def digest_of(paths: Sequence[Path]) -> str:
    """Return a digest of the contents of some files."""
    digest = hashlib.sha256(SET_UP_VERSION.encode())
    for path in sorted(paths):
        digest.update(path.read_bytes())
    return digest.hexdigest()


def stamped(name: str, digest: str) -> bool:
    """Say whether a stamp of the environment still holds."""
    stamp = ENVIRONMENT / name
    return stamp.is_file() and stamp.read_text() == digest and in_environment("python").exists()


def lock_stamp(lock_name: str) -> Tuple[str, str]:
    """Return the name and the wanted text of the stamp that a lock file leaves."""
    lock = ROOT / lock_name
    return ".set-up-" + lock.stem, digest_of([lock, ROOT / "pyproject.toml"])


def satisfied(lock_name: str) -> bool:
    """Say whether the environment holds what a lock file pins; the one for development holds everything."""
    return any(stamped(*lock_stamp(name)) for name in (lock_name, DEVELOPMENT_LOCK))


@contextmanager
def one_at_a_time() -> Iterator[None]:
    """Let one process set up while others wait; the lock ends with the process that holds it."""
    with (ROOT / ".venv.lock").open("w") as lock:
        if os.name != "nt":
            import fcntl

            fcntl.flock(lock, fcntl.LOCK_EX)
        yield


def set_up(lock_name: str) -> None:
    """Bring the environment to what a lock file pins; quick when nothing has changed since."""
    uv = shutil.which("uv")
    with one_at_a_time():
        if not satisfied(lock_name):
            started = time.monotonic()
            make_environment(uv)
            install(ROOT / lock_name, uv)
            stamp, text = lock_stamp(lock_name)
            (ENVIRONMENT / stamp).write_text(text)
            say("Set up in {:.0f} s.".format(time.monotonic() - started))
        warm_kernels()


def warm_kernels() -> None:
    """Compile the kernels once and keep them, so that no later run pays for it."""
    if not (ROOT / "kilnpack" / "shapes" / "warm.py").is_file():
        return
    digest = digest_of([path for path in (ROOT / "kilnpack").rglob("*.py") if b"numba" in path.read_bytes()])
    if stamped(".kernels", digest):
        return
    say("Compiling the kernels once (about half a minute on a slow machine) ...")
    started = time.monotonic()
    must([str(in_environment("python")), "-m", "kilnpack.shapes.warm"], "The kernels did not compile.")
    (ENVIRONMENT / ".kernels").write_text(digest)
    say("Kernels compiled in {:.0f} s.".format(time.monotonic() - started))


# -- what is run ----------------------------------------------------------------------------------------------------


def demo(arguments: Sequence[str]) -> int:
    """Run the demonstration works from the works folder to the sheets."""
    set_up(RUNTIME_LOCK)
    command = [str(in_environment("python")), "-m", "kilnpack.workflow.demo", "--out", str(OUT), *arguments]
    return run(command)


def bench(arguments: Sequence[str]) -> int:
    """Run one of the benchmarks: python3 run.py bench shelf --instances DIR --seconds 10 --layouts OUT."""
    modules = (ROOT / "benchmarks").glob("[a-z]*.py")
    names = sorted(path.stem for path in modules if b'if __name__ == "__main__"' in path.read_bytes())
    if not arguments or arguments[0] not in names:
        raise Failed("bench wants one of: {}".format(", ".join(names) or "none is there"), 2)
    set_up(DEVELOPMENT_LOCK)
    return run([str(in_environment("python")), "-m", "benchmarks." + arguments[0], *arguments[1:]])


def execute(arguments: Sequence[str]) -> int:
    """Run any command in the environment: python3 run.py exec kilnpack --help."""
    if not arguments:
        raise Failed("exec wants a command, for example: exec kilnpack --help", 2)
    set_up(RUNTIME_LOCK)
    program = shutil.which(arguments[0], path=environment_variables()["PATH"])
    return run([program or arguments[0], *arguments[1:]])


def browser_there() -> bool:
    """Say whether a browser is there for the tests of pages; as root on a machine with apt, install one."""
    if any(shutil.which(name) for name in BROWSERS):
        return True
    if shutil.which("apt-get") and hasattr(os, "geteuid") and os.geteuid() == 0:
        say("Installing the browser that looks at the pages (Debian's chromium) ...")
        quiet = {"DEBIAN_FRONTEND": "noninteractive"}
        for command in (["apt-get", "update", "-qq"], ["apt-get", "install", "-y", "-qq", "chromium"]):
            subprocess.call(command, env=dict(os.environ, **quiet), stdout=subprocess.DEVNULL)
    if any(shutil.which(name) for name in BROWSERS):
        return True
    say("No browser is there: install chromium, then run the tests again. Those of the pages will fail.")
    return False


def long_tests() -> Tuple[str, str]:
    """Return the name and the marks of the long tests; those on a PostgreSQL server want its programs."""
    if shutil.which("initdb") or any(Path("/usr/lib/postgresql").glob("*/bin/initdb")):
        return "long tests", "long"
    return "long tests; NOT RUN on a server: PostgreSQL is not installed", "long and not postgresql"


def coverage_variables(part: str, **more: str) -> Dict[str, str]:
    """Return the variables of one measured test process."""
    return dict(COVERAGE_FILE=str(ROOT / (".coverage." + part)), **more)


QUICK = "not wheel and not long and not browser"
PARTS = (".coverage.unit", ".coverage.plain", ".coverage.browser")


def test_steps(*, long: bool) -> List[Tuple[str, List[str], Dict[str, str]]]:
    """Return the steps of `test`: name, command, variables."""
    python = str(in_environment("python"))
    pytest = [python, "-m", "pytest", "--quiet"]
    measured = ["--cov", "--cov-report="]
    coverage = [python, "-m", "coverage"]
    whole = coverage_variables("whole")
    full = "kilnpack/rules/*,kilnpack/units.py"
    steps = [
        ("checks", [python, "scripts/check"], {}),
        (
            "unit tests",
            [*pytest, "-n", "2", "--dist", "loadfile", "--durations=12", "-m", QUICK, *measured],
            coverage_variables("unit"),
        ),
        (
            "kernels, compiler off",
            [*pytest, "-n", "2", "-m", "kernel and not long", *measured],
            coverage_variables("plain", NUMBA_DISABLE_JIT="1"),
        ),
        ("pages in a browser", [*pytest, "-m", "browser and not long", *measured], coverage_variables("browser")),
        ("coverage, combined", [*coverage, "combine", "--quiet", *PARTS], whole),
        ("coverage, whole >= 95 %", [*coverage, "report", "--fail-under=95"], whole),
        ("coverage, rules and units 100 %", [*coverage, "report", "--include=" + full, "--fail-under=100"], whole),
        ("package", [*pytest, "-m", "wheel", "-s"], {}),
    ]
    if long:
        name, marks = long_tests()
        steps.append((name, [*pytest, "-m", marks], {}))
    return steps


def test(arguments: Sequence[str]) -> int:
    """Run every check and test; go on after a failure, so that all of them are seen."""
    parser = argparse.ArgumentParser(prog="run.py test")
    parser.add_argument("--long", action="store_true", help="the tests that take minutes as well")
    options = parser.parse_args(arguments)
    set_up(DEVELOPMENT_LOCK)
    browser_there()
    for old in ROOT.glob(".coverage*"):
        old.unlink()
    results = []
    for name, command, variables in test_steps(long=options.long):
        say("\n== {}".format(name))
        started = time.monotonic()
        code = run(command, variables)
        results.append((name, code, time.monotonic() - started))
    say("\n== summary")
    for name, code, seconds in results:
        say("{:5s} {:6.1f} s  {}".format("ok" if code == 0 else "FAILS", seconds, name))
    return 1 if any(code for _, code, _ in results) else 0


COMMANDS = {"demo": demo, "test": test, "bench": bench, "exec": execute}


def main(arguments: Sequence[str]) -> int:
    """Run one command and return the exit code."""
    parser = argparse.ArgumentParser(
        prog="run.py",
        description=(__doc__ or "").splitlines()[0],
        epilog="\n".join("{:6s} {}".format(name, (do.__doc__ or "").splitlines()[0]) for name, do in COMMANDS.items()),
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("command", choices=sorted(COMMANDS))
    parser.add_argument("arguments", nargs=argparse.REMAINDER, help="what the command takes")
    options = parser.parse_args(arguments)
    try:
        code = COMMANDS[options.command](options.arguments)
    except Failed as failed:
        print(failed, file=sys.stderr)
        return failed.code
    except KeyboardInterrupt:
        return 130
    following = NEXT_COMMANDS.get(options.command)
    if code == 0 and following:
        name = "py" if os.name == "nt" else "python3"
        say("\nGo on with:  {} run.py {}".format(name, " ".join(following)))
    return code


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
