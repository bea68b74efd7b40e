"""The loading sheet as it is handed over: PDF and tablet page."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from html.parser import HTMLParser
from typing import TYPE_CHECKING

import numpy as np
import pytest
from PIL import Image
from pypdf import PdfReader

from kilnpack.errors import SheetNotWritten
from kilnpack.model.geometry import Disc
from kilnpack.model.kilns import Cooling, KeepOut
from kilnpack.model.loads import BodyForm, ConePack, Load
from kilnpack.sheets.cautions import FIRST, LAST, cautions
from kilnpack.sheets.facts import Tightest, loading_facts
from kilnpack.sheets.loading import write_loading_sheet
from kilnpack.sheets.loading_html import loading_html
from kilnpack.sheets.loading_pdf import loading_pdf, loading_pictures
from kilnpack.sheets.tablet import packed
from tests.sheets.small_works import LOAD, WORKS, piled_load, round_load

if TYPE_CHECKING:
    from pathlib import Path

    from kilnpack.model.works import Works

FACTS = loading_facts(WORKS, LOAD, title="Load 12", tightest=Tightest())
PDF = loading_pdf(FACTS, made_at=WORKS.now)
READ = PdfReader(io.BytesIO(PDF))
PAGES = [page.extract_text() for page in READ.pages]
HTML = loading_html(FACTS)
POINTS_PER_MM = 72 / 25.4


@pytest.mark.source("memory", "ISO 216, A4 is 210 mm by 297 mm")
def test_every_page_is_a4() -> None:
    """Guards the paper."""
    for page in READ.pages:
        assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx(
            (210 * POINTS_PER_MM, 297 * POINTS_PER_MM), abs=0.5
        )


def test_the_sheet_has_bookmarks_and_tags() -> None:
    """Guards finding a page on a screen and reading it aloud: a bookmark per setting page, and the tagged format."""
    marks = [str(getattr(mark, "title", "")) for mark in READ.outline]
    assert [mark for mark in marks if mark.startswith("Setting")] == [f"Setting {page.name}" for page in FACTS.pages]
    assert READ.trailer["/Root"]["/MarkInfo"]["/Marked"]  # type: ignore[index]
    assert b"pdfuaid:part" in PDF


def test_a_shelf_on_the_page_measures_what_the_scale_says() -> None:
    """Guards the scale on paper: the shelf edge on the page of setting 2, found by its colour, is 480/n mm wide."""
    page = next(k for k, text in enumerate(PAGES) if "Setting 2" in text)
    one_to = float(re.search(r"scale 1 : ([\d.]+)", PAGES[page]).group(1))  # type: ignore[union-attr]
    picture = Image.open(io.BytesIO(loading_pictures(FACTS, made_at=WORKS.now, dots_per_mm=8.0)[page])).convert("RGB")
    brown = np.abs(np.asarray(picture, dtype=int) - np.array([0x5B, 0x3A, 0x1E])).max(axis=2) < 24
    columns = np.flatnonzero(brown.sum(axis=0) > 200)
    rows = np.flatnonzero(brown.sum(axis=1) > 200)
    line = 0.7
    assert (columns[-1] - columns[0]) / 8.0 == pytest.approx(480.0 / one_to + line, abs=0.4)
    assert (rows[-1] - rows[0]) / 8.0 == pytest.approx(420.0 / one_to + line, abs=0.4)


def test_a_setting_page_is_one_page_where_its_tables_leave_room_for_the_drawing() -> None:
    """Guards against pages that run over by a line: every setting ends before the next."""
    starts = [k for k, text in enumerate(PAGES) if re.search(r"Setting \d", text)]
    ends = [*starts[1:], next(k for k, text in enumerate(PAGES) if "Programme Glost" in text)]
    assert [end - start for start, end in zip(starts, ends, strict=True)] == [1] * 8


def test_front_is_said_on_every_page() -> None:
    """Guards the way round: every page names the door side and its own number."""
    for k, text in enumerate(PAGES, start=1):
        assert "FRONT = DOOR SIDE" in text
        assert f"page {k} of {len(PAGES)}" in text


def test_every_place_and_its_distances_are_printed() -> None:
    """Guards setting pages: every place number once in the drawing, every ruler distance in the tables of the page."""
    for facts in FACTS.pages:
        numbers = [int(each) for each in re.findall(r'class="place">(\d+)<', facts.drawing.body)]
        assert numbers == [spot.place for spot in LOAD.setting(facts.setting).standings]
        text = "\n".join(page for page in PAGES if f"Setting {facts.name}" in page)
        told = set(re.findall(r"[→←↑↓]\d+", text))
        for row in (*facts.rows, *facts.singles):
            assert {f"→{row.across}", f"↑{row.deep}"} <= told


def test_place_numbers_and_distances_are_18_points_or_more() -> None:
    """Guards reading at 1 m: tier names, places and distances in the tables of a setting page are set in 18 pt."""
    page = READ.pages[next(k for k, text in enumerate(PAGES) if "Setting 5" in text)]
    sizes: dict[str, float] = {}

    def see(text: str, _: object, matrix: list[float], __: object, size: float) -> None:
        for word in text.split():
            sizes[word] = max(sizes.get(word, 0.0), abs(size * matrix[3]))

    page.extract_text(visitor_text=see)
    for facts in (row for each in FACTS.pages if each.name == "5" for row in each.singles):
        assert sizes[f"→{facts.across}"] >= 18.0
        assert sizes[f"↑{facts.deep}"] >= 18.0
    assert sizes["B2"] >= 18.0


def test_the_first_pages_hold_all_that_is_fetched() -> None:
    """Guards pick list, order of loading and trolley: every code and every tier is on them."""
    first = " ".join(PAGES[:4])
    for pick in FACTS.picks:
        assert pick.code in first
    for ware in FACTS.ware:
        assert ware.lot in first
    for tier in FACTS.tiers:
        assert tier.name in first


def test_the_last_pages_warn_and_never_call_anything_safe() -> None:
    """Guards the cautions: all of them are there, local codes first, and no line says that something is safe."""
    last = " ".join(" ".join(PAGES[-2:]).split())
    topics = [topic for topic, _ in cautions()]
    assert len(set(topics)) == len(topics)
    for topic in topics:
        assert f"{topic}:" in last
    assert "licensed practitioner" in last
    assert "does not say that" in last
    for text in (FIRST, *(line for _, line in cautions())):
        assert " safe" not in text
    assert "The thermometer decides" in last
    assert LAST in HTML


def test_equal_input_gives_equal_bytes_and_other_ware_other_bytes() -> None:
    """Guards repeatability: the same load twice is the same file."""
    again = loading_facts(WORKS, LOAD, title="Load 12", tightest=Tightest())
    assert loading_pdf(again, made_at=WORKS.now) == PDF
    assert loading_html(again) == HTML
    assert loading_html(replace(again, title="Load 13")) != HTML


class Seen(HTMLParser):
    """Collects elements and attributes of a page."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str, str]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += [(tag, name, value or "") for name, value in attrs]


