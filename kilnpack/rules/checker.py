"""The independent checker: judge any load by the outlines of its bodies alone.

It reads the model and nothing else: no table of the packers, no derived rule. Every hard rule is measured again, tier
by tier, from straight cores with radii (`check_solids`), from the furniture as it is counted (`check_stacks`) and in
the order of placing (`check_order`). What cannot be read is a finding too, so a load made by hand may hold anything.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from kilnpack.rules.check_across import check_across
from kilnpack.rules.check_chemistry import check_chemistry
from kilnpack.rules.check_codes import resolve
from kilnpack.rules.check_forms import check_forms
from kilnpack.rules.check_notes import Audit, Notes, Tight
from kilnpack.rules.check_order import check_order
from kilnpack.rules.check_room import check_room
from kilnpack.rules.check_sight import check_sight
from kilnpack.rules.check_stacks import check_stacks
from kilnpack.rules.check_wishes import check_wishes

if TYPE_CHECKING:
    from datetime import datetime

    from kilnpack.model.loads import Load
    from kilnpack.model.orders import Lot
    from kilnpack.model.works import Works

__all__ = ["Audit", "Tight", "audit"]


def audit(works: Works, load: Load, *, lots: tuple[Lot, ...] | None = None, at: datetime | None = None) -> Audit:
    """Check a load against every hard rule and say which preferences it misses.

    Parameters
    ----------
    works
        The works whose settings, kilns, furniture and pieces the load is for.
    load
        Any load, also one made by hand.
    lots
        What the load may take from; the lots of the works where not given (a plan passes those of its moment).
    at
        When loading begins: no lot may be ready later. Not looked at where not given.

    Returns
    -------
    Audit
        Findings name the load as "kiln programme", and the rule with its place in `field`.
    """
    notes = Notes(name=f"{load.kiln} {load.programme}")
    scene = resolve(works, load, works.lots if lots is None else lots, notes, at=at)
    if scene is not None:
        measured = (check_stacks, check_room, check_across, check_order)
        for check in (*measured, check_forms, check_chemistry, check_sight, check_wishes):
            check(scene, notes)
    return Audit(
        findings=tuple(notes.findings),
        remarks=tuple(notes.remarks),
        tightest_gap=notes.tightest_gap,
        tightest_headroom=notes.tightest_headroom,
        pieces=load.pieces,
        tiers=sum(len(stack.tiers) for stack in load.stacks),
    )
