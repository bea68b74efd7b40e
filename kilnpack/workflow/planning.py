"""From a works folder to an audited plan with a checked load for every firing."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from kilnpack.errors import Finding, InputFaulty, SolverFault
from kilnpack.model.plans import Plan
from kilnpack.packing.pack_load import pack_load
from kilnpack.planning.comparing import compared, moved_words, stays_words
from kilnpack.planning.plan_audit import audit_plan
from kilnpack.planning.plan_given_audit import audit_stays
from kilnpack.planning.planner import plan_firings
from kilnpack.planning.settle import settle
from kilnpack.rules.checker import Audit, audit
from kilnpack.search.executor import cores
from kilnpack.sheets.from_plan import PlanFolder, write_plan
from kilnpack.workflow.asking import Wishes, asked_of
from kilnpack.workflow.cooling_words import planned_coolings
from kilnpack.workflow.energy import calibrations_in, energy_of, with_energy
from kilnpack.workflow.loading import tightest_of
from kilnpack.workflow.plans_beside import PlanTask, best_of
from kilnpack.workflow.programmes import with_heat_words
from kilnpack.workflow.saved_plans import saved_plan
from kilnpack.works_folder import load_value, read_works, save_value
from kilnpack.works_folder.landing import landing, state_of

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from kilnpack.heat.calibration import Calibration
    from kilnpack.model.loads import Load
    from kilnpack.model.questions import PlanComparison
    from kilnpack.model.works import Works
    from kilnpack.planning.packs import Checker
    from kilnpack.planning.settle import Asked
    from kilnpack.search.budget import Budget
    from kilnpack.search.listener import Listener


PROCESSES = 2
"""Processes that pack and that write sheets: a second one is of use for both, a third is not for the planning."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedWorks:
    """An audited plan and where everything was written."""

    plan: Plan
    written: PlanFolder
    saved: Path


class Measured:
    """A checker of one plan that keeps what it measured: a load is measured once for the lots and furniture it is of.

    The same load may be judged while planning, in the audit of the plan and for its sheet.
    """

    def __init__(self) -> None:
        self._kept: dict[tuple[int, str | None], list[tuple[Works, Load, Audit]]] = {}

    def __call__(self, works: Works, load: Load, /) -> tuple[Finding, ...]:
        """Return the findings on a load."""
        rows = self._kept.setdefault((id(load.stacks), load.car), [])
        for seen, kept, found in rows:
            if _same_load(kept, load) and seen.lots == works.lots and seen.furniture == works.furniture:
                return found.findings
        found = audit(works, load)
        rows.append((works, load, found))
        return found.findings

    def of(self, load: Load) -> Audit:
        """Return what was measured last of a load; words may have been added to it since."""
        return self._kept[id(load.stacks), load.car][-1][2]


def _same_load(one: Load, other: Load) -> bool:
    """Whether two loads are one and the same but for their words."""
    return all(getattr(one, name) is getattr(other, name) for name in ("stacks", "settings", "forms", "cone_packs"))


def check_load(works: Works, load: Load) -> tuple[Finding, ...]:
    """Return the checker's findings on a load; the works holds the lots it is filled from."""
    return audit(works, load).findings


def plan_works(
    folder: Path,
    out_dir: Path,
    *,
    budget: Budget,
    seed: int = 0,
    listener: Listener | None = None,
    wishes: Wishes | None = None,
    plans: int = 1,
) -> PlannedWorks:
    """Plan the firings over the backlog, audit the plan, and write `plan.json`, the plan's sheets and every load's.

    With more `plans` than one, so many are made beside each other and the best is kept.

    Where `wishes` name a plan before, its started and locked firings stay, and the plan says what moved.

    Raises
    ------
    InputFaulty
        The folder has findings.
    SheetNotWritten
        A file cannot be written.
    SolverFault
        The plan breaks a rule; nothing was written.
    """
    works, seen = read_works(folder), state_of(out_dir)
    calibrations, calibrated = calibrations_in(folder, works)
    asked = asked_of(works, wishes or Wishes())
    measured = Measured()
    plan = plan_asked(
        works,
        asked,
        budget=budget,
        seed=seed,
        listener=listener,
        workers=min(PROCESSES, cores()),
        calibrations=calibrations,
        remarks=calibrated,
        checker=measured,
        plans=plans,
    )
    tightest = {firing.code: tightest_of(measured.of(firing.load)) for firing in plan.firings}
    with landing(out_dir, seen) as place:
        written = write_plan(works, plan, place.aside, tightest=tightest, workers=min(PROCESSES, cores()))
        for firing in plan.firings:
            save_value(place.aside / "sheets" / f"{firing.code}.load.json", firing.load)
        saved = save_value(place.aside / "plan.json", plan)
    return PlannedWorks(plan=plan, written=place.final(written), saved=place.final(saved))


def plan_asked(  # noqa: PLR0913 - what is planned and asked, how much to look, who listens and who judges
    works: Works,
    asked: Asked,
    *,
    budget: Budget,
    seed: int = 0,
    listener: Listener | None = None,
    workers: int = 1,
    calibrations: Mapping[str, Calibration] | None = None,
    remarks: tuple[str, ...] = (),
    checker: Checker | None = None,
    plans: int = 1,
) -> Plan:
    """Return an audited plan with the energy of its firings, and what stays and moved against the plan before.

    Parameters
    ----------
    calibrations
        Factors of the kilns' energy, by kiln.
    remarks
        What else the plan is to say.
    checker
        Judges every load, while planning and in the audit of the plan that is returned.
    plans
        How many are made beside each other; the best is kept.

    Raises
    ------
    InputFaulty
        A firing that must stay cannot.
    SolverFault
        The plan breaks a rule.
    """
    judge = checker if checker is not None else Measured()
    settled = settle(works, replace(asked, calibrations=calibrations or {}), checker=judge)
    if plans > 1:
        first = PlanTask(
            works=works, settled=settled, packer=pack_load, checker=check_load, budget=budget, seed=seed, number=0,
            workers=workers,
        )  # fmt: skip
        plan = best_of(first, plans=plans, listener=listener)
    else:
        plan = plan_firings(
            works,
            budget=budget,
            seed=seed,
            packer=pack_load,
            checker=judge,
            listener=listener,
            workers=workers,
            settled=settled,
        )
    findings = audit_plan(works, plan, checker=judge)
    if asked.before is not None:
        findings += audit_stays(plan, asked.before)
    if findings:
        raise SolverFault("\n".join(["the plan breaks a rule:", *(str(one) for one in findings)]))
    report = energy_of(works, plan, calibrations)
    plan = with_heat_words(works, with_energy(plan, report))
    cooling = planned_coolings(works, plan, report, calibrations or {})
    return replace(plan, remarks=(*_said(plan, asked.before), *plan.remarks, *remarks, *cooling))


def _said(plan: Plan, before: Plan | None) -> tuple[str, ...]:
    """Return what stays and what moved against the plan before."""
    return () if before is None else (*stays_words(plan), *moved_words(compared(before, plan)))


def compare_files(before: Path, after: Path) -> PlanComparison:
    """Compare two saved plans of one works.

    Raises
    ------
    InputFaulty
        A file cannot be read, or they are of two works.
    """
    plans = saved_plan(before), saved_plan(after)
    if plans[0].works != plans[1].works:
        wanted = f"a plan of {plans[0].works}"
        raise InputFaulty([Finding(file=after.name, row=None, field="works", found=plans[1].works, wanted=wanted)])
    return compared(*plans)


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
