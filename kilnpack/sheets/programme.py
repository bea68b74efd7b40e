"""The programme sheet as PDF to print and as a page for a screen, from the same facts."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING, Any

from kilnpack.sheets.cautions import FIRST, LAST, cautions
from kilnpack.sheets.files import file_name, write_bytes
from kilnpack.sheets.html_tables import html_table
from kilnpack.sheets.loading_pdf import plain, typeset
from kilnpack.sheets.programme_facts import (
    HOUR_HEADINGS,
    PLACE_HEADINGS,
    RAMP_HEADINGS,
    SEGMENT_HEADINGS,
    ProgrammeLoad,
    programme_facts,
)
from kilnpack.sheets.tablet import packed

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from kilnpack.model.kilns import Kiln
    from kilnpack.model.programmes import Programme
    from kilnpack.model.works import Works
    from kilnpack.sheets.programme_facts import ProgrammeFacts


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgrammeSheetPaths:
    """Where the two files of a programme sheet were written."""

    pdf: Path
    html: Path


def write_programme_sheet(
    works: Works, kiln: Kiln, programme: Programme, load: ProgrammeLoad, out_dir: Path, *, lit_h: float = 6.0
) -> ProgrammeSheetPaths:
    """Write the sheet of a programme in a kiln.

    Parameters
    ----------
    load
        What is fired.
    out_dir
        Folder for both files; made where it is missing.
    lit_h
        Hour of the day at which the fire is lit.

    Raises
    ------
    SheetNotWritten
        A file cannot be written; nothing half-written is left.
    """
    facts = programme_facts(works, kiln, programme, load, lit_h=lit_h)
    stem = file_name(f"programme {kiln.code} {programme.code}").lower()
    pdf = typeset("programme.typ", {**plain(facts), **_fixed(facts)}, made_at=works.now)
    page = programme_html(facts)
    return ProgrammeSheetPaths(
        pdf=write_bytes(out_dir / f"{stem}.pdf", pdf), html=write_bytes(out_dir / f"{stem}.html", page.encode())
    )


def _fixed(facts: ProgrammeFacts) -> dict[str, Any]:
    return {
        "segment_headings": list(SEGMENT_HEADINGS),
        "ramp_headings": list(RAMP_HEADINGS),
        "place_headings": list(PLACE_HEADINGS),
        "hour_headings": list(HOUR_HEADINGS),
        "cautions": [list(line) for line in _cautions(facts)],
        "first": FIRST,
        "last": LAST,
    }


def _cautions(facts: ProgrammeFacts) -> list[tuple[str, str]]:
    """The cautions of the programme's topics, practice and published figures."""
    return [line for line in cautions() if line[0].split(" in ")[0] in facts.cautions or line[0] in facts.cautions]


def programme_html(facts: ProgrammeFacts) -> str:
    """Return the page for a screen: one file, no network. Equal facts give an equal page."""
    notes = "".join(f"<p><b>! {escape(line)}</b></p>" for line in facts.notes)
    summary = "".join(f"<li>{escape(line)}</li>" for line in facts.summary)
    warned = "".join(f"<li><b>{escape(topic)}:</b> {escape(text)}</li>" for topic, text in _cautions(facts))
    lighting = f"<h2>When to light it</h2>{_table(HOUR_HEADINGS, facts.hours)}" if facts.hours else ""
    return (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8">'
        f'<meta name="viewport" content="width=device-width, initial-scale=1"><title>{escape(facts.title)}</title>'
        f"<style>{packed('report.css')}</style></head><body><h1>{escape(facts.title)}</h1>"
        f"<p>{escape(facts.works)} · state of {escape(facts.made)}</p><ul>{summary}</ul>{notes}"
        f"<figure>{facts.picture.svg}</figure><h2>Segments</h2>{_table(SEGMENT_HEADINGS, facts.segments)}"
        f"<h2>How fast the ware may go</h2><p>{escape(facts.ramp_words)}</p>"
        f"{_table(RAMP_HEADINGS, facts.ramps) if facts.ramps else ''}"
        f"<h2>Heat work by place</h2><p>{escape(facts.hold_words)}</p>{_table(PLACE_HEADINGS, facts.places)}"
        f"{lighting}<h2>Cautions</h2><p><b>{escape(FIRST)}</b></p><ul>{warned}</ul><p><b>{escape(LAST)}</b></p>"
        f"</body></html>"
    )


def _table(headings: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """A table of words throughout."""
    return html_table(headings, rows, text_columns=len(headings))
