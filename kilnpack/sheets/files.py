"""Writing what people hold."""

from __future__ import annotations

import re
from importlib.util import find_spec
from pathlib import Path

from kilnpack.errors import SheetNotWritten
from kilnpack.whole_files import put_whole, reason_of


def write_bytes(path: Path, content: bytes) -> Path:
    """Put a file in its place, whole; missing folders are made.

    Returns
    -------
    Path
        Where it stands: beside the place, where another program holds what stands there.

    Raises
    ------
    SheetNotWritten
        The place cannot be written.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise SheetNotWritten(path, reason_of(fault)) from fault
    return put_whole(path, content, beside=True)


def file_name(text: str) -> str:
    """Return a name that every file system takes: letters, figures, dot, dash and underscore."""
    return re.sub(r"[^A-Za-z0-9._-]+", "-", text).strip("-.") or "sheet"


def fonts_folder() -> Path:
    """Return the folder of the free fonts that come with the chart library.

    The library is looked for and not imported, which would take longer than writing a sheet.
    """
    spec = find_spec("matplotlib")
    if spec is None or spec.origin is None:
        raise SheetNotWritten(Path("matplotlib/mpl-data/fonts"), "the package that carries the fonts is missing")
    return Path(spec.origin).parent / "mpl-data" / "fonts" / "ttf"
