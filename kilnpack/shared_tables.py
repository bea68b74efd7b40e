"""The one reader of the published tables in `shared/`.

An installed package carries them as `kilnpack/shared`; in a checkout they lie beside the package. Every table is a
CSV file with a heading; every row names its source by a key of `sources.toml`. Values stay text: whoever uses a
table knows its units from the headings.
"""

from __future__ import annotations

import csv
import io
import tomllib
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable


def _folder() -> Traversable:
    packed = files("kilnpack") / "shared"
    return packed if packed.is_dir() else Path(__file__).resolve().parent.parent / "shared"


@cache
def table(name: str) -> tuple[dict[str, str], ...]:
    """Return the rows of a published table, each as heading -> text.

    Parameters
    ----------
    name
        Name of the table without its ending: ``table("cones")`` reads ``shared/cones.csv``.

    Raises
    ------
    LookupError
        There is no such table; the message names those there are.
    """
    folder = _folder()
    found = folder / f"{name}.csv"
    if not found.is_file():
        known = ", ".join(table_names())
        raise LookupError(f"no published table {name!r}; there are: {known}")
    return tuple(csv.DictReader(io.StringIO(found.read_text(encoding="utf-8"))))


@cache
def table_names() -> tuple[str, ...]:
    """Return the names of all published tables, sorted."""
    names = (entry.name for entry in _folder().iterdir())
    return tuple(sorted(name.removesuffix(".csv") for name in names if name.endswith(".csv")))


@cache
def sources() -> dict[str, dict[str, str]]:
    """Return the sources, key -> title, kind, where (and what else `sources.toml` says of each)."""
    return tomllib.loads((_folder() / "sources.toml").read_text(encoding="utf-8"))
