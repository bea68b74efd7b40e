"""From a works folder to an audited plan with a checked load for every firing, and its energy."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from kilnpack.errors import Finding, InputFaulty, SolverFault
from kilnpack.heat.report import LitLoad, energy_report
from kilnpack.model.plans import Plan
from kilnpack.packing.pack_load import pack_load
from kilnpack.planning.cycle import cycle_of
from kilnpack.planning.plan_audit import audit_plan, works_of
from kilnpack.planning.planner import plan_firings
from kilnpack.rules.checker import audit
from kilnpack.search.executor import cores
from kilnpack.sheets.energy_rows import owner_rows
from kilnpack.sheets.from_plan import PlanFolder, write_plan
from kilnpack.sheets.owner import OwnerPaths, write_owner_page
from kilnpack.sheets.plan_rows import CostStep
from kilnpack.workflow.loading import made_folder, tightest_of
from kilnpack.works_folder import load_value, read_works, save_value

if TYPE_CHECKING:
    from pathlib import Path

    from kilnpack.heat.report import EnergyReport
    from kilnpack.model.loads import Load
    from kilnpack.model.works import Works
    from kilnpack.search.budget import Budget
    from kilnpack.search.listener import Listener


PROCESSES = 2
"""Processes that pack and that write sheets: a second one is of use for both, a third is not for the planning."""

HANDLING_RANGE_SHARE = 0.3
"""How far hours of handling may be off: usual times for a piece span 15 to 30 s raw, 30 to 60 s glazed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedWorks:
    """An audited plan and where everything was written."""

    plan: Plan
    written: PlanFolder
    saved: Path


@dataclass(frozen=True, slots=True, kw_only=True)
class EnergyOfPlan:
    """Energy and money of a plan's firings and where it was written."""

    report: EnergyReport
    written: OwnerPaths
    saved: Path


def check_load(works: Works, load: Load) -> tuple[Finding, ...]:
    """Return the checker's findings on a load; the works holds the lots it is filled from."""
    return audit(works, load).findings


def plan_works(
    folder: Path, out_dir: Path, *, budget: Budget, seed: int = 0, listener: Listener | None = None
) -> PlannedWorks:
    """Plan the firings over the backlog, audit the plan, and write `plan.json`, the plan's sheets and every load's.

    Raises
    ------
    InputFaulty
        The folder has findings.
    SheetNotWritten
        A file cannot be written.
    SolverFault
        The plan breaks a rule; nothing was written.
    """
    works = read_works(folder)
    plan = plan_firings(
        works,
        budget=budget,
        seed=seed,
        packer=pack_load,
        checker=check_load,
        listener=listener,
        workers=min(PROCESSES, cores()),
    )
    findings = audit_plan(works, plan, checker=check_load)
    if findings:
        raise SolverFault("\n".join(["the plan breaks a rule:", *(str(one) for one in findings)]))
    plan = with_energy(plan, energy_of(works, plan))
    made_folder(out_dir)
    tightest = {firing.code: tightest_of(audit(works_of(works, plan, firing), firing.load)) for firing in plan.firings}
    written = write_plan(works, plan, out_dir, tightest=tightest, workers=min(PROCESSES, cores()))
    saved = out_dir / "plan.json"
    save_value(saved, plan)
    for firing in plan.firings:
        save_value(out_dir / "sheets" / f"{firing.code}.load.json", firing.load)
    return PlannedWorks(plan=plan, written=written, saved=saved)


def energy_of(works: Works, plan: Plan) -> EnergyReport:
    """Return the energy of a plan's firings, linings handed on warm from one to the next."""
    lots = {lot.code: lot for lot in works.lots} | {lot.code: lot for one in plan.firings for lot in one.lots}
    lit = [LitLoad(load=firing.load, lit_at=firing.fire_start) for firing in plan.firings]
    return energy_report(works, lit, lots=tuple(lots.values()))


def with_energy(plan: Plan, report: EnergyReport) -> Plan:
    """Return the plan with the energy of every firing filled in."""
    firings = tuple(
        replace(firing, energy_kwh=round(fired.balance.total_kwh, 1))
        for firing, fired in zip(plan.firings, report.firings, strict=True)
    )
    return replace(plan, firings=firings)


def energy_of_plan(folder: Path, plan_file: Path, out_dir: Path) -> EnergyOfPlan:
    """Compute energy, money and carbon of a saved plan and write the owner's page and `energy.json`.

    Raises
    ------
    InputFaulty
        The folder or the plan cannot be read, or the plan breaks a rule of the works.
    SheetNotWritten
        A file cannot be written.
    """
    works = read_works(folder)
    plan = load_value(plan_file, Plan)
    findings = audit_plan(works, plan, checker=check_load)
    if findings:
        raise InputFaulty(replace(one, file=plan_file.name) for one in findings)
    report = energy_of(works, plan)
    made_folder(out_dir)
    rows = owner_rows(works, report, [firing.code for firing in plan.firings], extra=other_costs(works, plan))
    written = write_owner_page(rows, out_dir)
    saved = out_dir / "energy.json"
    save_value(saved, report)
    return EnergyOfPlan(report=report, written=written, saved=saved)


def other_costs(works: Works, plan: Plan) -> tuple[CostStep, ...]:
    """Return what a plan's firings cost beside energy: hands that load, unload and clean, and wear of shelves."""
    person_h, tiers = 0.0, 0
    for firing in plan.firings:
        shelves = sum(len(stack.tiers) for stack in firing.load.stacks)
        cycle = cycle_of(
            works.settings,
            works.kiln(firing.kiln),
            works.programme(firing.programme),
            pieces=firing.load.pieces,
            shelves=shelves,
            contents_kg=firing.ware_kg + firing.furniture_kg,
        )
        person_h += cycle.load_person_h + cycle.unload_person_h + cycle.cleaning_person_h
        tiers += shelves
    steps = (
        CostStep(name="hands", money=person_h * works.settings.labour_money_per_h, range_share=HANDLING_RANGE_SHARE),
        CostStep(name="wear of shelves", money=tiers * works.settings.furniture_wear_money_per_shelf),
    )
    return tuple(step for step in steps if step.money > 0)


def audit_plan_file(folder: Path, plan_file: Path) -> tuple[Plan, tuple[Finding, ...]]:
    """Check a saved plan against a works folder.

    Raises
    ------
    InputFaulty
        The folder or the file cannot be read.
    """
    works = read_works(folder)
    plan = load_value(plan_file, Plan)
    return plan, audit_plan(works, plan, checker=check_load)
