"""What is printed of the plan that counts, as bytes: workbook, calendar, work list, and every loading sheet at once."""

from __future__ import annotations

import io
import zipfile
from typing import TYPE_CHECKING

from kilnpack.errors import Finding, InputFaulty
from kilnpack.rules.checker import audit
from kilnpack.sheets.calendar_file import calendar_bytes
from kilnpack.sheets.facts import loading_facts
from kilnpack.sheets.files import file_name
from kilnpack.sheets.from_plan import plan_rows, sheet_title, works_of_firing
from kilnpack.sheets.loading_pdf import loading_pdf
from kilnpack.sheets.tables import LINE_HEADINGS, csv_bytes, line_table, workbook_bytes
from kilnpack.sheets.work_list import work_list, work_list_pdf
from kilnpack.workflow.loading import tightest_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from kilnpack.records.standing_plan import FiringHead
    from kilnpack.workflow.shown import Shown

PRINTS = {
    "plan.xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "plan.ics": "text/calendar; charset=utf-8",
    "work-list.pdf": "application/pdf",
    "order-lines.csv": "text/csv; charset=utf-8",
    "loading-sheets.zip": "application/zip",
}
"""What there is, and what kind of file it is."""


def plan_print(name: str, shown: Shown | None, heads: Mapping[str, FiringHead]) -> bytes:
    """Return one of `PRINTS`.

    Parameters
    ----------
    name
        Which one.
    shown
        The plan that counts; None where none was kept.
    heads
        How far its firings are: those that are over have no loading sheet any more.

    Raises
    ------
    InputFaulty
        There is no such thing, or no plan.
    """
    if name not in PRINTS or shown is None:
        wanted = f"one of {', '.join(PRINTS)}, of a plan that was kept"
        raise InputFaulty([Finding(file="pages", row=None, field="print", found=name, wanted=wanted)])
    rows = plan_rows(shown.works, shown.plan)
    if name == "plan.xlsx":
        return workbook_bytes(rows)
    if name == "plan.ics":
        return calendar_bytes(rows)
    if name == "work-list.pdf":
        return work_list_pdf(work_list(rows), made_at=rows.made)
    if name == "order-lines.csv":
        return csv_bytes(LINE_HEADINGS, line_table(rows))
    return _sheets(shown, heads)


def _sheets(shown: Shown, heads: Mapping[str, FiringHead]) -> bytes:
    """Return the loading sheets of all firings that are still in the plan."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for firing in shown.plan.firings:
            if firing.code in heads:
                works = works_of_firing(shown.works, firing)
                tightest = tightest_of(audit(works, firing.load))
                facts = loading_facts(works, firing.load, title=sheet_title(firing), tightest=tightest)
                archive.writestr(f"{file_name(facts.title).lower()}.pdf", loading_pdf(facts, made_at=works.now))
    return out.getvalue()
