"""Tables of the pages for a screen."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence


def html_table(
    headings: Sequence[str], rows: Sequence[Sequence[str]], *, text_columns: int, text_last: bool = False
) -> str:
    """Return a table whose first columns are text and the others figures, the last one text where it is said."""
    figures = range(text_columns, len(headings) - (1 if text_last else 0))
    head = "".join(f"<th>{escape(heading)}</th>" for heading in headings)
    body = "".join(
        "<tr>"
        + "".join(
            f'<td class="n">{escape(cell)}</td>' if k in figures else f"<td>{escape(cell)}</td>"
            for k, cell in enumerate(row)
        )
        + "</tr>"
        for row in rows
    )
    return f"<table><tr>{head}</tr>{body}</table>"
