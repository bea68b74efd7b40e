"""Rules that are code and not numbers: each is taken out of the packer by itself, and the checker sees it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, TypeAlias

import pytest

from kilnpack.model.pieces import Stage
from kilnpack.model.programmes import Atmosphere
from kilnpack.packing import read_back
from kilnpack.packing.covers import cover_of
from kilnpack.packing.pack_load import pack_load
from kilnpack.packing.works_problem import works_problem
from kilnpack.rules import chemistry, standing, strength
from tests.packing.small_works import random_works
from tests.rules.edges import hard_rules
from tests.rules.small_audit import with_stock
from tests.rules.test_check_packer import BRIEF, ELSEWHERE, POORER, SOFT, packed, rules_in, with_rules

if TYPE_CHECKING:
    from collections.abc import Callable

    from kilnpack.model.works import Works
    from kilnpack.packing.read_back import Arranged

    Patch: TypeAlias = "Callable[[pytest.MonkeyPatch], None]"


def glost_works() -> Works:
    """Return the works that most cases pack for."""
    return random_works(3)


def narrow_posts() -> Works:
    """Return the works with posts round the middle, where what bends a shelf most is its free ends (F16)."""
    posts = ((110.0, 100.0), (290.0, 100.0), (290.0, 250.0), (110.0, 250.0))
    works = with_rules(random_works(3), strength_share=1.0)
    shelf = next(row for row in works.furniture.shelves if row.code == "rect")
    bent = strength.stress_mpa(replace(shelf, posts_mm=posts), 2.0)
    return with_stock(works, "shelves", "rect", posts_mm=posts, strength_mpa=bent)


def weak_ware() -> Works:
    """Return the works with ware of which the lowest piece bears no more than its own mass (W4)."""
    works = random_works(3)
    shapes = tuple(
        replace(shape, stackings=tuple(replace(way, load_limit_factor=1.0) for way in shape.stackings))
        for shape in works.shapes
    )
    return replace(works, shapes=shapes)


def two_glosts() -> Works:
    """Return the works with every second shape fired in a glost of another atmosphere (Z4)."""
    works = random_works(3)
    other = replace(works.programme("G"), code="G2", atmosphere=Atmosphere.NEUTRAL)
    products = [
        replace(row, route=(row.route[0], replace(row.route[1], programme="G2" if k // 2 % 2 else "G"), row.route[2]))
        for k, row in enumerate(works.products)
    ]
    return replace(works, products=tuple(products), programmes=(*works.programmes, other))


def no_cantilever(patch: pytest.MonkeyPatch) -> None:
    """F16 out: the free ends of a shelf count for nothing."""
    patch.setattr(strength, "FREE_FACTOR", 0.0)


def posts_on_top(patch: pytest.MonkeyPatch) -> None:
    """F17 out: every tier has posts, the top one too."""
    true = works_problem

    def closed(*args: Any, **kwargs: Any) -> Any:
        built = true(*args, **kwargs)
        stacks = tuple(replace(site, open_top=False) for site in built.problem.stacks)
        return replace(built, problem=replace(built.problem, stacks=stacks))

    patch.setattr("kilnpack.packing.pack_load.works_problem", closed)


def other_shelves(patch: pytest.MonkeyPatch) -> None:
    """F6 out: every second tier of a stack is laid with a shelf whose posts stand 9 mm aside."""
    true = read_back.arranged

    def mixed(*args: Any) -> Arranged:
        found = true(*args)
        twins = tuple(replace(row, code=f"{row.code}-twin", shelf="twin") for row in found.settings)
        stacks = tuple(
            replace(
                stack,
                tiers=tuple(
                    tier if tier.number % 2 else replace(tier, shelf="twin", setting=f"{tier.setting}-twin")
                    for tier in stack.tiers
                ),
            )
            for stack in found.stacks
        )
        return replace(found, stacks=stacks, settings=found.settings + twins)

    patch.setattr("kilnpack.packing.pack_load.arranged", mixed)


def with_twin() -> Works:
    """Return the works with a second type of shelf, its posts 9 mm aside (F6)."""
    works = random_works(3)
    shelf = next(row for row in works.furniture.shelves if row.code == "rect")
    twin = replace(shelf, code="twin", posts_mm=tuple((x + 9.0, y) for x, y in shelf.posts_mm))
    return replace(works, furniture=replace(works.furniture, shelves=(*works.furniture.shelves, twin)))


def final_size(patch: pytest.MonkeyPatch) -> None:
    """W1 out: ware is packed at the size it will have, not at that on entry."""
    true = standing._bare

    def sold(shape: Any, stage: Any) -> Any:
        return replace(true(shape, stage), stage=Stage.DECORATION)

    patch.setattr(standing, "_bare", sold)


def feet_only(patch: pytest.MonkeyPatch) -> None:
    """W3 out: bodies are as wide as at their narrowest, whatever they do higher up."""
    true = cover_of

    def slim(parts: Any) -> Any:
        return tuple(
            replace(one, profile=tuple((z, min(r for _, r in one.profile)) for z, _ in one.profile))
            for one in true(parts)
        )

    patch.setattr("kilnpack.packing.ready_ware.cover_of", slim)


def any_order(patch: pytest.MonkeyPatch) -> None:
    """W13 out: the packer looks at no way down; bodies go in from the front to the back."""

    def backwards(pieces: Any, base: Any) -> tuple[list[int], list[int]]:
        return sorted(range(len(pieces)), key=lambda k: -pieces[k].value), []

    patch.setattr(read_back, "placing_order", backwards)


def any_programme(patch: pytest.MonkeyPatch) -> None:
    """Z4 out: ware goes into any firing of its stage."""
    patch.setattr(
        chemistry, "waits_for", lambda product, lot, programme: product.route[lot.step].stage is programme.stage
    )


def everything(patch: pytest.MonkeyPatch) -> None:
    """W4 out: the lowest piece bears whatever is put on it."""
    patch.setattr(standing, "_bears", lambda *_: True)


MUTANTS: dict[str, tuple[str, str, Callable[[], Works], Patch]] = {
    "F6": ("F6", "G", with_twin, other_shelves),
    "F16": ("F9", "G", narrow_posts, no_cantilever),
    "F17": ("F17", "G", glost_works, posts_on_top),
    "W1": ("W1", "G", glost_works, final_size),
    "W3": ("C1", "G", glost_works, feet_only),
    "W4": ("W4", "B", weak_ware, everything),
    "W13": ("W13", "G", glost_works, any_order),
    "Z4": ("Z4", "G", two_glosts, any_programme),
}
"""Rule taken out: how the checker names it (F16 with F9, W3 with C1), the firing, the works, and the change."""


@pytest.mark.parametrize("name", MUTANTS)
def test_a_rule_taken_out_of_the_packer_is_seen(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards rules without a number: the packer keeps them, and a packer without one is caught by the checker."""
    rule, code, make, patch = MUTANTS[name]
    works = make()
    assert rules_in(works, packed(works, code)) == set()
    patch(monkeypatch)
    stage = works.programme(code).stage
    lots = tuple(lot for lot in works.lots if works.product(lot.product).route[lot.step].stage is stage)
    load = pack_load(works, works.kiln("K1"), works.programme(code), lots, budget=BRIEF, seed=1)
    assert load.pieces
    assert rule in rules_in(works, load)


