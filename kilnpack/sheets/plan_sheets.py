"""The plan for people: chart of kilns and cars, chart of order lines, tables, calendar, work list, late lines."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, time
from html import escape
from typing import TYPE_CHECKING

from kilnpack.sheets.calendar_file import calendar_bytes
from kilnpack.sheets.charts import gantt, inline
from kilnpack.sheets.files import write_bytes
from kilnpack.sheets.plan_rows import DueMark
from kilnpack.sheets.tables import FIRING_HEADINGS, LINE_HEADINGS, csv_bytes, firing_table, line_table, workbook_bytes
from kilnpack.sheets.tablet import packed
from kilnpack.sheets.work_list import work_list, work_list_html, work_list_pdf

if TYPE_CHECKING:
    from pathlib import Path

    from kilnpack.sheets.plan_rows import FiringRow, LineRow, PlanRows


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanPaths:
    """Where the plan's files were written."""

    page: Path
    chart_svg: Path
    chart_png: Path
    lines_svg: Path
    firings_csv: Path
    lines_csv: Path
    workbook: Path
    calendar: Path
    work_html: Path
    work_pdf: Path


def write_plan_sheets(rows: PlanRows, out_dir: Path) -> PlanPaths:
    """Write everything people hold of a plan.

    Raises
    ------
    SheetNotWritten
        A file cannot be written.
    """
    chart, lines = _kiln_chart(rows, "svg"), _line_chart(rows)
    work = work_list(rows)
    page = _page(rows, inline(chart, "kilns-"), inline(lines, "lines-"))
    firings, order_lines = firing_table(rows), line_table(rows)
    return PlanPaths(
        page=write_bytes(out_dir / "plan.html", page.encode()),
        chart_svg=write_bytes(out_dir / "plan-kilns.svg", chart),
        chart_png=write_bytes(out_dir / "plan-kilns.png", _kiln_chart(rows, "png")),
        lines_svg=write_bytes(out_dir / "plan-order-lines.svg", lines),
        firings_csv=write_bytes(out_dir / "firings.csv", csv_bytes(FIRING_HEADINGS, firings)),
        lines_csv=write_bytes(out_dir / "order-lines.csv", csv_bytes(LINE_HEADINGS, order_lines)),
        workbook=write_bytes(out_dir / "plan.xlsx", workbook_bytes(rows)),
        calendar=write_bytes(out_dir / "plan.ics", calendar_bytes(rows)),
        work_html=write_bytes(out_dir / "work-list.html", work_list_html(work).encode()),
        work_pdf=write_bytes(out_dir / "work-list.pdf", work_list_pdf(work, made_at=rows.made)),
    )


def _kiln_chart(rows: PlanRows, form: str) -> bytes:
    return gantt(rows.bars, title=f"{rows.title}: kilns and cars", form="png" if form == "png" else "svg")


def _line_chart(rows: PlanRows) -> bytes:
    """One lane per order line, with its due date at the end of the day it is due."""
    marks = [
        DueMark(lane=row.line, due=datetime.combine(row.due, time(23, 59), rows.made.tzinfo), late=row.late_days > 0)
        for row in rows.lines
    ]
    return gantt(rows.line_bars(), marks, title=f"{rows.title}: order lines")


def _page(rows: PlanRows, chart: str, lines: str) -> str:
    """The plan on one page: charts, late lines with their reason, firings."""
    late = [row for row in rows.lines if row.late_days > 0 or row.finish is None]
    remarks = "".join(f"<li>{escape(line)}</li>" for line in rows.remarks)
    told = "".join(_line(row) for row in sorted(late, key=lambda each: (-each.late_days, each.line)))
    late_part = (
        f"<table><tr><th>line</th><th>customer</th><th>item</th><th>pieces</th><th>due</th><th>finish</th>"
        f"<th>days late</th><th>no plan before</th><th>why</th><th>what would save it</th></tr>{told}</table>"
        if late
        else "<p>No line is late in this plan.</p>"
    )
    firings = "".join(_firing(row) for row in sorted(rows.firings, key=lambda each: (each.fire_start, each.firing)))
    return (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8">'
        f'<meta name="viewport" content="width=device-width, initial-scale=1"><title>{escape(rows.title)}</title>'
        f"<style>{packed('report.css')}</style></head><body><h1>{escape(rows.title)}</h1>"
        f"<p>{escape(rows.works)} · state of {rows.made:%Y-%m-%d %H:%M}</p><ul>{remarks}</ul><figure>{chart}</figure>"
        f"<h2>Late lines and why</h2>{late_part}<h2>Firings</h2><table><tr><th>firing</th><th>kiln</th>"
        f"<th>programme</th><th>load</th><th>fire</th><th>unload</th><th>pieces</th><th>ware</th></tr>{firings}</table>"
        f"{_bounds(rows)}<h2>Order lines</h2><figure>{lines}</figure></body></html>"
    )


def _bounds(rows: PlanRows) -> str:
    """The firings of each programme beside the fewest that any plan has."""
    cells = "".join(
        f'<tr><td>{escape(row.programme)}</td><td class="n">{row.planned}</td><td class="n">{row.least}</td>'
        f"<td>{escape(row.binds)}</td></tr>"
        for row in rows.bounds
    )
    head = "<tr><th>programme</th><th>firings</th><th>no plan has fewer than</th><th>because of</th></tr>"
    return f"<h2>Firings and bounds</h2><table>{head}{cells}</table>" if cells else ""


def _line(row: LineRow) -> str:
    finish = f"{row.finish:%Y-%m-%d}" if row.finish else "not in this plan"
    cells = (row.line, row.customer, row.item, str(row.quantity_pieces), row.due.isoformat(), finish)
    figures = f'<td class="n late">{row.late_days:.1f}</td>' if row.finish else "<td>–</td>"
    soonest = f"{row.soonest:%Y-%m-%d}" if row.soonest else "–"
    words = "".join(f"<td>{escape(cell)}</td>" for cell in (soonest, row.reason, row.remedy))
    return f"<tr>{''.join(f'<td>{escape(cell)}</td>' for cell in cells)}{figures}{words}</tr>"


def _firing(row: FiringRow) -> str:
    kiln = f"{row.kiln}, car {row.car}" if row.car else row.kiln
    cells = (
        row.firing,
        kiln,
        row.programme,
        f"{row.load_start:%a %d %b %H:%M}–{row.load_end:%H:%M}",
        f"{row.fire_start:%a %d %b %H:%M} – {row.fire_end:%a %H:%M}",
        f"{row.unload_start:%a %d %b %H:%M}",
        str(row.pieces),
        row.ware,
    )
    return f"<tr>{''.join(f'<td>{escape(cell)}</td>' for cell in cells)}</tr>"
