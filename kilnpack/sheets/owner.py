"""The owner's page: what the firings cost, what a good piece costs, how full the kilns were."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING

from kilnpack.sheets.charts import inline, waterfall
from kilnpack.sheets.files import file_name, write_bytes
from kilnpack.sheets.html_tables import html_table
from kilnpack.sheets.loading_pdf import typeset
from kilnpack.sheets.ranges import shared_range, span, told
from kilnpack.sheets.tablet import packed
from kilnpack.sheets.words import counted

if TYPE_CHECKING:
    from pathlib import Path

    from kilnpack.sheets.plan_rows import OwnerRows

PRODUCT_HEADINGS = (
    "product",
    "name",
    "good pieces",
    "kWh a good piece: its share",
    "at usual fill",
    "one more piece",
    "cost a good piece",
    "CO₂ kg",
    "price",
    "cost share of price",
)
LINE_HEADINGS = ("order line", "kWh")
FIRING_HEADINGS = (
    "firing",
    "kiln",
    "programme",
    "pieces",
    "ware kg",
    "furniture kg",
    "kWh",
    "cost",
    "CO₂ kg",
    "kWh a kg ware",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnerPaths:
    """Where the owner's page was written."""

    html: Path
    pdf: Path
    chart_svg: Path
    chart_png: Path


def write_owner_page(rows: OwnerRows, out_dir: Path) -> OwnerPaths:
    """Write the owner's page as HTML and PDF, with its waterfall as SVG and PNG.

    Raises
    ------
    SheetNotWritten
        A file cannot be written.
    """
    stem = file_name(rows.title).lower()
    title = f"What the firings cost, {rows.currency}"
    chart = waterfall(rows.steps, title=title, currency=rows.currency)
    picture = waterfall(rows.steps, title=title, currency=rows.currency, form="png")
    facts = _facts(rows)
    html = _html(rows, facts, inline(chart, "cost-"))
    pdf = typeset("owner.typ", {**facts, "chart": inline(chart, "cost-")}, made_at=rows.made)
    return OwnerPaths(
        html=write_bytes(out_dir / f"{stem}.html", html.encode()),
        pdf=write_bytes(out_dir / f"{stem}.pdf", pdf),
        chart_svg=write_bytes(out_dir / f"{stem}-waterfall.svg", chart),
        chart_png=write_bytes(out_dir / f"{stem}-waterfall.png", picture),
    )


def _facts(rows: OwnerRows) -> dict[str, object]:
    """All words and figures of the page as text."""
    return {
        "title": rows.title,
        "works": rows.works,
        "made": rows.made.strftime("%Y-%m-%d %H:%M"),
        "summary": _summary(rows),
        "remarks": list(rows.remarks),
        "product_headings": list(PRODUCT_HEADINGS),
        "products": _products(rows),
        "line_headings": list(LINE_HEADINGS),
        "lines": _lines(rows),
        "firing_headings": list(FIRING_HEADINGS),
        "firings": _firings(rows),
    }


def _summary(rows: OwnerRows) -> list[str]:
    """Energy, money and CO2 of all firings, and what they come to for a good piece."""
    kwh = sum(row.energy_kwh for row in rows.firings)
    money = sum(step.money for step in rows.steps)
    good = sum(row.good_pieces for row in rows.products)
    co2_kg = sum(row.co2_kg for row in rows.firings)
    share, money_share = rows.range_share, shared_range(rows.steps)
    about = "about " if share > 0 else ""
    between = f" ({span(kwh, share)})" if share > 0 else ""
    firings = counted(len(rows.firings), "firing", "firings")
    all_money, all_co2 = told(money, money_share), told(co2_kg, share, decimals=0)
    energy = f"{about}{told(kwh, share, decimals=0)} kWh{between}"
    lines = [f"{firings}: {energy}, {all_money} {rows.currency}, {all_co2} kg CO₂"]
    whole = [row for row in rows.products if not row.without]
    if good and len(whole) == len(rows.products):
        lines.append(
            f"{good:,.0f} good pieces expected: {told(kwh / good, share)} kWh and "
            f"{told(money / good, money_share)} {rows.currency} each"
        )
    if share > 0:
        fitted = f"fitted to {counted(rows.readings, 'meter reading', 'meter readings')}"
        basis = fitted if rows.readings else "not yet fitted to the works' own meter (0 readings)"
        lines.append(f"Energy is {basis}: it may be off by {share:.0%} either way, and so may money and CO₂")
        lines.append("Figures are rounded as that range allows; the steps are added up before they are rounded")
    return lines


def _products(rows: OwnerRows) -> list[list[str]]:
    ordered = sorted(rows.products, key=lambda row: (-row.money_per_good * row.good_pieces, row.product))
    return [
        [
            row.product,
            f"{row.name} (without {row.without})" if row.without else row.name,
            f"{row.good_pieces:,.0f}",
            told(row.kwh_per_good, rows.range_share),
            told(row.usual_kwh_per_good, rows.range_share),
            told(row.marginal_kwh_per_good, rows.range_share),
            told(row.money_per_good, rows.range_share),
            told(row.co2_kg_per_good, rows.range_share),
            f"{row.price_money:.2f}",
            f"{told(100 * row.money_per_good / row.price_money, rows.range_share, decimals=0)} %"
            if row.price_money > 0
            else "–",
        ]
        for row in ordered
    ]


def _lines(rows: OwnerRows) -> list[list[str]]:
    """Order lines, the largest first."""
    ordered = sorted(rows.order_lines, key=lambda row: (-row.kwh, row.line))
    return [[row.line or "stock", told(row.kwh, rows.range_share, decimals=0)] for row in ordered]


def _firings(rows: OwnerRows) -> list[list[str]]:
    return [
        [
            row.firing,
            row.kiln,
            row.programme,
            f"{row.pieces:,d}",
            f"{row.ware_kg:,.0f}",
            f"{row.furniture_kg:,.0f}",
            told(row.energy_kwh, rows.range_share, decimals=0),
            told(row.money, rows.range_share),
            told(row.co2_kg, rows.range_share, decimals=0),
            told(row.energy_kwh / row.ware_kg, rows.range_share, decimals=1) if row.ware_kg > 0 else "–",
        ]
        for row in rows.firings
    ]


def _html(rows: OwnerRows, facts: dict[str, object], chart: str) -> str:
    summary = "".join(f"<li>{escape(line)}</li>" for line in (*_summary(rows), *rows.remarks))
    return (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8">'
        f'<meta name="viewport" content="width=device-width, initial-scale=1"><title>{escape(rows.title)}</title>'
        f"<style>{packed('report.css')}</style></head><body><h1>{escape(rows.title)}</h1>"
        f"<p>{escape(rows.works)} · state of {escape(str(facts['made']))}</p><ul>{summary}</ul><figure>{chart}</figure>"
        f"<h2>By product, dearest first</h2>{html_table(PRODUCT_HEADINGS, _products(rows), text_columns=2)}"
        f"<h2>By order line</h2>{html_table(LINE_HEADINGS, _lines(rows), text_columns=1)}"
        f"<h2>By firing</h2>{html_table(FIRING_HEADINGS, _firings(rows), text_columns=3)}</body></html>"
    )