def seen(html: str) -> Seen:
    """Read a page."""
    parser = Seen()
    parser.feed(html)
    return parser


def test_the_tablet_page_needs_no_network() -> None:
    """Guards work without a network: no address, no import, every reference points into the page itself."""
    page = seen(HTML)
    assert not {"link", "img", "iframe", "object", "embed"} & set(page.tags)
    assert not [a for a in page.attributes if a[1] == "src"]
    ids = [value for _, name, value in page.attributes if name == "id"]
    assert len(ids) == len(set(ids))
    for _, name, value in page.attributes:
        if name in {"href", "xlink:href"}:
            assert value.startswith("#")
            assert value[1:] in ids
    bare = HTML.replace("http://www.w3.org/2000/svg", "").replace("http://www.w3.org/1999/xlink", "")
    assert "//" not in re.sub(r"// Keeps[^\n]*", "", bare)
    assert "url(" not in bare
    assert "@import" not in bare
    assert len(packed("tablet.js").encode()) < 1024


@pytest.mark.source("wcag-22", "2.5.5, target size of 44 CSS pixels")
def test_what_is_touched_is_large_enough_for_a_thumb() -> None:
    """Guards touch targets: ticks and links are at least 44 pixels high and wide."""
    style = packed("tablet.css")
    for selector in (r"\.t\{", r"nav a,\.links a\{"):
        rule = re.search(selector + r"([^}]*)\}", style).group(1)  # type: ignore[union-attr]
        assert int(re.search(r"min-height:(\d+)px", rule).group(1)) >= 44  # type: ignore[union-attr]
    assert int(re.search(r"\.p\{[^}]*min-width:(\d+)px", style).group(1)) >= 44  # type: ignore[union-attr]


def test_the_tablet_page_has_a_tick_for_every_place_of_every_tier() -> None:
    """Guards the list on the tablet: one tick a place and lot, with keys of their own."""
    keys = [value for _, name, value in seen(HTML).attributes if name == "data-k"]
    assert len(keys) == len(set(keys))
    wanted = {
        f"t{facts.turn}-{fill.place}-{fill.lot}"
        for facts in FACTS.tiers
        for stack in LOAD.stacks
        for tier in stack.tiers
        if f"{stack.place}{tier.number}" == facts.name
        for fill in tier.fills
    }
    assert wanted <= set(keys)


HOSTILE = "<script>alert(1)</script>\"&'#[x]$*_@ \\"


