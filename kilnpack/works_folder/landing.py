"""A folder of sheets that is replaced as one: all of it is written aside, and then moved there file by file.

While files are moved a note lies in the folder; where it stays, the moving was cut off and old and new files lie side
by side. Two processes take turns. One that finds the folder changed since it began to work keeps what is there and
writes into a folder beside it.
"""

from __future__ import annotations

import logging
import os
import time
from contextlib import contextmanager, suppress
from dataclasses import dataclass, fields, is_dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from kilnpack.errors import SheetNotWritten
from kilnpack.whole_files import ENDING, free_name, hidden, moved, put_whole, reason_of, removed

if TYPE_CHECKING:
    from collections.abc import Iterator

NOTE = "being-written.txt"
NOTE_TEXT = (
    b"New sheets are being moved into this folder. Where this note stays, the moving was cut off: old and new sheets\n"
    b"lie side by side, and nobody should load a kiln from them. Run the command again; then this note goes.\n"
)
WAIT_S = 60.0
"""How long one process waits for another that writes into the same folder."""
_LOOK_AGAIN_S = 0.05
_ASIDE = "new"
_Value = TypeVar("_Value")
_said = logging.getLogger("kilnpack")

State = tuple[tuple[str, int, int, int], ...]


def state_of(folder: Path) -> State:
    """Return what tells one state of a folder's saved values from another; nothing where there is no folder.

    Asked for before the work is begun and given to `landing` at its end.
    """
    found = []
    with suppress(OSError):
        for path in folder.glob("*.json"):
            said = path.stat()
            found.append((path.name, said.st_ino, said.st_mtime_ns, said.st_size))
    return tuple(sorted(found))


@dataclass(slots=True)
class Landing:
    """Write into `aside`; at the end everything stands in `folder`, and `landed` says what came from where."""

    folder: Path
    aside: Path
    landed: dict[Path, Path]

    def final(self, value: _Value) -> _Value:
        """Return a value with the places where files were written aside as the places where they stand now."""
        return self._final(value)  # type: ignore[no-any-return]

    def _final(self, value: Any) -> Any:
        if isinstance(value, Path):
            return self.landed.get(value, value)
        if isinstance(value, dict):
            return {key: self._final(one) for key, one in value.items()}
        if isinstance(value, tuple | list):
            return type(value)(self._final(one) for one in value)
        if is_dataclass(value) and not isinstance(value, type):
            own = {one.name: getattr(value, one.name) for one in fields(value)}
            changed = {name: new for name, old in own.items() if (new := self._final(old)) != old}
            return replace(value, **changed) if changed else value
        return value


@contextmanager
def landing(folder: Path, seen: State) -> Iterator[Landing]:
    """Give a place to write aside, and put what was written there into a folder when all of it is whole.

    Parameters
    ----------
    folder
        Made where it is missing. What stands in it under other names stays.
    seen
        Its `state_of` when the work was begun.

    Raises
    ------
    SheetNotWritten
        The place is full, read-only or held by another process; what stood there still stands there.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with turn(folder):
            if state_of(folder) != seen:
                yield from _into_another(folder)
                return
            yield from _into(folder)
    except OSError as fault:
        raise SheetNotWritten(folder, reason_of(fault)) from fault


def _into_another(folder: Path) -> Iterator[Landing]:
    other = free_name(folder)
    other.mkdir()
    _said.warning("%s was written by another process meanwhile and stays as it is; this goes to %s", folder, other)
    with turn(other):
        yield from _into(other)


def _into(folder: Path) -> Iterator[Landing]:
    for name in (_ASIDE, NOTE):
        for left in folder.glob(f".{name}.*{ENDING}"):
            removed(left)  # nobody else has the turn: its writer was killed
    aside = folder / hidden(_ASIDE)
    aside.mkdir()
    try:
        place = Landing(folder, aside, {})
        yield place
        place.landed |= _all_moved(aside, folder)
    finally:
        removed(aside)


def _all_moved(aside: Path, folder: Path) -> dict[Path, Path]:
    """Move every file from aside into the folder."""
    files = sorted((one for one in aside.rglob("*") if one.is_file()), key=_last_of_all)
    if not files:
        return {}
    for one in files:
        (folder / one.relative_to(aside)).parent.mkdir(parents=True, exist_ok=True)
    note = put_whole(folder / NOTE, NOTE_TEXT)
    found = {one: moved(one, folder / one.relative_to(aside), beside=True) for one in files}
    note.unlink()
    return found


def _last_of_all(path: Path) -> tuple[bool, int, Path]:
    """Put saved values behind the sheets drawn from them, and the value of the whole folder last."""
    return path.suffix == ".json", -len(path.parts), path


@contextmanager
def turn(folder: Path) -> Iterator[None]:
    """Wait until no other process writes into the folder; the turn ends with the process that has it.

    Systems that cannot lock a folder give no turns.

    Raises
    ------
    SheetNotWritten
        Another has the turn for too long.
    """
    try:
        import fcntl
    except ImportError:
        yield
        return
    held = os.open(folder, os.O_RDONLY)
    try:
        until = time.monotonic() + WAIT_S
        while not _locked(held, fcntl):
            if time.monotonic() > until:
                raise SheetNotWritten(folder, f"another process has been writing into it for {WAIT_S:.0f} s; try again")
            time.sleep(_LOOK_AGAIN_S)
        yield
    finally:
        os.close(held)


def _locked(held: int, fcntl: Any) -> bool:
    """Take the turn where it is free; a file system that knows no turns lets everybody pass."""
    try:
        fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:
        return True
    return True
