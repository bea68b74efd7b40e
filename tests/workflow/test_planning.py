"""From folder to audited plan with energy: what is written, what is refused."""

from __future__ import annotations

import json
from dataclasses import replace
from math import fsum
from typing import TYPE_CHECKING

import pytest

from kilnpack.errors import InputFaulty, SolverFault
from kilnpack.model.loads import Load
from kilnpack.model.plans import Plan
from kilnpack.search.budget import Budget
from kilnpack.workflow import planning
from kilnpack.workflow.owner import energy_of_plan, other_costs
from kilnpack.workflow.planning import audit_plan_file, plan_works
from kilnpack.works_folder import load_value, read_works, save_value

if TYPE_CHECKING:
    from pathlib import Path

    from kilnpack.workflow.planning import PlannedWorks


def test_every_firing_has_a_checked_load_a_sheet_and_its_energy(studio: Path, planned: PlannedWorks) -> None:
    """The plan reads back equal, the audit finds nothing, and each firing has its files."""
    assert planned.plan.firings
    assert load_value(planned.saved, Plan) == planned.plan
    _, findings = audit_plan_file(studio, planned.saved)
    assert findings == ()
    for firing in planned.plan.firings:
        assert planned.written.sheets[firing.code].pdf.exists()
        saved = planned.saved.parent / "sheets" / f"{firing.code}.load.json"
        assert load_value(saved, Load) == firing.load
        assert firing.energy_kwh is not None
        assert firing.energy_kwh > 0


def test_energy_sums_to_the_firings(studio: Path, planned: PlannedWorks, tmp_path: Path) -> None:
    """In each firing shares and what nobody carries add up to the joule; the total is that of the plan's firings."""
    found = energy_of_plan(studio, planned.saved, tmp_path / "energy")
    report = found.report
    for fired in report.firings:
        carried = sum(share.energy_j for share in fired.shares.shares) + fired.shares.unshared_j
        assert carried == fired.shares.total_j == round(3.6e6 * fired.balance.total_kwh)
    firings = fsum(firing.energy_kwh or 0.0 for firing in planned.plan.firings)
    assert report.total_kwh == pytest.approx(firings, abs=0.06 * len(planned.plan.firings))
    assert found.written.pdf.read_bytes().startswith(b"%PDF")
    assert found.saved.exists()


def test_hands_and_wear_stand_beside_energy(studio: Path, planned: PlannedWorks) -> None:
    """A piece of 45 s and a shelf of 240 s, half again for unloading, 1/15 h of cleaning a glost shelf; 2 a shelf."""
    works = read_works(studio)
    firing = next(row for row in planned.plan.firings if row.programme == "GLOST")
    plan = replace(planned.plan, firings=(firing,))
    settings = replace(works.settings, labour_money_per_h=10.0, furniture_wear_money_per_shelf=2.0)
    shelves = sum(len(stack.tiers) for stack in firing.load.stacks)
    hands, wear = other_costs(replace(works, settings=settings), plan)
    person_h = 1.5 * (45.0 * firing.load.pieces + 240.0 * shelves) / 3600.0 + shelves / 15.0
    assert hands.money == pytest.approx(10.0 * person_h)
    assert wear.money == pytest.approx(2.0 * shelves)
    free = replace(settings, labour_money_per_h=0.0, furniture_wear_money_per_shelf=0.0)
    assert other_costs(replace(works, settings=free), plan) == ()


def test_an_edited_plan_is_refused_with_findings(studio: Path, planned: PlannedWorks, tmp_path: Path) -> None:
    """A fire that begins before its load is set is found in the file, and no energy is written."""
    whole = json.loads(planned.saved.read_text())
    firing = whole["value"]["firings"][0]
    firing["fire_start"], firing["load_end"] = firing["load_start"], firing["fire_start"]
    edited = tmp_path / "edited.json"
    edited.write_text(json.dumps(whole))
    with pytest.raises(InputFaulty) as caught:
        energy_of_plan(studio, edited, tmp_path / "none")
    assert {row.file for row in caught.value.findings} == {"edited.json"}
    assert not (tmp_path / "none").exists()


def test_a_plan_of_another_works_is_refused(studio: Path, planned: PlannedWorks, tmp_path: Path) -> None:
    """Codes the other works does not know are findings."""
    with pytest.raises(InputFaulty):
        energy_of_plan(studio.parent / "porcelain_works", planned.saved, tmp_path / "none")


def test_a_plan_that_breaks_a_rule_is_never_written(
    studio: Path, planned: PlannedWorks, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Were the planner wrong, the audit would stop the plan before anything is written."""
    first, *rest = planned.plan.firings
    wrong = replace(planned.plan, firings=(replace(first, kiln="R9"), *rest))
    monkeypatch.setattr(planning, "plan_firings", lambda *_args, **_more: wrong)
    with pytest.raises(SolverFault, match="breaks a rule"):
        plan_works(studio, tmp_path / "none", budget=Budget(effort=1))
    assert not (tmp_path / "none").exists()


def test_a_load_is_no_plan(studio: Path, planned: PlannedWorks, tmp_path: Path) -> None:
    """A saved load handed in as a plan is a finding."""
    load = tmp_path / "load.json"
    save_value(load, planned.plan.firings[0].load)
    with pytest.raises(InputFaulty, match="kilnpack plan"):
        audit_plan_file(studio, load)
