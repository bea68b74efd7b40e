"""The loading sheet of one load: a PDF to print and one page for a tablet, from the same facts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from kilnpack.sheets.facts import Tightest, loading_facts
from kilnpack.sheets.files import file_name, write_bytes
from kilnpack.sheets.loading_html import loading_html
from kilnpack.sheets.loading_pdf import loading_pdf

if TYPE_CHECKING:
    from pathlib import Path

    from kilnpack.model.loads import Load
    from kilnpack.model.works import Works


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadingSheetPaths:
    """Where the two files of a loading sheet were written."""

    pdf: Path
    html: Path


def write_loading_sheet(
    works: Works, load: Load, out_dir: Path, *, title: str | None = None, tightest: Tightest | None = None
) -> LoadingSheetPaths:
    """Write the loading sheet of a load as PDF and as a tablet page.

    Parameters
    ----------
    out_dir
        Folder for both files; made where it is missing.
    title
        What the load is called on every page and, made safe, in the file names; kiln and programme unless given.
    tightest
        Least gap and headroom as the checker found them, printed in the summary.

    Returns
    -------
    LoadingSheetPaths
        The two files. Equal input gives equal bytes.

    Raises
    ------
    SheetNotWritten
        A file cannot be written; nothing half-written is left.
    KeyError
        The load names something the works does not have. Loads are checked before they are drawn.
    """
    name = title or f"Load {load.kiln} {load.programme}"
    facts = loading_facts(works, load, title=name, tightest=tightest or Tightest())
    stem = file_name(name).lower()
    pdf = loading_pdf(facts, made_at=works.now)
    html = loading_html(facts)
    return LoadingSheetPaths(
        pdf=write_bytes(out_dir / f"{stem}.pdf", pdf), html=write_bytes(out_dir / f"{stem}.html", html.encode())
    )