def hostile(works: Works) -> Works:
    """The works with names and codes that try to be code."""
    return replace(
        works,
        name=HOSTILE,
        products=tuple(replace(product, name=f"{product.code} {HOSTILE}") for product in works.products),
        lots=tuple(replace(lot, order_line=HOSTILE) for lot in works.lots),
    )


def test_names_that_try_to_be_code_are_printed_as_they_are() -> None:
    """Guards against names from a spreadsheet that carry markup, for HTML, SVG and typst alike."""
    facts = loading_facts(hostile(WORKS), LOAD, title=HOSTILE, tightest=Tightest())
    html = loading_html(facts)
    assert html.count("<script>") == 1
    assert "alert(1)&lt;/script&gt;" in html
    assert seen(html).tags.count("script") == 1
    text = "".join(page.extract_text() for page in PdfReader(io.BytesIO(loading_pdf(facts, made_at=WORKS.now))).pages)
    assert "<script>alert(1)</script>" in text
    assert "#[x]$*_@" in text


def test_files_are_written_aside_and_nothing_else_is_left(tmp_path: Path) -> None:
    """Guards writing: two files under safe names, no half-written rest, the same bytes when written again."""
    paths = write_loading_sheet(WORKS, LOAD, tmp_path / "new", title="Load ../12: glost", tightest=Tightest())
    assert sorted(path.name for path in (tmp_path / "new").iterdir()) == [
        "load-..-12-glost.html",
        "load-..-12-glost.pdf",
    ]
    before = paths.pdf.read_bytes(), paths.html.read_bytes()
    again = write_loading_sheet(WORKS, LOAD, tmp_path / "new", title="Load ../12: glost")
    assert (again.pdf.read_bytes(), again.html.read_bytes()) == before


def test_a_place_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    """Guards bad folders: a file where the folder should be is an error of its own, with the reason."""
    (tmp_path / "taken").write_text("")
    with pytest.raises(SheetNotWritten, match="taken"):
        write_loading_sheet(WORKS, LOAD, tmp_path / "taken")


def test_the_tightest_places_and_remarks_are_in_the_summary() -> None:
    """Guards that what the checker and the packer say reaches the loader."""
    tight = Tightest(gap_mm=9.04, gap_where="A1, places 2 and 3", headroom_mm=13.2, headroom_where="A4, place 2")
    load = replace(LOAD, remarks=("under the least ware mass",))
    facts = loading_facts(WORKS, load, title="x", tightest=tight)
    assert "tightest gap 9 mm: A1, places 2 and 3" in facts.summary
    assert "least headroom 13.2 mm: A4, place 2" in facts.summary
    assert facts.remarks == ("under the least ware mass",)
    assert "under the least ware mass" in loading_html(facts)


@pytest.mark.parametrize("load", [round_load(), piled_load()], ids=["round", "piled"])
def test_other_kilns_and_ways_of_stacking_make_a_sheet(load: Load, tmp_path: Path) -> None:
    """Guards half shelves, raw stacks and spacers, from kiln to paper."""
    paths = write_loading_sheet(WORKS, load, tmp_path)
    text = "".join(page.extract_text() for page in PdfReader(paths.pdf).pages)
    assert ("nested in each other" in text) or ("spacers SP6 between" in text)


def test_all_ways_of_standing_are_said() -> None:
    """Guards the words for what a body stands on or in."""
    forms = tuple(
        BodyForm(code=form.code, shape=form.shape, stage=form.stage, support=support, pieces=pieces)
        for form, support, pieces in zip(
            LOAD.forms,
            (None, "TRI40", None, "DISC90", "CRANK30", None, None, None),
            (1, 1, 1, 1, 1, 1, 1, 1),
            strict=True,
        )
    )
    facts = loading_facts(WORKS, replace(LOAD, forms=forms), title="x", tightest=Tightest())
    told = {form.support for page in facts.pages for form in page.forms}
    assert told == {"on the shelf", "on stilt TRI40", "on catch disc DISC90", "in setter CRANK30"}


def test_a_page_whose_tiers_hold_other_products_tells_them_in_one_table() -> None:
    """Guards places that change ware from tier to tier: plain on paper, a column for each filling, hatch on tablet."""
    stacks = tuple(
        replace(
            stack,
            tiers=tuple(
                replace(
                    tier,
                    fills=tuple(
                        replace(fill, lot="L08" if fill.lot == "L07" and stack.place == "C" else fill.lot)
                        for fill in tier.fills
                    ),
                )
                for tier in stack.tiers
            ),
        )
        for stack in LOAD.stacks
    )
    facts = loading_facts(WORKS, replace(LOAD, stacks=stacks), title="x", tightest=Tightest())
    page = next(page for page in facts.pages if page.setting == "S4")
    assert [fill.tiers for fill in page.fills] == [("A5",), ("C4",)]
    assert page.table.columns == (("A5",), ("C4",))
    changed = [line for line in page.table.lines if line.cells[0] != line.cells[1]]
    assert [(part.lot, part.product) for line in changed for part in line.cells[0]] == [("L07", "POT-W")]
    assert [part.lot for line in changed for part in line.cells[1]] == ["L08"]
    assert "POT-W" not in page.drawing.body
    [place] = {line.places for line in changed}
    assert f"{place} drawn white: the ware differs by tier, look it up in the table of places" in page.notes
    assert "POT-W" in page.fills[0].drawing.body
    assert loading_pdf(facts, made_at=WORKS.now)[:5] == b"%PDF-"


