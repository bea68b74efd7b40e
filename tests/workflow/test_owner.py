"""What the owner asks beside what firing costs, on a quick plan of the studio."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from kilnpack.model.kilns import Car, ChamberKind
from kilnpack.model.pieces import Stage
from kilnpack.records.address import records_url
from kilnpack.records.learning import PlaceLoss as Recorded
from kilnpack.records.store import init_records
from kilnpack.sheets.owner_values import PlaceLoss
from kilnpack.workflow import owner_questions
from kilnpack.workflow.energy import energy_of
from kilnpack.workflow.owner_questions import (
    WhatIf,
    fill_curves,
    furniture_use,
    plan_handling,
    posts_words,
    recorded_losses,
    what_to_change,
)
from kilnpack.works_folder import read_works

if TYPE_CHECKING:
    from pathlib import Path

    from kilnpack.heat.report import EnergyReport
    from kilnpack.model.works import Works
    from kilnpack.workflow.planning import PlannedWorks


@pytest.fixture(scope="module")
def works(studio: Path) -> Works:
    """Return the studio."""
    return read_works(studio)


@pytest.fixture(scope="module")
def report(works: Works, planned: PlannedWorks) -> EnergyReport:
    """Return the energy of the plan."""
    return energy_of(works, planned.plan)


def test_hands_are_split_into_pieces_and_shelves(works: Works, planned: PlannedWorks) -> None:
    """A biscuit piece is 20 s and half again for unloading; the rest of the hands and the wear go by shelves."""
    firing = next(row for row in planned.plan.firings if row.programme == "BISC")
    (found,) = plan_handling(works, replace(planned.plan, firings=(firing,)))
    shelves = sum(len(stack.tiers) for stack in firing.load.stacks)
    settings = works.settings
    assert found.by_pieces_money == pytest.approx(
        1.5 * settings.raw_handling_s * firing.load.pieces / 3600.0 * settings.labour_money_per_h
    )
    assert found.by_energy_money == pytest.approx(
        1.5 * settings.shelf_handling_s * shelves / 3600.0 * settings.labour_money_per_h
        + shelves * settings.furniture_wear_money_per_shelf
    )


def test_changes_are_asked_of_every_kiln(works: Works, planned: PlannedWorks, report: EnergyReport) -> None:
    """Each names a kiln and programme of the plan, saves something, and lies within its range."""
    found = what_to_change(works, planned.plan, report, {})
    assert found
    for row in found:
        assert "R1" in row.name
        assert row.low_money <= row.money <= row.high_money


def test_more_posts_are_asked_by_packing_again(
    works: Works, planned: PlannedWorks, report: EnergyReport, monkeypatch: pytest.MonkeyPatch
) -> None:
    """20 more of a height that binds, a tenth more value placed: a tenth of 1.1 of the bound firings is saved."""
    plan = planned.plan
    stock = {post.code: post.count_pieces for post in works.furniture.posts}

    def packed(more: Works, *_args: object, **_more: object) -> object:
        more_posts = any(post.count_pieces > stock[post.code] for post in more.furniture.posts)
        return replace(plan.firings[0].load, value_share=0.55 if more_posts else 0.5)

    monkeypatch.setattr(owner_questions, "pack_load", packed)
    monkeypatch.setattr(owner_questions, "BINDING_SHARE", 0.01)
    found = what_to_change(works, plan, report, {}, WhatIf(posts_effort=1))
    posts = [row for row in found if "more posts" in row.name]
    assert 1 <= len(posts) <= owner_questions.MOST_HEIGHTS
    dearest, code = max(
        (sum(fired.bill.money for fired in report.firings if fired.balance.programme == code), code)
        for code in ("BISC", "GLOST")
    )
    own = [firing for firing in plan.firings if firing.programme == code]
    posted = [one for one in own if any(tier.posts for stack in one.load.stacks for tier in stack.tiers)]
    assert posts[0].money == pytest.approx(dearest * 0.1 / 1.1 * len(posted) / len(own), rel=1e-6)
    assert posts_words(works, plan) == ()


def test_where_no_height_binds_it_is_said(works: Works, planned: PlannedWorks, monkeypatch: pytest.MonkeyPatch) -> None:
    """With posts for ten kilns no load uses a height up."""
    posts = tuple(replace(post, count_pieces=10_000) for post in works.furniture.posts)
    plenty = replace(works, furniture=replace(works.furniture, posts=posts))
    assert "R1" in posts_words(plenty, planned.plan)[0]


def test_a_car_kiln_is_asked_for_one_more_car(works: Works, planned: PlannedWorks) -> None:
    """Were the studio's kiln a shuttle, the waits between its firings would be asked about."""
    kiln = replace(works.kilns[0], kind=ChamberKind.CAR, cars=(Car(code="C1", deck_kg=10.0, deck_material="mullite"),))
    shuttle = replace(works, kilns=(kiln,))
    found = what_to_change(shuttle, planned.plan, energy_of(shuttle, planned.plan), {})
    assert any(row.name.startswith("one more car") for row in found)


def test_curves_and_shelves_are_those_of_the_plan(works: Works, planned: PlannedWorks, report: EnergyReport) -> None:
    """A curve for each programme fired; tiers of the plan add up over the types of shelf."""
    fired = {firing.programme for firing in planned.plan.firings}
    assert {curve.programme for curve in fill_curves(works, report, {})} == fired
    tiers = sum(len(stack.tiers) for firing in planned.plan.firings for stack in firing.load.stacks)
    assert sum(row.tiers for row in furniture_use(works, planned.plan)) == tiers


def test_without_records_there_are_no_losses(tmp_path: Path) -> None:
    """A folder that keeps none has no loss map."""
    assert recorded_losses(tmp_path) == ()


def test_losses_of_all_stages_are_summed_by_place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Empty records have none; rows of two stages at one place add up, and those without a place are left out."""
    init_records(records_url(tmp_path)).close()
    assert recorded_losses(tmp_path) == ()
    row = Recorded(
        kiln="G1", stage=Stage.GLOST, stack="A", tier=2, fired_pieces=50, second_pieces=2, refire_pieces=1,
        scrap_pieces=3, firings=4, causes=(),
    )  # fmt: skip
    rows = (row, replace(row, stage=Stage.BISCUIT, fired_pieces=10), replace(row, stack=None, tier=None))
    monkeypatch.setattr(owner_questions, "losses", lambda _session: rows)
    found = recorded_losses(tmp_path)
    assert found == (PlaceLoss(kiln="G1", stack="A", tier=2, fired_pieces=60, lost_pieces=12),)
