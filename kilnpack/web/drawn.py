"""Drawn loads, kept while nothing of them changes: drawing a large load takes about a second."""

from __future__ import annotations

from collections import OrderedDict
from threading import Lock
from typing import TYPE_CHECKING

from kilnpack.records.firings import firing_row
from kilnpack.records.states import LoadKind
from kilnpack.workflow.at_the_kiln import AtTheKiln, at_the_kiln, planned_load, works_of_row

if TYPE_CHECKING:
    from kilnpack.records.store import Records

KEPT = 24


class Drawn:
    """The loads drawn last, by firing and version."""

    def __init__(self, most: int = KEPT) -> None:
        self._most = most
        self._kept: OrderedDict[tuple[str, int], AtTheKiln] = OrderedDict()
        self._lock = Lock()
        self._drawing: dict[tuple[str, int], Lock] = {}

    def of(self, records: Records, code: str) -> AtTheKiln:
        """Return a firing as its loader sees it, drawn once however many look at it.

        Raises
        ------
        InputFaulty
            There is no such firing.
        """
        with records.reading() as session:
            row = firing_row(session, code)
            planned = next(load for load in row.loads if load.kind == LoadKind.PLANNED)
            key = (code, planned.version)
            found = self._found(key)
            if found is not None:
                return found
            works, load = works_of_row(session, row), planned_load(row)
        with self._lock:
            drawing = self._drawing.setdefault(key, Lock())
        with drawing:
            found = self._found(key) or at_the_kiln(works, code, load)
            self._keep(key, found)
        return found

    def _found(self, key: tuple[str, int]) -> AtTheKiln | None:
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
            return self._kept.get(key)

    def _keep(self, key: tuple[str, int], drawn: AtTheKiln) -> None:
        with self._lock:
            self._kept[key] = drawn
            self._drawing.pop(key, None)
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)
