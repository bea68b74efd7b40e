"""Guards what lines aim at when all their firings are laid out at once: cases worked by hand, and the whole planner."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from kilnpack.model.orders import Lot
from kilnpack.model.pieces import Stage
from kilnpack.planning.given import NOTHING
from kilnpack.planning.outcomes import goals_of, outcomes_of
from kilnpack.planning.pacing import FULL_SHARE, HANDLED_H, Paced, kiln_groups, paced_aims
from kilnpack.planning.packs import EstimatedPack
from kilnpack.planning.policies import Policy, PolicyKind
from kilnpack.planning.run import run
from kilnpack.planning.shop import Shop
from tests.planning.small import NOW, EvenShare, kiln, line, product, programme, works

ROOM = 4


def full_kilns(*pieces: int, due_days: int = 2, **more: object):  # type: ignore[no-untyped-def]
    """Return a works of one kiln for `ROOM` pieces, fired for a day, with a line and a lot of each size."""
    lines = tuple(line(f"L{k}", "MUG", count, due_days) for k, count in enumerate(pieces))
    lots = tuple(Lot(code=f"W{k}", product="MUG", step=0, pieces=n, order_line=f"L{k}") for k, n in enumerate(pieces))
    return works(lines=lines, lots=lots, **more)


def aims(given, **more: object) -> dict[str, float]:  # type: ignore[no-untyped-def]
    """Return by how many hours lines aim later than they are due."""
    found = paced_aims(Shop(given, NOTHING), EvenShare(ROOM), seed=1)
    return {code: -hours for code, hours in found}


def test_the_large_line_stands_back_for_the_small_ones() -> None:
    """40 pieces take 10 firings, two lines of 4 take one each, all due in four days: the large one aims last."""
    found = aims(full_kilns(40, 4, 4, due_days=4))
    assert set(found) == {"L0"}
    paced = Paced(Shop(full_kilns(40, 4, 4, due_days=4), NOTHING), EvenShare(ROOM))
    finish = paced.best_order(seed=1)
    hours = 12 * paced.span_h["D"] / FULL_SHARE
    assert finish[0] == pytest.approx(hours + paced.after_h[0], abs=6.0)
    assert paced.after_h[0] == 24.0 + HANDLED_H
    assert max(finish[1], finish[2]) < finish[0]


def test_nothing_stands_back_where_all_is_in_time() -> None:
    """Due in 90 days, no line aims at anything but its due moment; neither does a works without lines."""
    assert aims(full_kilns(40, 4, 4, due_days=90)) == {}
    assert aims(works(lines=(), lots=())) == {}


def test_a_kiln_that_is_shut_has_no_hours() -> None:
    """The only kiln is down for the first four days: nothing finishes before it opens."""
    given = full_kilns(4)
    shop = Shop(given, NOTHING)
    shop.kilns[0].closed_h.append((0.0, 96.0))
    finish = Paced(shop, EvenShare(ROOM)).best_order(seed=1)
    assert finish[0] > 96.0


def test_a_chain_takes_its_firings_one_after_the_other() -> None:
    """Biscuit, a rest of 24 h and glost in kilns of their own: at least both firings, both hands and the rest."""
    given = works(
        kilns=(kiln("KB", "B"), kiln("KG", "G")),
        programmes=(programme("B", Stage.BISCUIT), programme("G", Stage.GLOST)),
        products=(product("MUG", "B", "G", stages=(Stage.BISCUIT, Stage.GLOST), rest_h=24.0),),
        lines=(line("L0", "MUG", 4, 2),),
        lots=(Lot(code="W0", product="MUG", step=0, pieces=4, order_line="L0", ready_at=NOW + timedelta(days=1)),),
    )
    assert kiln_groups(given) == {"B": 0, "G": 1}
    paced = Paced(Shop(given, NOTHING), EvenShare(ROOM))
    rest_h = 24.0 + given.products[0].route[1].ready_after_h
    assert paced.best_order(seed=1)[0] >= 24.0 + rest_h + float(np.sum(paced.after_h))


def test_kilns_that_share_a_programme_are_one_group() -> None:
    """K1 fires A and B, K2 fires B and C, K3 fires D alone."""
    base = works()
    kilns = (kiln("K1", "A", "B"), kiln("K2", "B", "C"), kiln("K3", "D"))
    found = kiln_groups(replace(base, kilns=kilns))
    assert found["A"] == found["B"] == found["C"] != found["D"]


def test_pacing_saves_late_days_where_kilns_are_short() -> None:
    """One line of 60 pieces due first and ten of 4 due a day later: by due day the ten wait for fifteen firings."""
    given = full_kilns(60, *([4] * 10), due_days=3)
    given = replace(
        given, lines=(replace(given.lines[0], due=given.lines[0].due - timedelta(days=1)), *given.lines[1:])
    )
    late = {}
    for paced in (False, True):
        policy = Policy(kind=PolicyKind.FIRST_DUE, paced=paced)
        found = run(given, policy, EstimatedPack(EvenShare(ROOM)), EvenShare(ROOM), seed=1)
        codes = {number: str(number) for number in range(len(found.shop.fired))}
        late[paced] = goals_of(found, outcomes_of(found, codes)).weighted_late_days
    assert late[True] < 0.6 * late[False]
