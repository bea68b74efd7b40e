"""The truth of loads: random works of all kinds are packed, the checker finds nothing, and points in space agree."""

from __future__ import annotations

import random
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from kilnpack.packing.pack_load import pack_load
from kilnpack.rules.checker import audit
from kilnpack.search.budget import Budget
from tests.packing.any_works import any_works, ready
from tests.packing.points import faults

if TYPE_CHECKING:
    from kilnpack.model.loads import Load
    from kilnpack.model.works import Works

EFFORT = 10
BRIEF = range(300, 324)
LONG = range(2000)
POINTS = 90
GEOMETRY = ("C1", "C2", "C3", "C4", "C5", "C6", "C8", "C10", "W2")
SEEN_MM = 4.0
"""A body moved so far out of place leaves a lack that points on its skin do not miss."""


def packed(seed: int) -> tuple[Works, Load]:
    """Return a random works and a load of what is ready in it."""
    works, kiln, code = any_works(seed)
    lots = ready(works, code)
    load = pack_load(works, works.kiln(kiln), works.programme(code), lots, budget=Budget(effort=EFFORT), seed=seed)
    return works, load


def found(works: Works, load: Load) -> list[str]:
    """Return the checker's findings; a kiln in which nothing can stand has no load to judge."""
    return [str(row) for row in audit(works, load).findings] if load.pieces else []


def test_the_kinds_are_all_drawn() -> None:
    """Guards the draw itself: every kind of chamber, stage, shelf and support is among the few works tested here."""
    drawn = [any_works(seed) for seed in BRIEF]
    assert {kiln for _, kiln, _ in drawn} == {"F", "W", "R", "D", "O"}
    assert {code for _, _, code in drawn} == {"biscuit", "glost", "decoration"}
    assert len({len(works.kilns[0].places) for works, _, _ in drawn}) >= 3


@pytest.mark.parametrize("seed", BRIEF)
def test_checker_finds_nothing_in_any_works(seed: int) -> None:
    """Guards every hard rule, the placing tolerance (C12) and the way down (W13) over random works."""
    works, load = packed(seed)
    assert found(works, load) == []
    assert faults(works, load, points=POINTS // 3, seed=seed) == []


@pytest.mark.long
@pytest.mark.parametrize("block", range(20))
def test_checker_finds_nothing_in_two_thousand_works(block: int) -> None:
    """Guards the same over 2,000 works; points in space look at every tenth."""
    for seed in LONG[block * 100 : block * 100 + 100]:
        works, load = packed(seed)
        assert (seed, found(works, load)) == (seed, [])
        if seed % 10 == 0:
            assert (seed, faults(works, load, points=POINTS, seed=seed)) == (seed, [])


def spoilt(load: Load, rng: random.Random) -> Load:
    """Return the load with one body pushed some way out of its place, or turned."""
    setting = rng.choice([row for row in load.settings if row.standings])
    number = rng.randrange(len(setting.standings))
    moved = replace(
        setting.standings[number],
        x_mm=setting.standings[number].x_mm + rng.choice([-1, 1]) * rng.uniform(5.0, 90.0),
        y_mm=setting.standings[number].y_mm + rng.choice([-1, 1]) * rng.uniform(5.0, 90.0),
        turn_deg=rng.choice([0.0, 45.0, 90.0]),
    )
    rows = (*setting.standings[:number], moved, *setting.standings[number + 1 :])
    others = tuple(replace(row, standings=rows) if row is setting else row for row in load.settings)
    return replace(load, settings=others)


def test_points_and_checker_agree_on_spoilt_loads() -> None:
    """Guards that both looks can fail: bodies pushed out of place are seen by both, good ones by neither.

    What the points find, the checker finds as well. What the checker finds far out of place, the points find.
    """
    both = clean = 0
    for seed in BRIEF[:12]:
        works, load = packed(seed)
        if not load.pieces:
            continue
        rng = random.Random(seed)
        for turn in range(3):
            worse = spoilt(load, rng)
            seen = [row for row in audit(works, worse).findings if row.field.split()[0] in GEOMETRY]
            told = faults(works, worse, points=POINTS, seed=turn)
            if told:
                assert seen, told
            deep = any(_lack(row.found, row.wanted) > SEEN_MM for row in seen)
            assert told or not deep, [str(row) for row in seen]
            both += bool(seen and told)
            clean += not seen and not told
    assert both > 10
    assert both + clean > 20


def _lack(found_text: str, wanted: str) -> float:
    """Return how much a distance finding lacks, mm; 0 where it tells no distances."""
    try:
        return float(wanted.split()[-2]) - float(found_text.split(maxsplit=1)[0])
    except (ValueError, IndexError):
        return 0.0
