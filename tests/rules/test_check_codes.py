"""The checker judges any load: whatever cannot be read is a finding with its place, and never a traceback."""

from __future__ import annotations

import math
import random
from dataclasses import replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import pytest

from kilnpack.model.kilns import ChamberKind
from kilnpack.model.loads import StackLoad
from kilnpack.model.pieces import StackWay, Stage
from kilnpack.rules.checker import audit
from tests.rules.small_audit import (
    rewrite,
    small_load,
    small_works,
    with_fills,
    with_form,
    with_kiln,
    with_standing,
    with_tier,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from kilnpack.model.loads import Load
    from kilnpack.model.works import Works


def fields(load: Load, works: Works | None = None) -> list[str]:
    """Return the fields of all findings."""
    return [finding.field for finding in audit(works or small_works(), load).findings]


def base() -> Load:
    """Return the glost load."""
    return small_load()


def doubled(load: Load) -> Load:
    """Return the load with a place number used twice."""
    at = load.setting("LOW").standings
    return replace(load, settings=rewrite(load.settings, "LOW", standings=(*at, replace(at[0], y_mm=120.0, x_mm=60.0))))


def numbered(load: Load) -> Load:
    """Return the load with the upper tier of stack A numbered 5."""
    tiers = load.stacks[0].tiers
    return replace(
        load, stacks=(replace(load.stacks[0], tiers=(tiers[0], replace(tiers[1], number=5))), load.stacks[1])
    )


LOADS: dict[str, tuple[Callable[[], Load], str]] = {
    "works of another name": (lambda: replace(base(), works="Other works"), "works"),
    "unknown kiln": (lambda: replace(base(), kiln="K9"), "kiln"),
    "unknown programme": (lambda: replace(base(), programme="P9"), "programme"),
    "programme of another kiln": (lambda: replace(base(), programme="SLOW"), "programme"),
    "stage of another programme": (lambda: replace(base(), stage=Stage.DECORATION), "stage"),
    "unknown car": (lambda: replace(base(), car="CAR9"), "car"),
    "stack of no height": (lambda: with_tier(base(), 1, base_mm=1e300), "F15 stack A tier 1"),
    "turned out of all measure": (
        lambda: with_standing(base(), "LOW", 1, turn_deg=1e308),
        "places stack A tier 1 place 1",
    ),
    "place out of all measure": (lambda: with_standing(base(), "LOW", 1, x_mm=1e300), "places stack A tier 1 place 1"),
    "unknown stack": (
        lambda: replace(base(), stacks=(*base().stacks, StackLoad(place="Q", stub=None, tiers=()))),
        "stacks stack Q",
    ),
    "stack twice": (lambda: replace(base(), stacks=(*base().stacks, base().stacks[0])), "stacks"),
    "unknown stub": (
        lambda: replace(base(), stacks=(replace(base().stacks[0], stub="X"), base().stacks[1])),
        "F14 stack A",
    ),
    "tier numbers": (lambda: numbered(base()), "tiers stack A"),
    "height that is no number": (lambda: with_tier(base(), 1, base_mm=math.nan), "F15 stack A tier 1"),
    "unknown posts": (lambda: with_tier(base(), 1, posts=("X",)), "F3 stack A tier 1"),
    "unknown setting": (lambda: with_tier(base(), 2, setting="X", fills=()), "settings stack A tier 2"),
    "setting of another shelf": (lambda: with_tier(base(), 2, shelf="S2"), "settings stack A tier 2"),
    "setting twice": (lambda: replace(base(), settings=(*base().settings, base().settings[0])), "settings"),
    "form twice": (lambda: replace(base(), forms=(*base().forms, base().forms[0])), "forms"),
    "place twice": (lambda: doubled(base()), "places setting LOW"),
    "unknown form": (lambda: with_standing(base(), "LOW", 1, form="X"), "forms stack A tier 1 place 1"),
    "place that is no number": (
        lambda: with_standing(base(), "LOW", 1, x_mm=math.inf),
        "places stack A tier 1 place 1",
    ),
    "form of no shape": (lambda: with_form(base(), "CUP", shape="X"), "forms form CUP"),
    "form on nothing known": (lambda: with_form(base(), "CUP", support="X"), "forms form CUP"),
    "form stacked in a way the shape has not": (
        lambda: with_form(small_load(Stage.BISCUIT), "MUG", way=StackWay.NESTED, pieces=2),
        "forms form MUG",
    ),
    "form of no pieces": (lambda: with_form(base(), "CUP", pieces=0), "forms form CUP"),
    "form of a million pieces": (lambda: with_form(base(), "CUP", pieces=10**6), "forms form CUP"),
    "no fill": (lambda: with_tier(base(), 1, fills=()), "fills stack A tier 1 place 1"),
    "fill of no place": (
        lambda: with_fills(base(), lambda fill: replace(fill, place=fill.place + 10)),
        "fills stack A tier 1 place 11",
    ),
    "negative fill": (
        lambda: with_fills(base(), lambda fill: replace(fill, pieces=-1)),
        "fills stack A tier 1 place 1",
    ),
    "unknown lot": (lambda: with_fills(base(), lambda fill: replace(fill, lot="X")), "lots stack A tier 1 place 1"),
    "lot of another shape": (
        lambda: with_fills(base(), lambda fill: replace(fill, lot="BOWL1")),
        "lots stack A tier 1 place 1",
    ),
}


@pytest.mark.parametrize("name", LOADS)
def test_what_cannot_be_read_is_named(name: str) -> None:
    """Guards hand-made loads: the slip is named with its place."""
    change, wanted = LOADS[name]
    assert wanted in fields(change())


def test_no_lot_gives_more_than_it_holds() -> None:
    """Guards the count of pieces: four cups from a lot of three."""
    works = small_works()
    works = replace(works, lots=rewrite(works.lots, "CUP1", pieces=3))
    assert fields(small_load(), works) == ["lots lot CUP1"]
    assert audit(works, small_load(), lots=small_works().lots).findings == ()


def test_finished_ware_and_unknown_products_are_named() -> None:
    """Guards lots: one past its last firing, one of a product nobody makes."""
    works = small_works()
    works = replace(works, lots=rewrite(rewrite(works.lots, "CUP1", step=3), "MUG1", product="X"))
    found = fields(small_load(), works)
    assert "lots stack A tier 1 place 1" in found
    assert "lots stack A tier 1 place 3" in found


def test_programme_hotter_than_the_kiln() -> None:
    """Guards the kiln itself: a glost at 1390 degC in a kiln for 1300."""
    assert "programme" in fields(small_load(), with_kiln(small_works(), top_degc=1300.0))


def test_an_empty_load_is_a_load() -> None:
    """Guards the start of every packing: no tier, no body; only the cone packs of a glost are missed."""
    empty = replace(small_load(Stage.BISCUIT), stacks=(), cone_packs=())
    found = audit(with_kiln(small_works(), peepholes=()), empty)
    assert (found.findings, found.remarks, found.pieces, found.tiers) == ((), (), 0, 0)


def test_findings_name_the_load() -> None:
    """Guards the reader: the file column holds kiln and programme."""
    found = audit(small_works(), with_tier(small_load(), 2, flat=False)).findings[0]
    assert (found.file, found.row) == ("K GLO", None)
    assert str(found).startswith("K GLO, F12 stack A tier 2: found PLATE at place 3 on any shelf")


def _spoilt(value: Any, dice: random.Random) -> Any:
    """Return another value of the same kind, mostly a bad one."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, int):
        return dice.choice((-1, 0, 10**6, value + 1))
    if isinstance(value, float):
        return dice.choice((math.nan, math.inf, -1e9, value + 10.0))
    if isinstance(value, str):
        return dice.choice(("", "X", "CUP", "S2"))
    return () if isinstance(value, tuple) else None


@pytest.mark.parametrize("seed", range(60))
def test_any_spoilt_load_is_judged_without_a_fault_of_ours(seed: int) -> None:
    """Guards against tracebacks: one to three fields anywhere in the load are spoilt, and it is judged all the same."""
    dice = random.Random(seed)
    load = small_load(dice.choice(list(Stage)))
    for _ in range(dice.randint(1, 3)):
        load = _spoil(load, dice)
    assert audit(small_works(), load).pieces == load.pieces


def _spoil(row: Any, dice: random.Random) -> Any:
    name = dice.choice([name for name in row.__dataclass_fields__ if name not in {"stage", "way", "remarks"}])
    value = getattr(row, name)
    if isinstance(value, tuple) and value and hasattr(value[0], "__dataclass_fields__") and dice.random() < 0.9:
        k = dice.randrange(len(value))
        return replace(row, **{name: (*value[:k], _spoil(value[k], dice), *value[k + 1 :])})
    return replace(row, **{name: _spoilt(value, dice)})


def test_a_car_kiln_is_loaded_on_a_car() -> None:
    """Guards the car: a load of a car kiln names one, of any other kiln none is asked for."""
    works = with_kiln(small_works(), kind=ChamberKind.CAR)
    assert fields(base(), works) == ["car"]
    assert fields(replace(base(), car="CAR"), works) == []


def test_ware_is_set_when_it_is_ready() -> None:
    """Guards T1, T2, T6: ready half an hour after loading begins, zones told apart; nothing where no time is said."""
    zone = replace(small_works().calendar, time_zone="Europe/Vienna")
    works = replace(small_works(), calendar=zone)
    at = datetime(2030, 1, 7, 8)
    for ready, found in (
        (datetime(2030, 1, 7, 7, 30, tzinfo=UTC), ["lots stack A tier 1 place 3", "lots stack B tier 1 place 3"]),
        (datetime(2030, 1, 7, 7, 0, tzinfo=UTC), []),
        (at, []),
    ):
        late = replace(works, lots=rewrite(works.lots, "MUG1", ready_at=ready))
        assert [finding.field for finding in audit(late, base(), at=at).findings] == found
        assert audit(late, base()).findings == ()


def test_odd_figures_are_printed_short() -> None:
    """Guards the reader: a pack 1e300 mm away is named in a line, not in three hundred digits."""
    packs = (replace(base().cone_packs[0], x_mm=1e300), base().cone_packs[1])
    found = audit(small_works(), replace(base(), cone_packs=packs)).findings
    assert found
    assert max(len(str(finding)) for finding in found) < 140
