"""What is printed of the plan that counts, as bytes: workbook, calendar, work list, and every loading sheet at once."""

from __future__ import annotations

import io
import zipfile
from typing import TYPE_CHECKING, Any

from kilnpack.errors import Finding, InputFaulty
from kilnpack.sheets.calendar_file import calendar_bytes
from kilnpack.sheets.files import file_name
from kilnpack.sheets.from_plan import plan_rows
from kilnpack.sheets.tables import LINE_HEADINGS, csv_bytes, line_table, workbook_bytes
from kilnpack.sheets.work_list import work_list, work_list_pdf

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from kilnpack.workflow.shown import Shown

PRINTS = {
    "plan.xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "plan.ics": "text/calendar; charset=utf-8",
    "work-list.pdf": "application/pdf",
    "order-lines.csv": "text/csv; charset=utf-8",
}
"""What there is, and what kind of file it is."""
SHEETS_ZIP = "loading-sheets.zip"
"""All loading sheets, which `sheets_zip` makes piece by piece."""


def plan_print(name: str, shown: Shown | None) -> bytes:
    """Return one of `PRINTS`.

    Parameters
    ----------
    name
        Which one.
    shown
        The plan that counts; None where none was kept.

    Raises
    ------
    InputFaulty
        There is no such thing, or no plan.
    """
    if name not in PRINTS or shown is None:
        raise no_print(name)
    rows = plan_rows(shown.works, shown.plan)
    if name == "plan.xlsx":
        return workbook_bytes(rows)
    if name == "plan.ics":
        return calendar_bytes(rows)
    if name == "work-list.pdf":
        return work_list_pdf(work_list(rows), made_at=rows.made)
    return csv_bytes(LINE_HEADINGS, line_table(rows))


def no_print(name: str) -> InputFaulty:
    """Return the fault that there is no such thing, or no plan."""
    wanted = f"one of {', '.join((*PRINTS, SHEETS_ZIP))}, of a plan that was kept"
    return InputFaulty([Finding(file="pages", row=None, field="print", found=name, wanted=wanted)])


def sheets_zip(sheets: Iterable[tuple[str, Callable[[], bytes]]]) -> Iterator[bytes]:
    """Yield an archive piece by piece: each sheet is made when its turn comes, so that the first is sent at once.

    Parameters
    ----------
    sheets
        Title of each, and what makes its PDF. A PDF is packed already and is stored as it is.
    """
    out = _Passed()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as archive:
        for title, make in sheets:
            archive.writestr(f"{file_name(title).lower()}.pdf", make())
            yield out.taken()
    yield out.taken()


class _Passed(io.RawIOBase):
    """A file that cannot go back, whose content is taken as it comes."""

    def __init__(self) -> None:
        super().__init__()
        self._parts: list[bytes] = []

    def writable(self) -> bool:
        """It is written to."""
        return True

    def write(self, part: Any) -> int:
        """Keep a part until it is taken."""
        self._parts.append(bytes(part))
        return len(part)

    def taken(self) -> bytes:
        """Return what was written since it was taken last."""
        parts, self._parts = self._parts, []
        return b"".join(parts)
