"""A works of several lanes in a folder of its own with records and a plan, for the planner's pages."""

from __future__ import annotations

import atexit
import shutil
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from tempfile import mkdtemp

from kilnpack.records.address import records_url
from kilnpack.records.firings import keep_plan
from kilnpack.records.people import add_person
from kilnpack.records.store import init_records, open_records
from kilnpack.records.works_values import put_works
from kilnpack.web.place import Place
from kilnpack.works_folder import read_works, write_works
from tests.planning.lanes import lane_plan, lane_works
from tests.web.small_place import NAMES, kept_password

KEPT = datetime(2026, 3, 2, 6, tzinfo=UTC)


@cache
def _made(*, with_plan: bool) -> Path:
    """The works folder with its records, made once: a copy is there sooner."""
    where = Path(mkdtemp(prefix="kilnpack-planned-")) / "works"
    atexit.register(shutil.rmtree, where.parent, ignore_errors=True)
    write_works(lane_works(), where)
    records = init_records(records_url(where), clock=lambda: KEPT)
    with records.writing("set-up") as session:
        for role, name in NAMES.items():
            add_person(session, name, role, kept_password())
        put_works(session, read_works(where))
        if with_plan:
            keep_plan(session, lane_plan())
    records.close()
    return where


def planned_place_in(folder: Path, *, with_plan: bool = True) -> Place:
    """Return a place whose works folder and records agree, with a plan that was kept where it is asked for."""
    where = folder / "works"
    shutil.copytree(_made(with_plan=with_plan), where)
    records = open_records(records_url(where), clock=lambda: KEPT)
    return Place(folder=where, records=records, keeping=where / "records")
