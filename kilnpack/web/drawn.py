"""Loads drawn and sheets typeset, kept while nothing of them changes, and made ahead where the pages are served.

Ahead means in one process that stands behind the pages; it ends when nothing is left to draw.
"""

from __future__ import annotations

from collections import OrderedDict
from threading import Lock, Thread
from typing import TYPE_CHECKING, Generic, TypeVar

from kilnpack.records.firings import firing_row
from kilnpack.workflow.drawn_ahead import (
    draw_ahead,
    drawn_load,
    planned_version,
    typeset,
    typeset_ahead,
    versions_of,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from sqlalchemy.orm import Session

    from kilnpack.records.store import Records
    from kilnpack.records.tables_firings import FiringRow
    from kilnpack.workflow.drawn_ahead import Ahead, Drawer, DrawnLoad, Versions

KEPT = 96
"""Loads kept; one of the tableware works' takes about half a megabyte drawn and as much as a sheet."""
_Value = TypeVar("_Value")
_Key = tuple[str, object]


class _Kept(Generic[_Value]):
    """Values by key, the ones used last; each is made once however many ask for it."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._kept: OrderedDict[_Key, _Value] = OrderedDict()
        self._lock = Lock()
        self._making: dict[_Key, Lock] = {}

    def found(self, key: _Key) -> _Value | None:
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
            return self._kept.get(key)

    def keep(self, key: _Key, value: _Value) -> None:
        with self._lock:
            self._kept[key] = value
            self._making.pop(key, None)
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)

    def of(self, key: _Key, make: Callable[[], _Value]) -> _Value:
        with self._lock:
            making = self._making.setdefault(key, Lock())
        with making:
            value = self.found(key)
            if value is None:
                value = make()
                self.keep(key, value)
        return value


class Drawn:
    """The loads drawn and the sheets typeset last, by firing and version.

    Parameters
    ----------
    most
        How many of each are kept.
    process
        Makes what draws ahead; None draws only what is asked for.
    """

    def __init__(self, most: int = KEPT, process: Callable[[], Drawer] | None = None) -> None:
        self._loads: _Kept[DrawnLoad] = _Kept(most)
        self._sheets: _Kept[bytes] = _Kept(most)
        self._process = process
        self._most = most
        self._lock = Lock()
        self._thread: Thread | None = None
        self._drawer: Drawer | None = None
        self._tried: set[tuple[str, Versions]] = set()
        self._ended = False

    def of(self, records: Records, code: str) -> DrawnLoad:
        """Return a firing as its loader sees it, drawn once however many look at it.

        Raises
        ------
        InputFaulty
            There is no such firing.
        """
        with records.reading() as session:
            row = firing_row(session, code)
            key = (code, planned_version(row))
            return self._loads.found(key) or self._loads.of(key, lambda: drawn_load(session, row))

    def sheet(self, session: Session, row: FiringRow) -> bytes:
        """Return the loading sheet of a firing as PDF, typeset once for each state of its loads."""
        key = (row.code, versions_of(row))
        drawn = self._loads.found((row.code, planned_version(row)))
        return self._sheets.found(key) or self._sheets.of(key, lambda: typeset(session, row, drawn))

    def ahead(self, records: Records, firings: Iterable[tuple[str, int, Versions]]) -> Thread | None:
        """Begin to draw what is not drawn yet, then to typeset it, in the order given; returns who is at it.

        Parameters
        ----------
        firings
            Code, version of the planned load, and versions of all loads.
        """
        rows = [row for row in firings if (row[0], row[2]) not in self._tried][: self._most]
        draw = [code for code, version, _ in rows if self._loads.found((code, version)) is None]
        sheets = [code for code, _, versions in rows if self._sheets.found((code, versions)) is None]
        with self._lock:
            busy = self._thread is not None and self._thread.is_alive()
            if self._process is not None and not (busy or self._ended) and (draw or sheets):
                self._tried.update((code, versions) for code, _, versions in rows)
                self._thread = Thread(target=self._work, args=(records, draw, sheets), daemon=True)
                self._thread.start()
            return self._thread

    def end(self) -> None:
        """Begin nothing more; what is being drawn is not waited for."""
        with self._lock:
            self._ended = True
            if self._drawer is not None:
                self._drawer.end()

    def _work(self, records: Records, draw: list[str], sheets: list[str]) -> None:
        with self._lock:
            drawer = self._drawer = None if self._ended or self._process is None else self._process()
        if drawer is None:
            return
        try:
            for make, codes in ((draw_ahead, draw), (typeset_ahead, sheets)):
                for code in codes:
                    self._take(drawer.ask(make, records.url, code))
        except (EOFError, OSError):
            return  # the process was ended: what is missing is drawn when somebody looks
        finally:
            drawer.end()

    def _take(self, made: Ahead | None) -> None:
        if made is not None and made.drawn is not None:
            self._loads.keep((made.code, made.version), made.drawn)
        if made is not None and made.sheet is not None:
            self._sheets.keep((made.code, made.versions), made.sheet)
