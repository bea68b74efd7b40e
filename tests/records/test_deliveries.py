"""Guards deliveries: they count for their line, leave the finished ware, and nothing is delivered twice."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

import pytest
from sqlalchemy import select

from kilnpack.errors import ChangedMeanwhile, InputFaulty
from kilnpack.model.orders import Lot, LotKind, OrderLine
from kilnpack.records.deliveries import deliver, line_versions
from kilnpack.records.tables_works import LotHistoryRow
from kilnpack.records.works_values import get_works, put_works
from tests.rules.small_audit import small_works

if TYPE_CHECKING:
    from kilnpack.records.store import Records

LINE = OrderLine(code="9/1", order="9", customer="Kiosk", item="CUP", quantity_pieces=10, due=date(2030, 2, 1))


@pytest.fixture
def stocked(records: Records) -> Records:
    """Return records with two lines of cups and finished cups: four bound to a line, five to none, two samples."""
    works = small_works()
    done = len(works.product("CUP").route)
    lots = (
        Lot(code="FREE", product="CUP", step=done, pieces=5),
        Lot(code="OWN", product="CUP", step=done, pieces=4, order_line="9/1"),
        Lot(code="TRY", product="CUP", step=done, pieces=2, kind=LotKind.SAMPLE),
    )
    lines = (LINE, replace(LINE, code="9/2", part_delivery=False))
    with records.writing("import") as session:
        put_works(session, replace(works, lines=lines, lots=lots))
    return records


def test_a_delivery_counts_and_takes_its_own_ware_first(stocked: Records) -> None:
    """Six of ten are gone: four that were bound to the line and two that were free; the history says so."""
    with stocked.writing("Piet") as session:
        deliver(session, "9/1", 6, note="note 77", seen=line_versions(session)["9/1"])
    with stocked.reading() as session:
        works = get_works(session)
        assert works.lines[0].delivered_pieces == 6
        assert {lot.code: lot.pieces for lot in works.lots} == {"FREE": 3, "TRY": 2}
        rows = session.scalars(select(LotHistoryRow).where(LotHistoryRow.what == "delivered"))
        assert [(row.lot, row.pieces, row.note, row.by) for row in rows] == [
            ("OWN", 4, "line 9/1 note 77", "Piet"),
            ("FREE", 2, "line 9/1 note 77", "Piet"),
        ]


@pytest.mark.parametrize(
    ("line", "quantity", "said"),
    [
        ("9/7", 1, "an order line: 9/1, 9/2"),
        ("9/1", 11, "1 to 10, as many as are open"),
        ("9/1", 10, "finished CUP: found 9, wanted 10"),
        ("9/2", 3, "10: the line is delivered in one"),
    ],
)
def test_what_is_not_there_is_not_delivered(stocked: Records, line: str, quantity: int, said: str) -> None:
    """An unknown line, more than is open, more than is finished, a part where none is wanted."""
    with pytest.raises(InputFaulty, match=said), stocked.writing("Piet") as session:
        deliver(session, line, quantity)


def test_two_people_do_not_note_one_delivery_twice(stocked: Records) -> None:
    """Who notes it second has looked at an older line, and is told."""
    with stocked.writing("Piet") as session:
        seen = line_versions(session)["9/1"]
        deliver(session, "9/1", 2, seen=seen)
    with pytest.raises(ChangedMeanwhile, match="Piet"), stocked.writing("Olga") as session:
        deliver(session, "9/1", 2, seen=seen)
