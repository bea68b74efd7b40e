"""Room for late pieces, substitutes for broken ones, fillers for a near-empty kiln: told, and told truly."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from kilnpack.model.loads import PlaceFill
from kilnpack.packing.late import late_step
from kilnpack.packing.pack_load import pack_load
from kilnpack.packing.substitutes import substitutes
from kilnpack.rules.checker import audit
from kilnpack.search.budget import Budget
from tests.packing.small_works import lots_for, random_works

if TYPE_CHECKING:
    from kilnpack.model.loads import Load
    from kilnpack.model.works import Works

BRIEF = Budget(effort=30)


def packed(works: Works, code: str, late: dict[str, int] | None = None) -> Load:
    """Return a load of the round kiln."""
    kiln, programme = works.kiln("K2"), works.programme(code)
    return pack_load(works, kiln, programme, lots_for(works, code), budget=BRIEF, seed=1, late=late)


def test_late_pieces_have_their_places_kept() -> None:
    """Guards `--reserve`: a late mug set where its place is kept breaks no rule, and none of it is in the load."""
    works = random_works(6)
    load = packed(works, "D", {"mug-white": 2})
    assert sum(row.pieces for row in load.reserved) == 2
    first = load.reserved[0]
    [said] = [line for line in load.remarks if "late pieces" in line]
    assert said.startswith("room is kept for 2 of 2 late pieces of mug-white: ")
    assert f" on tier {first.tier} of stack {first.stack}" in said
    assert [str(row) for row in audit(works, load).findings] == []
    lot = next(lot for lot in works.lots if lot.product == "mug-white" and lot.step == 2)
    more = replace(works, lots=tuple(replace(row, pieces=row.pieces + 2) if row == lot else row for row in works.lots))
    assert [str(row) for row in audit(more, filled(load, lot.code)).findings] == []


def filled(load: Load, lot: str) -> Load:
    """Return the load with pieces of a lot in the places that were kept free, set in their turn."""
    for row in reversed(load.reserved):
        stack = next(one for one in load.stacks if one.place == row.stack)
        tier = stack.tiers[row.tier - 1]
        setting = load.setting(tier.setting)
        own = (
            replace(setting.standings[0], form=row.form, x_mm=row.x_mm, y_mm=row.y_mm, turn_deg=row.turn_deg)
            if (setting.standings)
            else None
        )
        assert own is not None
        rows = [*setting.standings[: row.after_place], own, *setting.standings[row.after_place :]]
        new = replace(
            setting,
            code=f"{setting.code}+{row.tier}{row.stack}",
            standings=tuple(replace(one, place=k) for k, one in enumerate(rows, start=1)),
        )
        fills = [replace(fill, place=fill.place + (fill.place > row.after_place)) for fill in tier.fills]
        fills.append(PlaceFill(place=row.after_place + 1, lot=lot, pieces=row.pieces))
        changed = replace(tier, setting=new.code, fills=tuple(sorted(fills, key=lambda fill: fill.place)))
        tiers = tuple(changed if one == tier else one for one in stack.tiers)
        stacks = tuple(replace(stack, tiers=tiers) if one == stack else one for one in load.stacks)
        load = replace(load, settings=(*load.settings, new), stacks=stacks)
    return load


def test_what_cannot_be_kept_is_remarked() -> None:
    """Guards the honest answer: room for a thousand late vases is not there, and it is said how many have it."""
    works = random_works(6)
    load = packed(works, "D", {"vase-white": 1000})
    assert any("of 1000 late pieces of vase-white" in line for line in load.remarks)


def test_a_product_of_another_route_has_no_late_step() -> None:
    """Guards the look-up of the firing that late pieces wait for."""
    works = random_works(6)
    assert late_step(works, works.programme("G"), "mug-white") == 1
    other = replace(works.programme("G"), code="X")
    assert late_step(works, other, "mug-white") is None


def test_substitutes_are_accepted_by_the_checker() -> None:
    """Guards "you may set instead": what is offered is left out, and not more of it than there is."""
    for seed in (1, 6):
        works = random_works(seed)
        load = packed(works, "D")
        offers = substitutes(works, load, lots_for(works, "D"))
        left = {row.lot: row.pieces for row in load.left_out}
        assert all(0 < one.pieces <= left[one.lot] for one in offers)
        assert all(one.form in {form.code for form in load.forms} for one in offers)


def test_a_near_empty_kiln_names_what_could_fill_it() -> None:
    """Guards Z7: lots that wait for the firing but are not ready are named with pieces and mass, then dummies."""
    works = random_works(1)
    heavy = replace(works, kilns=tuple(replace(kiln, least_ware_kg=500.0) for kiln in works.kilns))
    kiln, programme = heavy.kiln("K2"), heavy.programme("B")
    some = lots_for(heavy, "B")[:1]
    load = pack_load(heavy, kiln, programme, some, budget=BRIEF, seed=1)
    said = [line for line in load.remarks if line.startswith("Z7")]
    assert "500.0 kg wanted" in said[0]
    assert any("could fill up:" in line and lots_for(heavy, "B")[1].code in line for line in said)
    assert any("of dummies" in line for line in said)
