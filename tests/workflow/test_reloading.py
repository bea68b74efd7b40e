"""A kiln half set and something broken: what stands stays to the byte, the rest is packed anew and checked."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from kilnpack.errors import InputFaulty
from kilnpack.model.loads import Load
from kilnpack.planning.furniture_stock import POST, furniture_of, stock_of
from kilnpack.search.budget import Budget
from kilnpack.sheets.order import tiers_in_order
from kilnpack.workflow.loading import audit_file
from kilnpack.workflow.reloading import reload_kiln
from kilnpack.works_folder import load_value, read_works, save_value

if TYPE_CHECKING:
    from pathlib import Path

    from kilnpack.workflow.loading import LoadedKiln

BRIEF = Budget(effort=30)


def stood(load: Load, below: int) -> list[object]:
    """Return all that is said of the tiers below a number, with their settings."""
    return [
        (stack.place, stack.stub, tier, load.setting(tier.setting))
        for stack in load.stacks
        for tier in stack.tiers
        if tier.number < below
    ]


def test_tiers_below_stay_and_the_broken_posts_are_not_used(studio: Path, loaded: LoadedKiln, tmp_path: Path) -> None:
    """Guards the promise: kept tiers and settings are equal, the checker accepts, broken posts are not counted on."""
    taken = furniture_of(read_works(studio), loaded.load)
    post = next(code for (kind, code) in taken if kind == POST)
    spare = stock_of(read_works(studio))[POST, post] - taken[POST, post]
    broken = f"{post}:{spare + 1}"
    found = reload_kiln(studio, loaded.saved, tmp_path / "new", broken=[broken], from_tier="2", budget=BRIEF, seed=1)
    assert stood(found.load, 2) == stood(loaded.load, 2)
    assert found.checked.findings == ()
    assert furniture_of(read_works(studio), found.load)[POST, post] < taken[POST, post]
    assert {row[1] for row in found.load.changed} == set(
        range(2, 1 + max(len(stack.tiers) for stack in found.load.stacks))
    )
    assert audit_file(studio, found.saved)[1].findings == ()
    assert "NEW since the last sheet" in found.sheets.html.read_text()
    one_code_means_one_setting(loaded.load, found.load)
    same_to_the_byte(loaded.saved, found.saved)
    assert load_value(found.saved, Load) == found.load


def one_code_means_one_setting(old: Load, new: Load) -> None:
    """Check that a loader with both sheets in hand reads one setting for one code."""
    known = {row.code: row for row in old.settings}
    assert all(known.get(row.code, row) == row for row in new.settings)


def same_to_the_byte(old_file: Path, new_file: Path) -> None:
    """Check that the settings of kept tiers read the same in both files."""
    old, new = (json.loads(path.read_text())["value"] for path in (old_file, new_file))
    kept = {tier["setting"] for stack in old["stacks"] for tier in stack["tiers"] if tier["number"] < 2}
    texts = [{row["code"]: json.dumps(row) for row in value["settings"] if row["code"] in kept} for value in (old, new)]
    assert texts[0] == texts[1]


def test_a_named_tier_opens_all_that_come_after_it(studio: Path, loaded: LoadedKiln, tmp_path: Path) -> None:
    """Guards the order of loading: with the fifth tier named, the four before it stay."""
    order = tiers_in_order(read_works(studio), loaded.load)
    lot = order[-1].tier.fills[0].lot
    found = reload_kiln(
        studio, loaded.saved, tmp_path / "new", broken=[f"{lot}:1"], from_tier=order[4].name, budget=BRIEF
    )
    new = {(row.place.code, row.tier.number): row.tier for row in tiers_in_order(read_works(studio), found.load)}
    assert all(new[row.place.code, row.tier.number] == row.tier for row in order[:4])
    assert not {(row.place.code, row.tier.number) for row in order[:4]} & set(found.load.changed)


def test_every_fault_of_the_request_is_told(studio: Path, loaded: LoadedKiln, tmp_path: Path) -> None:
    """Guards exit 2: unknown codes and tiers are findings together, and nothing is written."""
    out = tmp_path / "none"
    with pytest.raises(InputFaulty) as caught:
        reload_kiln(studio, loaded.saved, out, broken=["P15", "X:0", "Q7"], from_tier="99", budget=BRIEF)
    fields = [row.field for row in caught.value.findings]
    assert fields == ["--broken", "--broken", "--broken", "--from-tier"]
    assert not out.exists()


def test_what_stands_cannot_be_broken_away(studio: Path, loaded: LoadedKiln, tmp_path: Path) -> None:
    """Guards the stock: posts under kept tiers, and pieces on them, are not there to be broken."""
    works = read_works(studio)
    post = next(code for (kind, code) in furniture_of(works, loaded.load) if kind == POST)
    count = stock_of(works)[POST, post]
    lot = loaded.load.stacks[0].tiers[0].fills[0].lot
    broken = [f"{post}:{count}", f"{lot}:{works.lot(lot).pieces}"]
    with pytest.raises(InputFaulty) as caught:
        reload_kiln(studio, loaded.saved, tmp_path / "none", broken=broken, from_tier="4", budget=BRIEF)
    assert {row.found for row in caught.value.findings} == {post, lot}


def test_a_load_that_breaks_a_rule_is_not_carried_on(studio: Path, loaded: LoadedKiln, tmp_path: Path) -> None:
    """Guards the start: a load edited into a fault is told with the name of its file."""
    stack, *others = loaded.load.stacks
    sunk = replace(stack.tiers[-1], base_mm=stack.tiers[-1].base_mm - 20.0)
    wrong = replace(loaded.load, stacks=(replace(stack, tiers=(*stack.tiers[:-1], sunk)), *others))
    save_value(tmp_path / "wrong.json", wrong)
    with pytest.raises(InputFaulty) as caught:
        reload_kiln(studio, tmp_path / "wrong.json", tmp_path / "o", broken=["H270"], from_tier="2", budget=BRIEF)
    assert {row.file for row in caught.value.findings} == {"wrong.json"}
