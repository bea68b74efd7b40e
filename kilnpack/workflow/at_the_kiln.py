"""A recorded firing as its loader sees it: the load that stands or shall stand, drawn; its sheet; the rest anew."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from kilnpack.records.firings import firing_row, loads_of, lots_of
from kilnpack.records.states import LoadKind
from kilnpack.records.ticks import places_set, ticks_of
from kilnpack.records.works_values import get_works
from kilnpack.rules.checker import audit
from kilnpack.sheets.facts import Tightest, loading_facts
from kilnpack.sheets.stations import stations
from kilnpack.workflow.loading import tightest_of

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from kilnpack.model.loads import Load
    from kilnpack.model.works import Works
    from kilnpack.records.tables_firings import FiringRow
    from kilnpack.sheets.facts import LoadingFacts
    from kilnpack.sheets.stations import Station


@dataclass(frozen=True, slots=True, kw_only=True)
class AtTheKiln:
    """What a loader's page shows of one firing."""

    code: str
    works: Works
    load: Load
    facts: LoadingFacts
    stations: tuple[Station, ...]


def works_of_row(session: Session, row: FiringRow) -> Works:
    """Return the works with the lots that a recorded firing is filled from."""
    works = get_works(session)
    own = lots_of(row)
    return replace(works, lots=(*own.values(), *(lot for lot in works.lots if lot.code not in own)))


def planned_load(row: FiringRow) -> Load:
    """Return the load that a firing was planned with, or that its rest was planned anew with."""
    return loads_of(row)[LoadKind.PLANNED]


def at_the_kiln(works: Works, code: str, load: Load, *, measured: bool = True) -> AtTheKiln:
    """Work out the page of a firing.

    Parameters
    ----------
    measured
        Whether the checker measures the tightest gap and headroom, which the summary then says.
    """
    tightest = tightest_of(audit(works, load)) if measured else Tightest()
    facts = loading_facts(works, load, title=f"Load {code}", tightest=tightest)
    return AtTheKiln(code=code, works=works, load=load, facts=facts, stations=stations(works, load, facts))


def set_places(session: Session, code: str) -> frozenset[tuple[str, int, int]]:
    """Return the places of a firing that are set, as (stack, tier, place).

    Raises
    ------
    InputFaulty
        There is no such firing.
    """
    row = firing_row(session, code)
    return frozenset(places_set(ticks_of(session, code), planned_load(row)))
