"""Wording of findings: the nearest known word, and a cell as its owner sees it."""

from __future__ import annotations

import difflib
import re
import reprlib
from datetime import date, datetime, time
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path


MOST_CHARACTERS = 10_000
"""Of a text: a name, a remark, a cell."""
MOST_FINDINGS = 5000
"""Told of one file; whoever mends so many reads it again anyway."""
_HUGE = 10**80
_NO_TEXT = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ud800-\udfff\ufffe\uffff]")
"""Signs that no sheet can print, or that print what follows them the other way round.

References
----------
`unicode-tr36`: overrides of direction. What XML leaves out: `xml-1-0`, section 2.2.
"""


FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""A spreadsheet takes text that begins so for a formula; the last four are the wide forms of the first four.

References
----------
`cwe-1236`: mitigations.
"""
GUARD = "'"
"""Stands before such text in a file of plain cells, so that a spreadsheet shows it as text."""


class _Brief(reprlib.Repr):
    """Plain data in few words, however deep or large they are."""

    def __init__(self) -> None:
        super().__init__()
        self.maxlevel, self.maxlist, self.maxdict, self.maxstring, self.maxother = 4, 12, 12, 80, 80

    def repr_int(self, x: int, level: int) -> str:  # noqa: ARG002 - the name and the level are the library's
        """Return a whole number; one of thousands of digits cannot even be written."""
        return repr(x) if abs(x) < _HUGE else "a very large number"


_BRIEF = _Brief()


def text_fault(text: str) -> str:
    """Return what is wanted of a text that cannot be printed, nothing where it can."""
    if len(text) > MOST_CHARACTERS:
        return f"a text of at most {MOST_CHARACTERS} characters"
    found = _NO_TEXT.search(text)
    return f"a text without the sign U+{ord(found[0]):04X}, which no sheet can print" if found else ""


def printable(text: str) -> str:
    """Return a text with a mark in the place of every sign that cannot be printed."""
    return _NO_TEXT.sub("\ufffd", text)


def guarded(text: str) -> str:
    """Return text as a cell that no spreadsheet takes for a formula; `unguarded` gives the text again."""
    return GUARD + text if text.lstrip(GUARD).startswith(FORMULA_STARTS) else text


def unguarded(cell: str) -> str:
    """Return the text that stands in a cell, guarded or not."""
    return cell[1:] if cell.startswith(GUARD) and guarded(cell) != cell else cell


def nearest(word: str, known: Iterable[str]) -> str:
    """Return `` (nearest: X)`` with the known word most like `word`, or nothing where none is alike."""
    originals = {item.lower(): item for item in known}
    close = difflib.get_close_matches(word[:80].lower(), originals, n=1, cutoff=0.6)
    return f" (nearest: {originals[close[0]]})" if close else ""


def listed(words: Iterable[str], most: int = 12) -> str:
    """Return words in a row, cut after `most` of them."""
    words = list(words)
    more = f" and {len(words) - most} more" if len(words) > most else ""
    return (", ".join(words[:most]) + more) or "none there"


def named(path: Path) -> str:
    """Return a file's name as its owner knows it; for the folder one stands in, the name of that folder."""
    return path.name or path.resolve().name or str(path)


def kind_of(plain: object) -> str:
    """Return what plain data are, in words."""
    words: dict[type, str] = {dict: "keys with values", list: "a list", str: "a text", bool: "yes or no"}
    return "nothing" if plain is None else words.get(type(plain), "a number")


def shown(value: object) -> str:
    """Return a value as a finding shows it: whole numbers without a point, days without a time, None as nothing."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.0f}" if value.is_integer() and abs(value) < 1e15 else f"{value:.10g}"
    if isinstance(value, datetime):
        return value.isoformat(" ", "minutes")
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, list | tuple | dict | int):
        value = _BRIEF.repr(value)
    text = str(value)[:MOST_CHARACTERS]
    text = printable(" ".join(text.split()))
    return text if len(text) <= 80 else text[:77] + "..."
