"""The owner's page: what firing costs, where it goes, what a good piece costs, and what to change first."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING

from kilnpack.sheets.charts import inline, waterfall
from kilnpack.sheets.files import file_name, write_bytes
from kilnpack.sheets.html_tables import html_table
from kilnpack.sheets.loading_pdf import plain, typeset
from kilnpack.sheets.owner_charts import curve_chart, fill_chart, loss_map, split_chart
from kilnpack.sheets.owner_tables import WORDY, blocks, summary
from kilnpack.sheets.tablet import packed

if TYPE_CHECKING:
    from pathlib import Path

    from kilnpack.sheets.owner_values import OwnerRows
    from kilnpack.sheets.svg import Drawing


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnerPaths:
    """Where the owner's page was written."""

    html: Path
    pdf: Path
    chart_svg: Path
    chart_png: Path


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A chart or drawing of the page as SVG that may stand inside it, with words for who does not see it."""

    name: str
    svg: str
    alt: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnerPrints:
    """The owner's page ready to be kept or shown: as one HTML file and as PDF, and its pictures one by one."""

    html: bytes
    pdf: bytes
    pictures: tuple[Picture, ...]
    maps: tuple[Drawing, ...]


def owner_prints(rows: OwnerRows) -> OwnerPrints:
    """Return the owner's page as HTML and PDF, with its pictures."""
    chart = waterfall(rows.steps, title=_chart_title(rows), currency=rows.currency)
    pictures = _pictures(rows, chart)
    maps = [loss_map(rows.losses, kiln) for kiln in sorted({row.kiln for row in rows.losses})]
    return OwnerPrints(
        html=_html(rows, pictures, maps).encode(),
        pdf=typeset("owner.typ", _facts(rows, pictures, maps), made_at=rows.made),
        pictures=tuple(pictures),
        maps=tuple(maps),
    )


def _chart_title(rows: OwnerRows) -> str:
    return f"What the firings cost, {rows.currency}"


def write_owner_page(rows: OwnerRows, out_dir: Path) -> OwnerPaths:
    """Write the owner's page as HTML and PDF, with its waterfall as SVG and PNG.

    Raises
    ------
    SheetNotWritten
        A file cannot be written.
    """
    stem = file_name(rows.title).lower()
    prints = owner_prints(rows)
    chart = waterfall(rows.steps, title=_chart_title(rows), currency=rows.currency)
    picture = waterfall(rows.steps, title=_chart_title(rows), currency=rows.currency, form="png")
    return OwnerPaths(
        html=write_bytes(out_dir / f"{stem}.html", prints.html),
        pdf=write_bytes(out_dir / f"{stem}.pdf", prints.pdf),
        chart_svg=write_bytes(out_dir / f"{stem}-waterfall.svg", chart),
        chart_png=write_bytes(out_dir / f"{stem}-waterfall.png", picture),
    )


def _pictures(rows: OwnerRows, chart: bytes) -> list[Picture]:
    """All charts that have something to show, the waterfall first."""
    drawn = [("cost", chart, "Waterfall of the cost of all firings")]
    if rows.splits:
        drawn.append(("split", split_chart(rows.splits), "Where the energy of each kiln goes, in per cent"))
    if rows.firings:
        filled = fill_chart(rows.firings, rows.range_share)
        drawn.append(("fill", filled, "Fill and energy per kilogram of ware of every firing"))
    if rows.curves:
        curves = curve_chart(rows.curves, rows.currency)
        drawn.append(("curve", curves, "Cost of energy per kilogram of ware against how full the kiln is"))
    return [Picture(name=name, svg=inline(svg, f"{name}-"), alt=alt) for name, svg, alt in drawn]


def _facts(rows: OwnerRows, pictures: list[Picture], maps: list[Drawing]) -> dict[str, object]:
    """All words, figures and pictures of the page, plain."""
    return {
        "title": rows.title,
        "works": rows.works,
        "made": _made(rows),
        "summary": summary(rows),
        "remarks": list(rows.remarks),
        "pictures": [plain(picture) for picture in pictures],
        "blocks": [
            {"heading": heading, "words": words, "head": list(head), "rows": table, "text_columns": columns}
            for heading, words, head, table, columns in blocks(rows)
        ],
        "maps": [plain(drawing) for drawing in maps],
    }


def _made(rows: OwnerRows) -> str:
    return rows.made.strftime("%Y-%m-%d %H:%M")


def _html(rows: OwnerRows, pictures: list[Picture], maps: list[Drawing]) -> str:
    lines = "".join(f"<li>{escape(line)}</li>" for line in (*summary(rows), *rows.remarks))
    first, *charts = (f'<figure role="img" aria-label="{escape(one.alt)}">{one.svg}</figure>' for one in pictures)
    tables = "".join(
        f"<h2>{escape(heading)}</h2>{f'<p>{escape(words)}</p>' if words else ''}"
        f"{html_table(head, table, text_columns=columns, text_last=head[-1] in WORDY)}"
        for heading, words, head, table, columns in blocks(rows)
    )
    lost = "".join(
        f"<figure>{drawing.svg}<figcaption>{escape(drawing.title)}</figcaption></figure>" for drawing in maps
    )
    return (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8">'
        f'<meta name="viewport" content="width=device-width, initial-scale=1"><title>{escape(rows.title)}</title>'
        f"<style>{packed('report.css')}</style></head><body><h1>{escape(rows.title)}</h1>"
        f"<p>{escape(rows.works)} · state of {escape(_made(rows))}</p><ul>{lines}</ul>{first}{''.join(charts)}{tables}"
        f"{f'<h2>Losses by place</h2>{lost}' if lost else ''}</body></html>"
    )
