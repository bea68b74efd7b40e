"""Loads drawn and sheets typeset before somebody looks, in a process of its own that stands behind the pages.

Drawing a large load takes about a second, its sheet about two; the loader at the kiln shall wait for neither.
"""

from __future__ import annotations

import os
import signal
from collections.abc import Callable
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from multiprocessing import get_context
from typing import TYPE_CHECKING, Protocol

from sqlalchemy import URL

from kilnpack.errors import KilnpackError
from kilnpack.records.firings import firing_row, load_fired
from kilnpack.records.states import LoadKind, TickKind
from kilnpack.records.store import open_records
from kilnpack.records.ticks import CHANGES, ticks_of
from kilnpack.rules.checker import audit
from kilnpack.sheets.facts import loading_facts
from kilnpack.sheets.loading_pdf import loading_pdf
from kilnpack.sheets.order import tier_name
from kilnpack.workflow.at_the_kiln import AtTheKiln, at_the_kiln, planned_load, works_of_row
from kilnpack.workflow.loading import tightest_of
from kilnpack.workflow.other_ware import Offer, offers_of, waiting_ware

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from multiprocessing.connection import Connection

    from sqlalchemy.orm import Session

    from kilnpack.model.loads import Load
    from kilnpack.model.works import Works
    from kilnpack.records.tables_firings import FiringRow
    from kilnpack.records.ticks import Tick

AHEAD_NICE = 15
"""How far drawing ahead stands behind the pages for the processor, and behind work that somebody waits for."""
Versions = tuple[tuple[str, int], ...]
"""Kind and version of the loads of a firing: another one means that it is drawn anew."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnLoad:
    """A firing as its loader sees it, with what may be set instead of each form.

    `forms` says which form stands where, by (stack, tier) and place.
    """

    at: AtTheKiln
    offers: dict[str, tuple[Offer, ...]]
    forms: dict[tuple[str, int], dict[int, str]]


def versions_of(row: FiringRow) -> Versions:
    """Return the versions of a firing's loads."""
    return tuple(sorted((load.kind, load.version) for load in row.loads))


def planned_version(row: FiringRow) -> int:
    """Return the version of the load that a page is drawn from."""
    return next(load.version for load in row.loads if load.kind == LoadKind.PLANNED)


def drawn_load(session: Session, row: FiringRow) -> DrawnLoad:
    """Draw the load that a firing was planned with."""
    works, load = works_of_row(session, row), planned_load(row)
    return DrawnLoad(
        at=at_the_kiln(works, row.code, load),
        offers=offers_of(works, load, waiting_ware(row, works)),
        forms={
            (stack.place, tier.number): {one.place: one.form for one in load.setting(tier.setting).standings}
            for stack in load.stacks
            for tier in stack.tiers
        },
    )


def typeset(session: Session, row: FiringRow, drawn: DrawnLoad | None = None) -> bytes:
    """Return the loading sheet of a firing as PDF, as it was set where something was noted.

    Parameters
    ----------
    drawn
        The same firing drawn, so that one that stands as planned is not worked out again.
    """
    loads = {load.kind for load in row.loads}
    works = works_of_row(session, row)
    if drawn is not None and LoadKind.AS_LOADED not in loads:
        return loading_pdf(drawn.at.facts, made_at=works.now)
    load = with_notes(session, row, works)
    facts = loading_facts(works, load, title=f"Load {row.code}", tightest=tightest_of(audit(works, load)))
    return loading_pdf(facts, made_at=works.now)


def with_notes(session: Session, row: FiringRow, works: Works) -> Load:
    """Return the load as it was set, with swaps and breakages as remarks at its head."""
    load = load_fired(row)
    notes = (tick for tick in ticks_of(session, row.code) if tick.what in CHANGES)
    return replace(load, remarks=(*load.remarks, *_words(works, notes)))


def _words(works: Works, notes: Iterable[Tick]) -> Iterator[str]:
    for tick in notes:
        where = f"{tier_name(tick.stack, tick.tier)} place {tick.place}"
        because = f" ({tick.note})" if tick.note else ""
        if tick.what is TickKind.SWAP and tick.other_lot is not None:
            instead = works.product(works.lot(tick.other_lot).product)
            yield (
                f"swapped while loading, {where}: {tick.pieces or ''} × {instead.name} (lot {tick.other_lot}) "
                f"in place of lot {tick.lot}{because}"
            )
        else:
            yield f"broken while loading, {where}: {tick.pieces or ''} of lot {tick.lot}{because}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Ahead:
    """What was done ahead for a firing: its page, its sheet, or both; `version` is the planned load's."""

    code: str
    version: int
    versions: Versions
    drawn: DrawnLoad | None = None
    sheet: bytes | None = None


Make = Callable[[URL, str], Ahead]


class Drawer(Protocol):
    """Who draws ahead."""

    def ask(self, make: Make, url: URL, code: str) -> Ahead | None:
        """Return what was made of a firing, None where it could not be."""

    def end(self) -> None:
        """Begin nothing more; EOFError or OSError comes to who still asks."""


class DrawingProcess:
    """A process that draws on request, and ends with whoever holds it, however that one ends."""

    def __init__(self) -> None:
        context = get_context("spawn")
        self._ours, theirs = context.Pipe()
        self._process = context.Process(target=draw_on_request, args=(theirs,), daemon=True)
        self._process.start()
        theirs.close()

    def ask(self, make: Make, url: URL, code: str) -> Ahead | None:
        """Return what was made of a firing, None where it could not be.

        Raises
        ------
        EOFError, OSError
            The process was ended.
        """
        self._ours.send((make, url, code))
        found: Ahead | None = self._ours.recv()
        return found

    def end(self) -> None:
        """End the process."""
        self._process.terminate()


def draw_on_request(requests: Connection) -> None:
    """Draw what is asked for until nobody asks any more; runs in a process of its own."""
    if hasattr(os, "nice"):
        os.nice(AHEAD_NICE)
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the pages, which end this process with them
    serve_requests(requests)


def serve_requests(requests: Connection) -> None:
    """Answer requests for drawings until the other end is closed, or whoever has it is killed."""
    with suppress(EOFError, OSError):
        while True:
            requests.send(_made(*requests.recv()))


def _made(make: Make, url: URL, code: str) -> Ahead | None:
    """Return what is made; nothing where the firing is gone or cannot be drawn now: whoever looks at it is told."""
    try:
        return make(url, code)
    except (KilnpackError, OSError):
        return None


_DRAWN: dict[tuple[str, str, int], DrawnLoad] = {}
"""What the process that draws has drawn, for the sheets that follow."""


def draw_ahead(url: URL, code: str) -> Ahead:
    """Draw a firing; called in the process that draws."""
    with _read(url) as session:
        return _ahead(session, url, code)


def typeset_ahead(url: URL, code: str) -> Ahead:
    """Typeset the sheet of a firing; called in the process that draws."""
    with _read(url) as session:
        found = _ahead(session, url, code)
        _DRAWN.pop((str(url), code, found.version), None)
        return replace(found, drawn=None, sheet=typeset(session, firing_row(session, code), found.drawn))


@contextmanager
def _read(url: URL) -> Iterator[Session]:
    records = open_records(url)
    try:
        with records.reading() as session:
            yield session
    finally:
        records.close()


def _ahead(session: Session, url: URL, code: str) -> Ahead:
    row = firing_row(session, code)
    version = planned_version(row)
    key = (str(url), code, version)
    if key not in _DRAWN:
        _DRAWN[key] = drawn_load(session, row)
    return Ahead(code=code, version=version, versions=versions_of(row), drawn=_DRAWN[key])
