"""What the pages of one works stand on: its folder, its records, where sheets go, and the key that signs sessions."""

from __future__ import annotations

import os
import secrets
from dataclasses import dataclass
from typing import TYPE_CHECKING

from kilnpack.errors import SheetNotWritten

if TYPE_CHECKING:
    from pathlib import Path

    from kilnpack.records.store import Records

KEY_BYTES = 32
KEY_NAME = "sign-in.key"
SHEETS_NAME = "sheets"


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """One works as the pages see it.

    Attributes
    ----------
    folder
        The works folder.
    records
        Open records of the works.
    keeping
        Folder for what the pages write: sheets asked for, and the key that signs sessions.
    secure
        Whether the pages are reached by https, so that cookies travel by nothing else.
    """

    folder: Path
    records: Records
    keeping: Path
    secure: bool = False


def session_key(keeping: Path) -> str:
    """Return the key that signs sessions, made at the first call and kept readable for its owner alone.

    Raises
    ------
    SheetNotWritten
        The folder does not allow it.
    """
    path = keeping / KEY_NAME
    try:
        keeping.mkdir(parents=True, exist_ok=True)
        try:
            handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        except FileExistsError:
            return path.read_text(encoding="ascii").strip()
        with os.fdopen(handle, "w", encoding="ascii") as file:
            key = secrets.token_urlsafe(KEY_BYTES)
            file.write(key)
    except OSError as fault:
        raise SheetNotWritten(path, fault.strerror or str(fault)) from fault
    return key
