"""What the pages of one works stand on: its folder, its records, where sheets go, and the key that signs sessions."""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from typing import TYPE_CHECKING

from kilnpack.errors import SheetNotWritten
from kilnpack.whole_files import put_whole, reason_of

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
        key = _kept_key(path)
        if not key:
            put_whole(path, secrets.token_urlsafe(KEY_BYTES).encode("ascii"), rights=0o600)
            key = _kept_key(path)
    except OSError as fault:
        raise SheetNotWritten(path, reason_of(fault)) from fault
    return key


def _kept_key(path: Path) -> str:
    """Return the key that is kept; nothing where there is none, or one so short that anybody may guess it."""
    try:
        key = path.read_bytes().decode("ascii", "replace").strip()
    except FileNotFoundError:
        return ""
    return key if len(key) >= KEY_BYTES else ""
