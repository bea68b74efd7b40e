"""Files that are seen whole or not at all, whatever happens while they are written.

A file is written beside its place under a hidden name, handed to the disk, and then renamed to its place. A process
that is killed, a disk that is full and a lost network drive leave what stood there before.
"""

from __future__ import annotations

import errno
import logging
import os
import secrets
import shutil
import time
from contextlib import suppress
from typing import TYPE_CHECKING

from kilnpack.errors import SheetNotWritten

if TYPE_CHECKING:
    from pathlib import Path

ENDING = ".part"
"""How the hidden names of what is being written end."""
LEFT_OVER_S = 3600.0
"""A hidden file of this age was left by a process that was killed."""
MOST_BESIDE = 99
LONGEST = 80
"""Signs of a name that are kept in the hidden one, so that it is never too long for the file system."""
REASONS = {
    errno.ENOSPC: "the disk is full; make room and do it again",
    errno.EDQUOT: "your share of the disk is used up; make room and do it again",
    errno.EFBIG: "it is larger than a file may be here; lift the limit, or name another place",
    errno.EROFS: "the disk is read-only; name another place",
    errno.EACCES: "you have no right to write there; get it, or name another place",
    errno.EPERM: "you have no right to write there; get it, or name another place",
    errno.ENOTDIR: "a part of its path is a file and no folder; name another place",
    errno.EISDIR: "a folder of this name is there; name another place",
    errno.EBUSY: "another program holds it; close it there and do it again",
    errno.EMFILE: "too many files are open at once; close other programs and do it again",
    errno.EIO: "the disk reports a fault; look after it, then do it again elsewhere",
}
NO_TEMPORARY = "No usable temporary directory"
"""How Python begins to say that it found no folder for temporary files."""
_BINARY = getattr(os, "O_BINARY", 0)
_said = logging.getLogger("kilnpack")


def reason_of(fault: OSError) -> str:
    """Return why a file could not be written, in words, with the remedy where it is known."""
    if (fault.strerror or "").startswith(NO_TEMPORARY):
        return "no folder for temporary files has room and lets you write; make room, or name one in TMPDIR"
    return REASONS.get(fault.errno or 0) or fault.strerror or str(fault)


def put_whole(path: Path, content: bytes, *, beside: bool = False, rights: int = 0o666) -> Path:
    """Put a file in its place, whole.

    Parameters
    ----------
    path
        Its folder must be there.
    beside
        Where what stands there cannot be replaced, as it is open in a viewer, put the new file beside it under another
        name and say so. Only for what people pick up by hand: a table that is read by its name is refused instead.
    rights
        Who may read and write it, less what the account's mask takes away.

    Returns
    -------
    Path
        Where it stands.

    Raises
    ------
    SheetNotWritten
        It could not be written or moved; what stood there stands there, and nothing else is left.
    """
    aside = path.parent / hidden(path.name)
    try:
        clear_left_overs(path)
        with os.fdopen(os.open(aside, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _BINARY, rights), "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        return moved(aside, path, beside=beside)
    except OSError as fault:
        raise SheetNotWritten(path, reason_of(fault)) from fault
    finally:
        with suppress(OSError):
            aside.unlink(missing_ok=True)


def moved(aside: Path, path: Path, *, beside: bool) -> Path:
    """Rename a whole file to its place, or where that is held by another program, to a name beside it.

    Raises
    ------
    OSError
        It cannot be renamed.
    """
    try:
        aside.replace(path)
    except OSError as fault:
        held = isinstance(fault, PermissionError) or fault.errno == errno.EBUSY
        if not (held and beside and path.is_file()):
            raise
        other = free_name(path)
        aside.replace(other)
        _said.warning("%s cannot be replaced, as if another program holds it open; the new one is %s", path, other)
        return other
    return path


def names_handed_over(folder: Path) -> None:
    """Hand the names in a folder to the disk, where the system can: what was renamed before is so after a power cut."""
    with suppress(OSError):
        held = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(held)
        finally:
            os.close(held)


def files_handed_over(folder: Path) -> None:
    """Hand every file of a folder to the disk.

    Raises
    ------
    OSError
        The disk does not take it.
    """
    for path in folder.rglob("*"):
        if path.is_file():
            with path.open("r+b") as file:
                os.fsync(file.fileno())


def free_name(path: Path) -> Path:
    """Return a name beside a file or folder under which nothing stands yet: ``plan-2.pdf`` beside ``plan.pdf``.

    Raises
    ------
    SheetNotWritten
        There are too many already.
    """
    for number in range(2, MOST_BESIDE + 1):
        other = path.with_name(f"{path.stem}-{number}{path.suffix}")
        if not other.exists():
            return other
    raise SheetNotWritten(path, f"it and {MOST_BESIDE - 1} others of its name are there; take old ones away")


def hidden(name: str) -> str:
    """Return a hidden name under which something is written before it gets its own."""
    return f".{name[:LONGEST]}.{secrets.token_hex(4)}{ENDING}"


def clear_left_overs(path: Path) -> None:
    """Take away what killed processes left half-written of a file or folder."""
    begins, now = f".{path.name[:LONGEST]}.", time.time()
    with suppress(OSError):
        for one in path.parent.iterdir():
            if one.name.startswith(begins) and one.name.endswith(ENDING):
                with suppress(OSError):
                    if now - one.lstat().st_mtime > LEFT_OVER_S:
                        removed(one)


def removed(path: Path) -> None:
    """Take a file or a folder away, as far as that can be done."""
    if path.is_dir() and not path.is_symlink():
        shutil.rmtree(path, ignore_errors=True)
    else:
        with suppress(OSError):
            path.unlink(missing_ok=True)
