"""A small works whose kiln states its wall, so that its heat can be reckoned, with a plan and where wanted a firing."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from kilnpack.model.kilns import LiningLayer
from kilnpack.records.firings import fired_pieces, firing_row, keep_plan, move_on
from kilnpack.records.inspection import Inspected, inspect
from kilnpack.records.states import Grade, RecordedState
from kilnpack.records.works_values import put_works
from tests.records.small import small_plan
from tests.rules.small_audit import small_works
from tests.web.small_place import place_in

if TYPE_CHECKING:
    from pathlib import Path

    from kilnpack.model.works import Works
    from kilnpack.web.place import Place

BRICK = LiningLayer(material="insulating brick 1260", thickness_mm=230.0)
FIRING = "P1.F1"


def heated_works() -> Works:
    """Return the small works with a wall of insulating brick."""
    works = small_works()
    return replace(works, kilns=tuple(replace(kiln, lining=(BRICK,)) for kiln in works.kilns))


def heated_place_in(folder: Path) -> Place:
    """Return a place with a plan of two firings."""
    place = place_in(folder)
    with place.records.writing("set-up") as session:
        put_works(session, heated_works())
        keep_plan(session, small_plan())
    return place


def fire(place: Place, *, code: str = FIRING) -> None:
    """Light a firing and let it burn out."""
    with place.records.writing("Lena") as session:
        for state in (RecordedState.LOADING, RecordedState.FIRING, RecordedState.COOLING):
            move_on(session, code, state)


def lose_one(place: Place, *, code: str = FIRING) -> str:
    """Inspect a firing: one piece of the first lot warped on tier 1 of stack A, all else came out well."""
    with place.records.writing("Lena") as session:
        pieces = fired_pieces(firing_row(session, code))
        lot = next(iter(pieces))
        stack = firing_row(session, code).loads[0].value["stacks"][0]["place"]
        out = [Inspected(lot=lot, grade=Grade.SCRAP, pieces=1, cause="warped", stack=stack, tier=1)]
        out += [Inspected(lot=one, grade=Grade.FIRST, pieces=count - (one == lot)) for one, count in pieces.items()]
        inspect(session, code, [one for one in out if one.pieces])
    return str(stack)
