"""What a killed or refused command leaves behind: files and rows, looked at as whole or not."""

from __future__ import annotations

import io
import re
import sqlite3
import zipfile
from contextlib import closing
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

MOMENT = re.compile(r"\d{4}-\d\d-\d\d[ T]\d\d:\d\d:\d\d[.\d]*(\+00:00)?")
ENDINGS = {
    ".pdf": b"%%EOF",
    ".html": b"</html>",
    ".png": b"IEND\xaeB`\x82",
    ".ics": b"END:VCALENDAR",
    ".svg": b"</svg>",
}
NOT_COMPARED = ("at", "password_hash")


def files_of(place: Path) -> dict[str, object]:
    """Return the files that people see in a folder; a workbook by its parts, as it bears the moment it was made."""
    files = [one for one in place.rglob("*") if one.is_file()] if place.is_dir() else []
    return {
        str(one.relative_to(place)): content_of(one)
        for one in files
        if not any(part.startswith(".") for part in one.relative_to(place).parts)
    }


def content_of(path: Path) -> object:
    """Return what a file holds, and that it is not cut off."""
    content = path.read_bytes()
    if content.startswith(b"older: "):
        return content
    assert ENDINGS.get(path.suffix, b"") in content[-40:], path
    if path.suffix == ".xlsx":
        with zipfile.ZipFile(io.BytesIO(content)) as parts:
            return {name: parts.read(name) for name in parts.namelist() if not name.startswith("docProps/")}
    return content


def rows_of(data: Path) -> dict[str, object]:
    """Return what the records hold, without moments and salted passwords; they must be whole."""
    if not data.exists():
        return {}
    with closing(sqlite3.connect(data)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
        tables = [name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        found: dict[str, object] = {}
        for table in sorted(tables):
            columns = [row[1] for row in connection.execute(f"PRAGMA table_info({table})")]
            chosen = ", ".join(f'"{one}"' for one in columns if not one.endswith("_at") and one not in NOT_COMPARED)
            rows = connection.execute(f"SELECT {chosen} FROM {table} ORDER BY 1").fetchall()
            found[table] = [
                tuple(MOMENT.sub("then", one) if isinstance(one, str) else one for one in row) for row in rows
            ]
        return found


def differing(found: dict[str, object], other: dict[str, object]) -> list[str]:
    """Return the tables that are not the same."""
    return sorted(name for name in found.keys() | other.keys() if found.get(name) != other.get(name))
