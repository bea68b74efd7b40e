"""Wording of findings: the nearest known word, and a cell as its owner sees it."""

from __future__ import annotations

import difflib
from datetime import date, datetime, time
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path


def nearest(word: str, known: Iterable[str]) -> str:
    """Return `` (nearest: X)`` with the known word most like `word`, or nothing where none is alike."""
    close = difflib.get_close_matches(word.lower(), {item.lower(): item for item in known}, n=1, cutoff=0.6)
    originals = {item.lower(): item for item in known}
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
    text = " ".join(str(value).split())
    return text if len(text) <= 80 else text[:77] + "..."
