"""Writing what people hold: aside first, then renamed, so that no half-written file is ever seen."""

from __future__ import annotations

import re
import tempfile
from importlib.util import find_spec
from pathlib import Path

from kilnpack.errors import SheetNotWritten


def write_bytes(path: Path, content: bytes) -> Path:
    """Write a file beside its place and rename it there; missing folders are made.

    Raises
    ------
    SheetNotWritten
        The place cannot be written.
    """
    aside: Path | None = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(dir=path.parent, prefix=f".{path.name}.", delete=False) as file:
            aside = Path(file.name)
            file.write(content)
        aside.chmod(0o644)
        aside.replace(path)
    except OSError as fault:
        if aside is not None:
            aside.unlink(missing_ok=True)
        raise SheetNotWritten(path, fault.strerror or str(fault)) from fault
    return path


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
