"""Files of a works folder replaced together: all of them, or none, also where the process is killed in between.

Old and new files first lie in a hidden folder. Then the new ones are renamed to their places; the hidden folder goes
when whoever replaces them says that they count. While it lies there nobody reads the works folder; where it stays, the
process was killed, and `make_whole` lets either all of the old files stand or all of the new ones.
"""

from __future__ import annotations

import json
import shutil
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING, Any

from kilnpack.errors import Finding, InputFaulty, SheetNotWritten
from kilnpack.whole_files import ENDING, hidden, names_handed_over, put_whole, reason_of, removed
from kilnpack.works_folder.landing import turn

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterator
    from pathlib import Path

NAME = ".being-replaced"
ABOUT = "about.json"
WANTED = "whole files: kilnpack record init FOLDER, or kilnpack serve, lets all of the old ones or all of the new stand"


@contextmanager
def replaced_together(
    folder: Path, new: dict[str, bytes], *, gone: Collection[str] = (), about: dict[str, Any]
) -> Iterator[None]:
    """Put files in their places for as long as the block goes well; its end says that they count.

    Parameters
    ----------
    new
        Files by name.
    gone
        Names of files that go with that.
    about
        What `make_whole` asks about, where the process is killed before the block is over.

    Raises
    ------
    SheetNotWritten
        The folder cannot be written; what stood there stands there again.
    InputFaulty
        A process was killed here earlier, and the folder is not made whole yet.
    """
    with turn(folder):
        refuse_left(folder)
        _lay_down(folder, new, {*new, *gone}, about)
        try:
            _moved(folder, new, gone)
            yield
        except BaseException:
            _put_back(folder)
            raise
        with suppress(OSError):  # what counts is told by who was asked about it
            _dropped(folder)


def _lay_down(folder: Path, new: dict[str, bytes], names: Collection[str], about: dict[str, Any]) -> None:
    """Put copies of old files, new ones, and what is asked about into the hidden folder, and let it be seen."""
    aside = folder / hidden(NAME.lstrip("."))
    try:
        for left in folder.glob(f".{NAME.lstrip('.')}.*{ENDING}"):
            removed(left)  # nobody else has the turn: its writer was killed
        for part in ("old", "new"):
            (aside / part).mkdir(parents=True)
        stood = [name for name in sorted(names) if (folder / name).is_file()]
        for name in stood:
            put_whole(aside / "old" / name, (folder / name).read_bytes())
            shutil.copymode(folder / name, aside / "old" / name)
        for name, content in new.items():
            put_whole(aside / "new" / name, content)
        said = {"about": about, "stood": stood, "names": sorted(names)}
        put_whole(aside / ABOUT, json.dumps(said).encode())
        aside.rename(folder / NAME)
        names_handed_over(folder)
    except SheetNotWritten as fault:
        raise SheetNotWritten(folder, fault.reason) from fault
    except OSError as fault:
        raise SheetNotWritten(folder, reason_of(fault)) from fault
    finally:
        removed(aside)


def _moved(folder: Path, new: Collection[str], gone: Collection[str]) -> None:
    try:
        for name in new:
            (folder / NAME / "new" / name).replace(folder / name)
        for name in {*gone} - {*new}:
            (folder / name).unlink(missing_ok=True)
    except OSError as fault:
        raise SheetNotWritten(folder, reason_of(fault)) from fault
    names_handed_over(folder)


def _put_back(folder: Path) -> None:
    """Let the old files stand again; it needs no room, and may be cut off and done again."""
    said = _said(folder)
    with suppress(OSError):  # what cannot be put back now is put back by `make_whole`
        for name in said["stood"]:
            with suppress(FileNotFoundError):  # it is back already
                (folder / NAME / "old" / name).replace(folder / name)
        for name in {*said["names"]} - {*said["stood"]}:
            (folder / name).unlink(missing_ok=True)
        _dropped(folder)


def _said(folder: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((folder / NAME / ABOUT).read_bytes())
    return found


def _dropped(folder: Path) -> None:
    """Take the hidden folder away, at once for everybody."""
    aside = folder / hidden(NAME.lstrip("."))
    (folder / NAME).replace(aside)
    removed(aside)


def is_left(folder: Path) -> bool:
    """Tell whether files of a folder are being replaced, or were when a process was killed."""
    return (folder / NAME).is_dir()


def make_whole(folder: Path, counts: Callable[[dict[str, Any]], bool]) -> None:
    """Let all of the old files or all of the new ones stand where a process was killed between them.

    Parameters
    ----------
    counts
        Tells from what was asked about whether the new files count.

    Raises
    ------
    SheetNotWritten
        The folder cannot be written.
    """
    if not is_left(folder):
        return
    with turn(folder):
        if not is_left(folder):
            return
        try:
            if counts(_said(folder)["about"]):
                _dropped(folder)
            else:
                _put_back(folder)
        except OSError as fault:
            raise SheetNotWritten(folder, reason_of(fault)) from fault
        if is_left(folder):
            raise SheetNotWritten(folder, "old files cannot be put back; get the right to write and do it again")


def refuse_left(folder: Path) -> None:
    """Refuse a folder whose files may be of two states.

    Raises
    ------
    InputFaulty
        A process was killed while it replaced some.
    """
    if is_left(folder):
        found = f"being replaced when a process was killed: {', '.join(_said(folder)['names'])}"
        raise InputFaulty([Finding(file=str(folder), row=None, field="", found=found, wanted=WANTED)])


def wait_until_replaced(folder: Path) -> None:
    """Wait until nobody replaces files of a folder that is about to be read.

    Raises
    ------
    InputFaulty
        Whoever did was killed.
    SheetNotWritten
        It goes on for too long.
    """
    if is_left(folder):
        with turn(folder):
            refuse_left(folder)
