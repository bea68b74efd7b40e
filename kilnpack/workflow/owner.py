"""From a saved plan to the owner's page: energy, money and carbon, told apart and shared out."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import fsum
from typing import TYPE_CHECKING

from kilnpack.errors import InputFaulty
from kilnpack.heat.report import with_handling
from kilnpack.model.plans import Plan
from kilnpack.planning.plan_audit import audit_plan
from kilnpack.search.listener import Progress, Silent
from kilnpack.sheets.energy_rows import owner_rows
from kilnpack.sheets.owner import OwnerPaths, write_owner_page
from kilnpack.sheets.owner_values import HANDLING_RANGE_SHARE, CostStep
from kilnpack.workflow.energy import calibrations_in, energy_of
from kilnpack.workflow.owner_questions import (
    AS_USUAL,
    WhatIf,
    fill_curves,
    furniture_use,
    plan_handling,
    posts_words,
    what_to_change,
)
from kilnpack.workflow.planning import check_load
from kilnpack.works_folder import load_value, read_works, save_value
from kilnpack.works_folder.landing import landing, state_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from kilnpack.heat.calibration import Calibration
    from kilnpack.heat.report import EnergyReport
    from kilnpack.model.works import Works
    from kilnpack.search.listener import Listener
    from kilnpack.sheets.owner_values import OwnerRows, PlaceLoss

SILENT = Silent()


@dataclass(frozen=True, slots=True, kw_only=True)
class EnergyOfPlan:
    """Energy and money of a plan's firings and where it was written; `words` say what it is calibrated on."""

    report: EnergyReport
    written: OwnerPaths
    saved: Path
    words: tuple[str, ...] = ()


def energy_of_plan(
    folder: Path, plan_file: Path, out_dir: Path, *, losses: Sequence[PlaceLoss] = (), posts_effort: int = 0
) -> EnergyOfPlan:
    """Compute energy, money and carbon of a saved plan and write the owner's page and `energy.json`.

    Parameters
    ----------
    losses
        What was lost by place, once it is recorded.
    posts_effort
        Effort of each packing that asks what more posts would bring; 0 does not ask.

    Raises
    ------
    InputFaulty
        The folder or the plan cannot be read, or the plan breaks a rule of the works.
    SheetNotWritten
        A file cannot be written.
    """
    works, seen = read_works(folder), state_of(out_dir)
    plan = load_value(plan_file, Plan)
    findings = audit_plan(works, plan, checker=check_load)
    if findings:
        raise InputFaulty(replace(one, file=plan_file.name) for one in findings)
    calibrations, words = calibrations_in(folder, works)
    report, rows = costs_of(works, plan, calibrations, losses=losses, what_if=WhatIf(posts_effort=posts_effort))
    with landing(out_dir, seen) as place:
        written = write_owner_page(rows, place.aside)
        saved = save_value(place.aside / "energy.json", report)
    return EnergyOfPlan(report=report, written=place.final(written), saved=place.final(saved), words=words)


def costs_of(
    works: Works,
    plan: Plan,
    calibrations: Mapping[str, Calibration],
    *,
    losses: Sequence[PlaceLoss] = (),
    what_if: WhatIf = AS_USUAL,
    listener: Listener = SILENT,
) -> tuple[EnergyReport, OwnerRows]:
    """Return the energy of a plan's firings and the rows of the owner's page."""
    listener.heard(Progress(step="energy of every firing", value=0.0, share=0.1, elapsed_s=0.0))
    report = with_handling(works, energy_of(works, plan, calibrations), plan_handling(works, plan))
    listener.heard(Progress(step="what to change first", value=0.0, share=0.4, elapsed_s=0.0))
    rows = owner_rows(
        works,
        report,
        [firing.code for firing in plan.firings],
        extra=other_costs(works, plan),
        curves=fill_curves(works, report, calibrations),
        changes=what_to_change(works, plan, report, calibrations, what_if),
        furniture=furniture_use(works, plan),
        losses=losses,
        more_remarks=posts_words(works, plan),
    )
    return report, rows


def other_costs(works: Works, plan: Plan) -> tuple[CostStep, ...]:
    """Return what a plan's firings cost beside energy: hands that load, unload and clean, and wear of shelves."""
    handling = plan_handling(works, plan)
    tiers = sum(len(stack.tiers) for firing in plan.firings for stack in firing.load.stacks)
    wear = tiers * works.settings.furniture_wear_money_per_shelf
    hands = fsum(one.by_pieces_money + one.by_energy_money for one in handling) - wear
    steps = (
        CostStep(name="hands", money=hands, range_share=HANDLING_RANGE_SHARE),
        CostStep(name="wear of shelves", money=wear),
    )
    return tuple(step for step in steps if step.money > 1e-6)
