"""What is ready and stays outside, told by reason with one line for each product."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from kilnpack.sheets.words import counted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kilnpack.model.loads import LeftOut, Load
    from kilnpack.model.works import Works

FIGURE = re.compile(r"\d+(?:\.\d+)?")
GAP = "…"


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftGroup:
    """Ware that stays outside for one reason; a figure that differs within the group is a gap in the reason."""

    reason: str
    pieces: int
    lines: tuple[str, ...]


def left_out_groups(works: Works, load: Load) -> tuple[LeftGroup, ...]:
    """Return the ware left out, the reason that keeps most pieces outside first."""
    alike: dict[tuple[str, str, str], list[LeftOut]] = {}
    for row in load.left_out:
        alike.setdefault((row.rule, _bare(row.reason), _bare(row.change or "")), []).append(row)
    groups = [_group(works, rows) for rows in alike.values()]
    return tuple(sorted(groups, key=lambda group: -group.pieces))


def _bare(words: str) -> str:
    return FIGURE.sub(GAP, words)


def _group(works: Works, rows: Sequence[LeftOut]) -> LeftGroup:
    change = _shared([row.change or "" for row in rows])
    by_product: dict[str, list[LeftOut]] = {}
    for row in rows:
        by_product.setdefault(works.lot(row.lot).product, []).append(row)
    reason = _shared([row.reason for row in rows])
    return LeftGroup(
        reason=f"{rows[0].rule}: {reason}{f'; would go in with: {change}' if change else ''}",
        pieces=sum(row.pieces for row in rows),
        lines=tuple(
            _line(works, code, each, with_figure=GAP in reason) + (f": {each[0].change}" if GAP in change else "")
            for code, each in by_product.items()
        ),
    )


def _shared(words: Sequence[str]) -> str:
    """The words themselves where all are the same, else with a gap for every figure."""
    return words[0] if len(set(words)) == 1 else _bare(words[0])


def _line(works: Works, product: str, rows: Sequence[LeftOut], *, with_figure: bool) -> str:
    """One product: pieces, lot or number of lots, and the figure that fills the gap of the reason."""
    lots = rows[0].lot if len(rows) == 1 else counted(len(rows), "lot", "lots")
    figure = FIGURE.search(rows[0].reason) if with_figure else None
    gap = f"; {figure.group()}" if figure else ""
    return f"{sum(row.pieces for row in rows)} × {works.product(product).name} ({lots}{gap})"
