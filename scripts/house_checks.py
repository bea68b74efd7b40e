"""Checks of the house that no ready tool makes: sources, licences, and what may not stand in a file.

Each check is a function that takes the top of the checkout and returns its faults as lines; no line means good.
"""

from __future__ import annotations

import ast
import csv
import re
import subprocess
import tomllib
from typing import TYPE_CHECKING

from scripts.licences import licence_faults

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

KINDS = (
    "common-practice",
    "forum",
    "handbook",
    "maker-data",
    "memory",
    "open-data",
    "own-calculation",
    "standard",
)
LARGEST_BYTES = 600_000
# Written so that no pattern matches its own line.
FORBIDDEN = {
    "path of one machine": re.compile(r"(?<![\w.}>])/(?:work|farm|root|home)/"),
    "file outside the checkout": re.compile(r"\.\.[/]shared"),
    "host of a package index": re.compile(r"pypi[.]org|pythonhoste[d]|registry[.]npmjs|deb[.]debian"),
}
FORBIDDEN_IN_CODE = {
    "test switched off": re.compile(r"pytest[.]skip|mark[.]skip|mark[.]xfail|assert[ ]True\b"),
    "promise instead of work": re.compile(r"\b(?:TO[D]O|FIX[M]E|NotImplemented[E]rror)\b"),
}


def files_of(root: Path) -> Iterator[Path]:
    """Yield every file that is tracked or would be."""
    listed = subprocess.run(
        ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=root,
        capture_output=True,
        check=True,
    )
    for name in sorted(set(listed.stdout.decode().split("\0"))):
        path = root / name
        if name and path.is_file():
            yield path


def source_table_faults(root: Path) -> list[str]:
    """Every source says title, kind and where."""
    sources = tomllib.loads((root / "shared" / "sources.toml").read_text(encoding="utf-8"))
    faults = []
    for key, source in sources.items():
        missing = [name for name in ("title", "kind", "where") if not source.get(name)]
        if missing:
            faults.append(f"shared/sources.toml: {key} lacks {', '.join(missing)}")
        elif source["kind"] not in KINDS:
            faults.append(f"shared/sources.toml: {key} has kind {source['kind']!r}, wanted one of {', '.join(KINDS)}")
    return faults


def source_row_faults(root: Path) -> list[str]:
    """Every row of a published table names its source by a key there is."""
    known = set(tomllib.loads((root / "shared" / "sources.toml").read_text(encoding="utf-8")))
    faults = []
    for path in sorted((root / "shared").glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as lines:
            for number, row in enumerate(csv.DictReader(lines), start=2):
                if None in row or None in row.values():
                    faults.append(f"shared/{path.name}: row {number} has not as many cells as the heading")
                elif row.get("source") not in known:
                    faults.append(f"shared/{path.name}: row {number} names the source {row.get('source')!r}")
    return faults


def cited_keys(docstring: str) -> list[str]:
    """Return the keys a docstring cites: what stands in single backticks at the start of a line of References."""
    _, found, section = docstring.partition("References\n")
    section = section.lstrip().lstrip("-")
    section = re.split(r"\n[A-Z][a-z]+\n-{3,}\n", section)[0] if found else ""
    return re.findall(r"^\s*(?:[-*.\[\]0-9]+\s)?`([a-z0-9][a-z0-9.-]*)`", section, re.M)


def docstring_source_faults(root: Path) -> list[str]:
    """Every key cited under References in a docstring is a source there is."""
    known = set(tomllib.loads((root / "shared" / "sources.toml").read_text(encoding="utf-8")))
    documented = (ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef)
    faults = []
    for path in sorted((root / "kilnpack").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            text = ast.get_docstring(node) if isinstance(node, documented) else None
            unknown = [key for key in cited_keys(text or "") if key not in known]
            faults += [f"{path.relative_to(root)}: cites {key!r}, not in shared/sources.toml" for key in unknown]
    return faults


def forbidden_faults(root: Path) -> list[str]:
    """No tracked file names a path of one machine or a package host; no code promises instead of doing."""
    faults = []
    for path in files_of(root):
        name = path.relative_to(root)
        if path.stat().st_size > LARGEST_BYTES:
            faults.append(f"{name}: {path.stat().st_size} bytes, wanted at most {LARGEST_BYTES}")
        raw = path.read_bytes()
        if b"\0" in raw or path.name.endswith(".min.js"):
            continue
        code = name.parts[0] in ("kilnpack", "tests", "benchmarks", "scripts")
        patterns = {**FORBIDDEN, **FORBIDDEN_IN_CODE} if code else FORBIDDEN
        for number, line in enumerate(raw.decode("utf-8", "replace").splitlines(), start=1):
            faults += [f"{name}:{number}: {what}" for what, pattern in patterns.items() if pattern.search(line)]
    return faults


HOUSE_CHECKS: dict[str, Callable[[Path], list[str]]] = {
    "sources: the list": source_table_faults,
    "sources: the tables": source_row_faults,
    "sources: the docstrings": docstring_source_faults,
    "what may not stand in a file": forbidden_faults,
    "licences": licence_faults,
}
