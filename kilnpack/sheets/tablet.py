"""Style and script of the pages for a screen. The tablet's script keeps the ticks and counts them; nothing else."""

from __future__ import annotations

import hashlib
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from kilnpack.sheets.facts import LoadingFacts


@cache
def packed(name: str) -> str:
    """Return a style or script file of this room as text."""
    return (files("kilnpack.sheets") / "templates" / name).read_text(encoding="utf-8")


def storage_key(facts: LoadingFacts) -> str:
    """Return the name under which the browser keeps the ticks of just this load."""
    told = "|".join((facts.title, facts.works, facts.made, *(f"{tier.name}{tier.ware}" for tier in facts.tiers)))
    return f"load-{hashlib.sha256(told.encode()).hexdigest()[:16]}"
