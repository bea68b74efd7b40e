"""The tablet page: one file with everything inline, tier by tier, ticks kept in the browser, no network."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from kilnpack.sheets.cautions import FIRST, LAST, cautions
from kilnpack.sheets.html_tables import html_table
from kilnpack.sheets.shelf_loads import STRESS_HEADINGS
from kilnpack.sheets.tablet import packed, storage_key
from kilnpack.sheets.words import counted

if TYPE_CHECKING:
    from collections.abc import Iterable

    from kilnpack.sheets.facts import LoadingFacts
    from kilnpack.sheets.form_facts import FormFacts
    from kilnpack.sheets.lists import Ware
    from kilnpack.sheets.page_facts import FillFacts, PageFacts, RowFacts
    from kilnpack.sheets.svg import Drawing
    from kilnpack.sheets.tier_facts import TierFacts


def loading_html(facts: LoadingFacts) -> str:
    """Return the tablet page of a load. Equal facts give an equal page."""
    sections = [_fetch(facts), _overview(facts), *_tiers(facts), _end(facts)]
    title = escape(f"{facts.title} · {facts.kiln}")
    return (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8">'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{title}</title><style>{packed('tablet.css')}</style></head>"
        f'<body data-key="{storage_key(facts)}">{_top(facts)}<main>{"".join(sections)}</main>'
        f"<script>{packed('tablet.js')}</script></body></html>"
    )


def _top(facts: LoadingFacts) -> str:
    """The bar that stays in sight: what is loaded, how far it is, and where the front is."""
    first = "t1" if facts.tiers else "over"
    parts = (("fetch", "Fetch"), ("over", "Overview"), (first, "Tiers"), ("end", "After"))
    links = "".join(f'<a href="#{name}">{words}</a>' for name, words in parts)
    return (
        f'<header><h1>{escape(facts.title)}</h1> <span id="done"></span><nav>{links}</nav>'
        f'<p class="front">▼ FRONT = DOOR SIDE, the lower edge of every drawing ▼</p></header>'
    )


def _tick(key: str, words: str, *, note: str = "", kind: str = "") -> str:
    """A tick box big enough for a thumb; `words` is plain text, `note` ready-made HTML."""
    return (
        f'<label class="t {kind}"><input type="checkbox" data-k="{escape(key)}"><b>{escape(words)}</b>'
        f"{f'<span>{note}</span>' if note else ''}</label>"
    )


def _figure(drawing: Drawing) -> str:
    """An inline drawing that fills the width of the page."""
    body = drawing.svg.replace(f'width="{_mm(drawing.width_mm)}mm" height="{_mm(drawing.height_mm)}mm" ', "", 1)
    return f"<figure>{body}<figcaption>{escape(drawing.title)}</figcaption></figure>"


def _mm(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _fetch(facts: LoadingFacts) -> str:
    """Pick list and trolley list."""
    picks = [
        _tick(
            f"pick{k}",
            f"{pick.pieces} × {pick.code or pick.group}",
            note=escape(". ".join(part for part in (pick.name, pick.note) if part)),
        )
        for k, pick in enumerate(facts.picks)
    ]
    samples = {swatch.product: swatch.drawing for swatch in facts.swatches}
    ware = [
        _tick(f"ware{k}", f"{row.pieces} × {row.product}", note=_bring(row, samples))
        for k, row in enumerate(facts.ware)
    ]
    summary = "".join(f"<li>{escape(line)}</li>" for line in (*facts.summary, *facts.remarks))
    return (
        f'<section id="fetch"><h2>Fetch first</h2><p>{escape(facts.kiln)} · {escape(facts.programme)}</p>'
        f"<ul>{summary}</ul>"
        f'<h3>Furniture</h3><div class="ticks">{"".join(picks)}</div>'
        f'<h3>Ware</h3><div class="ticks wide">{"".join(ware)}</div></section>'
    )


def _bring(row: Ware, samples: dict[str, Drawing]) -> str:
    """What a line of the trolley list is, and where it goes."""
    goes_to = ", ".join(f"{tier} ×{pieces}" for tier, pieces in row.goes_to)
    words = f"{row.name}, lot {row.lot}, {row.order_line}: {goes_to}"
    return f"{samples[row.product].svg} {escape(words)}"


def _overview(facts: LoadingFacts) -> str:
    """Plan, side elevation, picture and the order of loading as links."""
    links = "".join(f'<a href="#t{tier.turn}">{escape(tier.name)}</a>' for tier in facts.tiers)
    groups = "".join(
        f"<p><b>{escape(group.reason)}</b> ({counted(group.pieces, 'piece', 'pieces')})</p>"
        f"<ul>{''.join(f'<li>{escape(line)}</li>' for line in group.lines)}</ul>"
        for group in facts.left_out
    )
    left_out = f"<h3>Ready but not in this load</h3>{groups}" if groups else ""
    return (
        f'<section id="over"><h2>Overview</h2><div class="two">{_figure(facts.plan)}{_figure(facts.picture)}</div>'
        f"{_figure(facts.elevation)}<h3>Order of loading: back to front, bottom to top</h3>"
        f'<p class="links">{links}</p>{left_out}</section>'
    )


def _tiers(facts: LoadingFacts) -> Iterable[str]:
    """One section per tier, in order of loading; a drawing is written once and then used again."""
    pages = {page.name: page for page in facts.pages}
    samples = {swatch.product: swatch.drawing for swatch in facts.swatches}
    written: dict[tuple[str, str], str] = {}
    for tier in facts.tiers:
        page = pages[tier.page]
        fill = next(each for each in page.fills if tier.name in each.tiers)
        key = (page.name, fill.tiers[0])
        drawing = _reused(fill.drawing, written[key]) if key in written else _first(fill.drawing, f"d{tier.turn}")
        written.setdefault(key, f"d{tier.turn}")
        yield _tier(facts, tier, page, fill, samples, drawing)


def _first(drawing: Drawing, name: str) -> str:
    inner = f'<g id="{name}">{drawing.body}</g>'
    return _frame(drawing, inner)


def _reused(drawing: Drawing, name: str) -> str:
    return _frame(drawing, f'<use href="#{name}"/>')


def _frame(drawing: Drawing, inner: str) -> str:
    box = f"0 0 {_mm(drawing.width_mm)} {_mm(drawing.height_mm)}"
    return f'<figure><svg role="img" viewBox="{box}"><title>{escape(drawing.title)}</title>{inner}</svg></figure>'


def _tier(
    facts: LoadingFacts,
    tier: TierFacts,
    page: PageFacts,
    fill: FillFacts,
    samples: dict[str, Drawing],
    drawing: str,
) -> str:
    """Everything one tier needs, and a tick for every place."""
    shelf = f"shelf {tier.shelf}{' — take a flat one' if tier.flat else ''}, underside at {tier.at_mm} mm"
    facts_row = "".join(
        f"<div><dt>{escape(name)}</dt><dd>{escape(text)}</dd></div>"
        for name, text in (
            (
                "then posts",
                ", ".join(part for part in (tier.posts, tier.posts_measured) if part),
            ),
            ("headroom left", f"{tier.headroom} mm {tier.headroom_over}"),
            ("next shelf", tier.next_shelf),
            ("heat", tier.zone),
            ("ware", f"{counted(tier.pieces, 'piece', 'pieces')}, {tier.mass}"),
        )
    )
    last = len(facts.tiers)
    before = f'<a href="#t{tier.turn - 1}">◀ before</a>' if tier.turn > 1 else '<a href="#over">◀ overview</a>'
    after = f'<a href="#t{tier.turn + 1}">next tier ▶</a>' if tier.turn < last else '<a href="#end">after ▶</a>'
    posts = _tick(f"t{tier.turn}-posts", "Posts set", note=escape(tier.posts)) if tier.above else ""
    notes = "".join(f"<p><b>! {escape(note)}</b></p>" for note in page.notes)
    return (
        f'<section id="t{tier.turn}" class="tier"><h2>{escape(tier.name)} <small>{tier.turn} of {last} · setting '
        f"{escape(page.name)}</small></h2>{_tick(f't{tier.turn}-shelf', 'Shelf set', note=escape(shelf))}{drawing}"
        f"{_rulers(page)}{notes}{_places(tier, fill, page, samples)}"
        f"<dl>{facts_row}</dl>{posts}"
        f'<p class="links">{before}{after}</p></section>'
    )


def _rulers(page: PageFacts) -> str:
    """Ruler distances: rows first, then the bodies that stand in none."""
    across, deep = ("→" if page.side_edge == "left" else "←"), ("↑" if page.near_edge == "front" else "↓")

    def cells(row: RowFacts) -> str:
        every = f"then every {row.every}" if row.every else ""
        return (
            f'<tr><th>{escape(row.places)}</th><td class="r">{across}{row.across}</td>'
            f'<td class="r">{deep}{row.deep}</td>'
            f"<td>{every}</td><td>{row.hour or '–'}</td></tr>"
        )

    rows = "".join(cells(row) for row in (*page.rows, *page.singles))
    return (
        f"<table><tr><th>places</th><td>from {page.side_edge}</td><td>from {page.near_edge}</td><td>step</td>"
        f"<td>clock</td></tr>{rows}</table>"
        f"<p>Distances in mm to the middle of the foot. Clock: where the handle or long side points, 12 = back.</p>"
    )


def _places(tier: TierFacts, fill: FillFacts, page: PageFacts, samples: dict[str, Drawing]) -> str:
    """A tick for every place, under the lot it is filled from."""
    forms = {place: form for form in page.forms for place in form.numbers}
    blocks = []
    for row in fill.rows:
        stands = "; ".join(dict.fromkeys(_stands(forms[place]) for place, _ in row.each))
        ticks = "".join(
            _tick(f"t{tier.turn}-{place}-{row.lot}", str(place), note=f"×{pieces}" if pieces > 1 else "", kind="p")
            for place, pieces in row.each
        )
        blocks.append(
            f'<div class="fill"><p>{samples[row.product].svg} <b>{escape(row.product)}</b> {escape(row.name)} · '
            f"lot {escape(row.lot)} · {escape(row.order_line)} · {counted(row.pieces, 'piece', 'pieces')} · "
            f"{escape(stands)}</p>"
            f'<div class="places">{ticks}</div></div>'
        )
    return "".join(blocks)


def _stands(form: FormFacts) -> str:
    return f"{form.support}, {form.size}, half foot {form.half_foot}"


def _shelves(facts: LoadingFacts) -> str:
    """Bending stress of every shelf, the fullest first, folded away: it is looked up, not read through."""
    blocks = []
    for grade in facts.shelves:
        rows = sorted(grade.tiers, key=lambda row: -float(row[3].rstrip("%")))
        blocks.append(f"<p>{escape(grade.said)}</p>{html_table(STRESS_HEADINGS, rows, text_columns=1)}")
    return f"<details><summary>Shelves: bending stress by tier</summary>{''.join(blocks)}</details>" if blocks else ""


def _end(facts: LoadingFacts) -> str:
    """Programme, opening rule, unloading list and cautions."""
    opening = "".join(f"<li>{escape(line)}</li>" for line in facts.opening)
    unload = "".join(
        _tick(f"un{tier.turn}", tier.name, note=escape(", ".join(tier.ware))) for tier in reversed(facts.tiers)
    )
    lines = "".join(f"<li><b>{escape(topic)}:</b> {escape(text)}</li>" for topic, text in cautions())
    return (
        f'<section id="end"><h2>After loading</h2>{_figure(facts.curve)}<h3>Opening</h3><ul>{opening}</ul>'
        f"{_shelves(facts)}"
        f'<h3>Unloading: top to bottom, front to back</h3><div class="ticks wide">{unload}</div>'
        f"<h3>Cautions</h3><p><b>{escape(FIRST)}</b></p><ul>{lines}</ul><p><b>{escape(LAST)}</b></p></section>"
    )
