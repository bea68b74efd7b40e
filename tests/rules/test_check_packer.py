"""Each rule switched off in the packer is seen: the packer reads soft settings, the checker the true ones."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import pytest

from kilnpack.model.furniture import ShelfLot
from kilnpack.model.geometry import Rectangle
from kilnpack.model.kilns import ChamberKind, KeepOut, OffsetMap
from kilnpack.model.pieces import FootState, Lid, Stacking, StackWay, Stage
from kilnpack.packing.pack_load import pack_load
from kilnpack.rules.checker import audit
from kilnpack.search.budget import Budget
from tests.packing.small_works import lots_for, random_works
from tests.rules.small_audit import with_stock

if TYPE_CHECKING:
    from collections.abc import Callable

    from kilnpack.model.loads import Load
    from kilnpack.model.works import Works

BRIEF = Budget(effort=3)


@lru_cache(maxsize=64)
def packed(works: Works, code: str) -> Load:
    """Return a quick load of what waits for a programme."""
    return pack_load(works, works.kiln("K1"), works.programme(code), lots_for(works, code), budget=BRIEF, seed=1)


def rules_in(works: Works, load: Load) -> set[str]:
    """Return the rules that the checker finds broken."""
    return {finding.field.split()[0] for finding in audit(works, load).findings}


TRUE: dict[str, dict[str, Any]] = {
    "C5": {"thermocouple_mm": 120.0},
    "W2 foot": {"overhang_most_mm": 30.0, "foot_edge_mm": 12.0},
}
SOFT: dict[str, tuple[str, str, dict[str, Any]]] = {
    "C1": ("C1", "G", {"gap_glost_mm": 0.0}),
    "C2": ("C2", "G", {"post_gap_mm": 0.0}),
    "C3": ("C3", "B", {"headroom_mm": 0.0}),
    "C5": ("C5", "G", {"thermocouple_mm": 0.0}),
    "C6": ("C6", "G", {"top_clear_mm": 0.0}),
    "C7": ("C7", "G", {"cone_width_mm": 20.0, "cone_depth_mm": 10.0, "cone_height_mm": 10.0}),
    "C11": ("C1", "D", {"hot_growth_mm": 0.0}),
    "C12": ("C1", "B", {"placing_mm": 0.0}),
    "F15": ("F15", "G", {"tier_allowance_mm": 0.0}),
    "W2 foot": ("W2", "G", {"foot_edge_mm": 0.0}),
    "W2 rim": ("W2", "G", {"overhang_most_mm": 30.0}),
    "W1": ("C1", "G", {"size_scatter_share": 0.0}),
    "Z5": ("Z5", "G", {"excluded_vapours": ()}),
}


@pytest.mark.parametrize("name", SOFT)
def test_a_rule_switched_off_in_the_packer_is_seen(name: str) -> None:
    """Guards that packer and checker read each rule apart: one softened for the packer alone, and it is caught."""
    rule, code, changes = SOFT[name]
    works = random_works(3)
    if name == "Z5":
        works = clashing(works)
    true = replace(works, settings=replace(works.settings, **TRUE.get(name, {})))
    soft = replace(true, settings=replace(true.settings, **changes))
    assert rules_in(true, packed(true, code)) == set()
    assert rule in rules_in(true, packed(soft, code))


def clashing(works: Works) -> Works:
    """Return the works with two glost products that must not share a kiln."""
    products = list(works.products)
    for k, vapour in ((0, "chrome"), (2, "tin white")):
        route = list(products[k].route)
        route[1] = replace(route[1], vapours=(vapour,))
        products[k] = replace(products[k], route=tuple(route))
    return replace(works, products=tuple(products))


def cool_shelves(works: Works) -> Works:
    """Return the works with shelves too cool for glost (F1)."""
    return with_stock(works, "shelves", "rect", top_degc=1300.0)


def few_posts(works: Works) -> Works:
    """Return the works with no more than three posts of each height (F3)."""
    posts = tuple(replace(post, count_pieces=3) for post in works.furniture.posts)
    return replace(works, furniture=replace(works.furniture, posts=posts))


def burner(works: Works) -> Works:
    """Return the works with a burner port in front of the left stack (C8)."""
    kiln = works.kiln("K1")
    port = KeepOut(
        code="B1",
        what="burner",
        outline=replace(kiln.keep_outs[0].outline, x_mm=200.0, y_mm=90.0),
        from_z_mm=0.0,
        to_z_mm=150.0,
        clear_mm=5.0,
    )
    return replace(works, kilns=tuple(replace(row, keep_outs=(port,)) if row is kiln else row for row in works.kilns))


def narrow_window(works: Works) -> Works:
    """Return the works with every glost product allowed no colder than the peak and 20 K more (Z2)."""
    rows = []
    for product in works.products:
        route = list(product.route)
        route[1] = replace(route[1], low_degc=1420.0, high_degc=None)
        rows.append(replace(product, route=tuple(route)))
    return replace(works, products=tuple(rows))


def with_glost_step(works: Works, **changes: Any) -> Works:
    """Return the works with the glost firing of every product changed."""
    rows = []
    for product in works.products:
        route = list(product.route)
        route[1] = replace(route[1], **changes)
        rows.append(replace(product, route=tuple(route)))
    return replace(works, products=tuple(rows))


def with_all(works: Works, kind: str, **changes: Any) -> Works:
    """Return the works with every piece of furniture of a kind changed."""
    rows = tuple(replace(row, **changes) for row in getattr(works.furniture, kind))
    return replace(works, furniture=replace(works.furniture, **{kind: rows}))


def with_rules(works: Works, **changes: Any) -> Works:
    """Return the works with settings changed."""
    return replace(works, settings=replace(works.settings, **changes))


def bowed(works: Works) -> Works:
    """Return the works with flat ware only and every shelf bowed (F12)."""
    lots = tuple(replace(lot, bow_mm=9.0) for lot in works.furniture.shelves[0].lots)
    flat = tuple(replace(shape, flatware=True) for shape in works.shapes)
    return replace(with_all(works, "shelves", lots=lots), shapes=flat)


def with_shapes(works: Works, **changes: Any) -> Works:
    """Return the works with every shape changed."""
    return replace(works, shapes=tuple(replace(shape, **changes) for shape in works.shapes))


def with_lid(works: Works) -> Works:
    """Return the works with the cup as the lid of the bowl (W9)."""
    lid = Lid(shape="cup", seat_mm=50.0)
    return replace(
        works, shapes=tuple(replace(shape, lid=lid) if shape.code == "bowl" else shape for shape in works.shapes)
    )


def with_kilns(works: Works, **changes: Any) -> Works:
    """Return the works with every kiln changed."""
    return replace(works, kilns=tuple(replace(kiln, **changes) for kiln in works.kilns))


def vent(works: Works) -> Works:
    """Return the works with a vent in the floor under the left stack, its top 10 mm over the floor (C6)."""
    flat = KeepOut(
        code="V", what="vent", outline=Rectangle(x_mm=200.0, y_mm=200.0, w_mm=60.0, d_mm=60.0), from_z_mm=0.0,
        to_z_mm=10.0,
    )  # fmt: skip
    return with_kilns(works, keep_outs=(flat,))


def hotter(works: Works) -> Works:
    """Return the works with offsets of 60 K where none above 8 K were read, and windows that end 50 K up (Z1)."""
    works = with_kilns(works, offsets=(OffsetMap(stage=Stage.GLOST, spread_k=60.0),))
    return with_glost_step(works, high_degc=1450.0)


POORER: dict[str, Callable[[Works], Works]] = {
    "F1": cool_shelves,
    "F2": lambda works: with_all(works, "shelves", lots=(ShelfLot(count_pieces=1),)),
    "F3": few_posts,
    "F4": lambda works: with_all(works, "posts", spread_mm=5.0),
    "F5": lambda works: with_all(works, "shelves", posts_mm=((60.0, 60.0), (340.0, 290.0))),
    "F7": lambda works: with_rules(works, post_inset_mm=90.0),
    "F9": lambda works: with_all(works, "shelves", strength_mpa=0.01, cold_strength_mpa=0.01),
    "F10": lambda works: with_rules(works, shelf_wall_electric_mm=300.0, shelf_wall_gas_mm=300.0),
    "F12": bowed,
    "F13": lambda works: with_rules(works, balance_share=0.45),
    "F14": lambda works: with_all(works, "stubs", count_pieces=1),
    "C4": lambda works: replace(works, kilns=tuple(replace(row, wall_clear_mm=250.0) for row in works.kilns)),
    "C8": burner,
    "C6": vent,
    "C10": lambda works: with_rules(with_kilns(works, kind=ChamberKind.CAR), car_edge_mm=110.0),
    "W5": lambda works: replace(works, lots=tuple(replace(lot, glazed=False) for lot in works.lots)),
    "W6": lambda works: with_glost_step(works, foot=FootState.GLAZED),
    "W8": lambda works: with_glost_step(works, supports=("another",)),
    "W10": lambda works: replace(works, glazes=tuple(replace(row, runny=True) for row in works.glazes)),
    "W9": with_lid,
    "Z2": narrow_window,
}
"""Rules of which the checker knows better: the works it reads is poorer than the one that the load was packed for."""


def stilted() -> Works:
    """Return the works with decoration on stilts (W7)."""
    works = random_works(3)
    rows = [replace(row, route=(*row.route[:2], replace(row.route[2], supports=("stilt",)))) for row in works.products]
    return replace(works, products=tuple(rows))


def plates() -> Works:
    """Return the works with nothing but plates, which may be piled five high without spacers (C10)."""
    works = random_works(3)
    piled = Stacking(way=StackWay.PILED, step_mm=8.0, most_pieces=5, load_limit_factor=5.0, bare_most_pieces=5)
    shapes = tuple(replace(row, stackings=(piled,)) if row.code == "plate" else row for row in works.shapes)
    lots = tuple(replace(lot, pieces=24) for lot in works.lots if works.product(lot.product).shape == "plate")
    return replace(works, shapes=shapes, lots=lots)


ELSEWHERE: dict[str, tuple[str, str, Callable[[], Works], Callable[[Works], Works]]] = {
    "W7": ("W7", "D", stilted, lambda works: with_all(works, "stilts", points=2)),
    "C10 pile": ("C10", "B", plates, lambda works: with_kilns(works, kind=ChamberKind.CAR)),
    "W4 count": (
        "W4",
        "B",
        lambda: random_works(3),
        lambda works: with_shapes(
            works, stackings=tuple(Stacking(way=way, most_pieces=1, load_limit_factor=9.0) for way in StackWay)
        ),
    ),
    "Z1": ("Z2", "G", lambda: with_glost_step(random_works(3), low_degc=None), hotter),
    "C7 away": (
        "C7",
        "G",
        lambda: with_rules(random_works(3), pack_away_most_mm=260.0),
        lambda works: with_rules(works, pack_away_most_mm=240.0),
    ),
}
"""The same in other firings or another works: how the checker names it, the firing, the works, the poorer works."""


@pytest.mark.parametrize("name", ELSEWHERE)
def test_what_the_packer_did_not_know_is_seen_elsewhere(name: str) -> None:
    """Guards stilts, piles and stacks, offsets and cone packs in the same way."""
    rule, code, make, poorer = ELSEWHERE[name]
    works = make()
    load = packed(works, code)
    assert rules_in(works, load) == set()
    assert rule in rules_in(poorer(works), load)


@pytest.mark.parametrize("rule", POORER)
def test_what_the_packer_did_not_know_is_seen(rule: str) -> None:
    """Guards stock, heat, ware and kiln: the works the checker reads is poorer than the one that was packed for."""
    works = random_works(3)
    load = packed(works, "G")
    assert rules_in(works, load) == set()
    assert rule in rules_in(POORER[rule](works), load)
