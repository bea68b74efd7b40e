"""The printed loading sheet: one A4 PDF set by typst from the facts and our own drawings."""

from __future__ import annotations

import json
from dataclasses import fields, is_dataclass
from datetime import UTC
from importlib.resources import files
from typing import TYPE_CHECKING, Any, Literal

from kilnpack.sheets.cautions import FIRST, LAST, cautions
from kilnpack.sheets.files import fonts_folder
from kilnpack.sheets.svg import Drawing

MM_PER_INCH = 25.4

if TYPE_CHECKING:
    from datetime import datetime

    from kilnpack.sheets.facts import LoadingFacts


def loading_pdf(facts: LoadingFacts, *, made_at: datetime) -> bytes:
    """Return the sheet as PDF. Equal facts and moment give equal bytes.

    Parameters
    ----------
    made_at
        Moment written into the file, with its time zone.
    """
    return typeset("loading.typ", {**plain(facts), **_fixed_words()}, made_at=made_at)


def loading_pictures(facts: LoadingFacts, *, made_at: datetime, dots_per_mm: float) -> list[bytes]:
    """Return the pages of the sheet as PNG, for looking at and for measuring."""
    return typeset_pictures("loading.typ", {**plain(facts), **_fixed_words()}, made_at=made_at, dots_per_mm=dots_per_mm)


def _fixed_words() -> dict[str, Any]:
    return {"cautions": [list(line) for line in cautions()], "first": FIRST, "last": LAST}


def plain(value: Any) -> Any:
    """Return facts as plain lists and dicts; a drawing becomes its SVG with its size in mm."""
    if isinstance(value, Drawing):
        return {"svg": value.svg, "w": round(value.width_mm, 3), "h": round(value.height_mm, 3), "alt": value.title}
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, tuple | list):
        return [plain(item) for item in value]
    return value


def typeset(template: str, data: dict[str, Any], *, made_at: datetime) -> bytes:
    """Return the PDF of a template of this room and plain data, with the tags of accessible documents (PDF/UA-1)."""
    return bytes(_compiled(template, data, made_at, "pdf", 0.0))


def typeset_pictures(template: str, data: dict[str, Any], *, made_at: datetime, dots_per_mm: float) -> list[bytes]:
    """Return the pages as PNG, for looking at."""
    pages = _compiled(template, data, made_at, "png", dots_per_mm * MM_PER_INCH)
    return [pages] if isinstance(pages, bytes) else list(pages)


def _compiled(template: str, data: dict[str, Any], made_at: datetime, form: Literal["pdf", "png"], ppi: float) -> Any:
    import typst

    source = (files("kilnpack.sheets") / "templates" / template).read_bytes()
    fonts = typst.Fonts(include_system_fonts=False, font_paths=[str(fonts_folder())])
    return typst.compile(
        source,
        format=form,
        ppi=ppi or None,
        font_paths=fonts,
        sys_inputs={"facts": json.dumps(data, ensure_ascii=False)},
        timestamp=(made_at if made_at.tzinfo else made_at.replace(tzinfo=UTC)).astimezone(UTC),
        pdf_standards="ua-1" if form == "pdf" else None,
    )
