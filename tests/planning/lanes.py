"""A works with two chambers and a car kiln, and a plan of twelve firings: what planners move about."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING

from kilnpack.model.kilns import LiningLayer
from kilnpack.model.orders import Lot, WorkCalendar
from kilnpack.model.pieces import Stage
from kilnpack.model.settings import WorksSettings
from kilnpack.planning.planner import plan_firings
from kilnpack.search.budget import Budget
from tests.planning.small import WEEKDAYS, Counting, furniture, kiln, line, product, programme, works

if TYPE_CHECKING:
    from kilnpack.model.plans import Plan
    from kilnpack.model.works import Works


WALL = (
    LiningLayer(material="insulating brick 1400", thickness_mm=75.0),
    LiningLayer(material="ceramic fibre blanket 160", thickness_mm=25.0),
)


def lane_works() -> Works:
    """Two chambers for the decoration, a car kiln for the biscuit; one order in time, one late."""
    inside = replace(furniture().shelves[0], posts_mm=((60.0, 60.0), (440.0, 60.0), (250.0, 440.0)))
    kilns = (kiln("K1", "D"), kiln("K2", "D"), kiln("W", "B", cars=2, draw_degc=300.0))
    return works(
        furniture=replace(furniture(), shelves=(inside,)),
        kilns=tuple(replace(row, lining=WALL) for row in kilns),
        programmes=(programme("D", Stage.DECORATION), programme("B", Stage.BISCUIT, outside_h=6.0)),
        calendar=WorkCalendar(shifts=WEEKDAYS, unattended_firing=True),
        settings=WorksSettings(),
        products=(product("MUG", "B", "D", stages=(Stage.BISCUIT, Stage.DECORATION), rest_h=2.0),),
        lines=(line("1-1", "MUG", 16, 20), line("2-1", "MUG", 8, 1)),
        lots=(
            Lot(code="A", product="MUG", step=0, pieces=20, order_line="1-1"),
            Lot(code="B", product="MUG", step=0, pieces=10, order_line="2-1"),
        ),
    )


@cache
def lane_plan() -> Plan:
    """A plan of twelve firings of four mugs each."""
    return plan_firings(lane_works(), budget=Budget(effort=10), seed=1, packer=Counting())


def last_code() -> str:
    """The code of the firing of K2 that is loaded last."""
    return max((row for row in lane_plan().firings if row.kiln == "K2"), key=lambda row: row.load_start).code