SEEN: dict[str, tuple[str, ...]] = {
    # furniture
    "F1": ("poorer F1",),
    "F2": ("poorer F2",),
    "F3": ("poorer F3",),
    "F4": ("poorer F4",),
    "F5": ("poorer F5",),
    "F6": ("mutant F6",),
    "F7": ("poorer F7",),
    "F9": ("poorer F9",),
    "F10": ("poorer F10",),
    "F12": ("poorer F12",),
    "F13": ("poorer F13",),
    "F14": ("poorer F14",),
    "F15": ("soft F15",),
    "F16": ("mutant F16",),
    "F17": ("mutant F17",),
    # clearances
    "C1": ("soft C1",),
    "C2": ("soft C2",),
    "C3": ("soft C3",),
    "C4": ("poorer C4",),
    "C5": ("soft C5",),
    "C6": ("soft C6", "poorer C6"),
    "C7": ("soft C7", "elsewhere C7 away"),
    "C8": ("poorer C8",),
    "C10": ("poorer C10", "elsewhere C10 pile"),
    "C11": ("soft C11",),
    "C12": ("soft C12",),
    # ware
    "W1": ("soft W1", "mutant W1"),
    "W2": ("soft W2 foot", "soft W2 rim"),
    "W3": ("mutant W3",),
    "W4": ("mutant W4", "elsewhere W4 count"),
    "W5": ("poorer W5",),
    "W6": ("poorer W6",),
    "W7": ("elsewhere W7",),
    "W8": ("poorer W8",),
    "W9": ("poorer W9",),
    "W10": ("poorer W10",),
    "W13": ("mutant W13",),
    # heat, colour, atmosphere
    "Z1": ("elsewhere Z1",),
    "Z2": ("poorer Z2",),
    "Z4": ("mutant Z4",),
    "Z5": ("soft Z5",),
}
"""Every hard rule, and where it is switched off: softened, unknown to the packer, or taken out of its code."""


def test_every_hard_rule_is_switched_off_somewhere() -> None:
    """Guards the table above: all hard rules of the page stand in it, and every case that it names is run."""
    assert set(SEEN) == hard_rules()
    kinds: dict[str, dict[str, Any]] = {"soft": SOFT, "poorer": POORER, "elsewhere": ELSEWHERE, "mutant": MUTANTS}
    run = {f"{kind} {name}" for kind, cases in kinds.items() for name in cases}
    assert {name for names in SEEN.values() for name in names} == run