def test_an_overhanging_rim_and_a_flat_shelf_are_noted() -> None:
    """Guards the notes: 400 + 83 mm of saucer on 480 mm of shelf is 3 mm over; setting S5 wants a flat shelf."""
    notes = {page.setting: page.notes for page in FACTS.pages}
    assert notes["S3"] == ("rims past the shelf edge, mm: 1 by 3",)
    assert notes["S5"] == ("A3, C2: take a flat shelf (bow ≤ 1 mm)",)


def test_cones_and_the_thermocouple_are_marked_where_they_stand() -> None:
    """Guards what is booked before the ware: the packs of C1 and C4, and the bubble of a thermocouple over stack A.

    It hangs at (150, 800) of the kiln, so at (80, 270) of stack A's shelf, in the room of A3 and A4 only.
    """
    couple = KeepOut(
        code="T2", what="thermocouple", outline=Disc(x_mm=150.0, y_mm=800.0, r_mm=8.0), from_z_mm=300.0, to_z_mm=420.0
    )
    kilns = tuple(replace(kiln, keep_outs=(couple,)) for kiln in WORKS.kilns)
    facts = loading_facts(replace(WORKS, kilns=kilns), LOAD, title="x", tightest=Tightest())
    pages = {page.setting: page for page in facts.pages}
    told = {code: set(re.findall(r">(cones \w+|thermocouple \w+)<", page.drawing.body)) for code, page in pages.items()}
    assert told["S6"] == {"cones C1"}
    assert told["S4"] == {"cones C4"}
    assert told["S5"] == {"thermocouple A3"}
    assert told["S3"] == {"thermocouple A4"}
    assert told["S1"] == set()
    assert "C1: witness cones of peephole low, middle →240 ↑190, raised 58 mm on bits of post" in pages["S6"].notes


def test_cones_on_the_shelf_itself_are_not_called_raised() -> None:
    """Guards packs without a lift, and shelves that are measured from the back."""
    load = round_load()
    pack = ConePack(peephole="eye", place="front", tier=1, x_mm=200.0, y_mm=120.0, turn_deg=0.0, lift_mm=0.0)
    facts = loading_facts(WORKS, replace(load, cone_packs=(pack,)), title="x", tightest=Tightest())
    notes = [note for page in facts.pages for note in page.notes if "cones" in note]
    assert notes == ["front-1: witness cones of peephole eye, middle →200 ↓120"]


def test_an_empty_shelf_and_a_works_limit_for_the_car_are_said() -> None:
    """Guards tiers without ware and kilns whose car has a limit of its own."""
    empty = replace(LOAD.settings[0], standings=())
    load = replace(
        LOAD,
        settings=(empty, *LOAD.settings[1:]),
        stacks=tuple(
            replace(stack, tiers=tuple(replace(t, fills=() if t.setting == "S1" else t.fills) for t in stack.tiers))
            for stack in LOAD.stacks
        ),
    )
    kilns = tuple(replace(kiln, cooling=Cooling(draw_degc=300.0)) for kiln in WORKS.kilns)
    facts = loading_facts(replace(WORKS, kilns=kilns), load, title="x", tightest=Tightest())
    assert facts.tiers[0].headroom_over == "empty shelf"
    assert "Draw the car at 300 °C or less (works' limit)." in facts.opening
    assert loading_pdf(facts, made_at=WORKS.now)[:5] == b"%PDF-"


def test_an_empty_load_says_that_nothing_stands_in_it(tmp_path: Path) -> None:
    """Guards the load into which nothing fits: its sheet still lists what was left out, and no moment needs a zone."""
    works = replace(WORKS, now=WORKS.now.replace(tzinfo=None))
    paths = write_loading_sheet(works, replace(LOAD, stacks=(), settings=(), cone_packs=()), tmp_path)
    text = "".join(page.extract_text() for page in PdfReader(paths.pdf).pages)
    assert "Nothing stands in this load." in text
    assert "6 mm too tall" in text
    page = seen(paths.html.read_text(encoding="utf-8"))
    ids = {value for _, name, value in page.attributes if name == "id"}
    assert all(value[1:] in ids for _, name, value in page.attributes if name == "href")
