"""Questions planners ask of a works folder or a saved plan, beside the date to promise."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from kilnpack.errors import Finding, InputFaulty, SolverFault
from kilnpack.model.plans import Plan
from kilnpack.model.questions import Gain, Gains, TradeOff
from kilnpack.packing.pack_load import pack_load
from kilnpack.planning.filling import filled
from kilnpack.planning.given import Given
from kilnpack.planning.height_classes import backlog_by_height
from kilnpack.planning.more_of import BOX_POSTS, one_more
from kilnpack.planning.plan_audit import audit_plan
from kilnpack.planning.planner import POLICIES, plan_firings, plan_with
from kilnpack.planning.settle import Settled
from kilnpack.planning.trading import best_ways, mean_kwh, points_of, typical_loads
from kilnpack.rules.checker import audit
from kilnpack.search.executor import cores
from kilnpack.sheets.from_plan import works_of_firing
from kilnpack.sheets.loading import write_loading_sheet
from kilnpack.sheets.trade_off import write_trade_off
from kilnpack.words import listed, nearest
from kilnpack.workflow.energy import calibrations_in, energy_of, with_energy
from kilnpack.workflow.loading import tightest_of
from kilnpack.workflow.planning import PROCESSES, check_load
from kilnpack.works_folder import load_value, read_works, save_value
from kilnpack.works_folder.landing import landing, state_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from kilnpack.heat.calibration import Calibration
    from kilnpack.model.questions import BacklogByHeight, FilledFiring
    from kilnpack.model.works import Works
    from kilnpack.planning.policies import Policy
    from kilnpack.search.budget import Budget
    from kilnpack.search.listener import Listener


def backlog_of_folder(folder: Path) -> BacklogByHeight:
    """Return the backlog of a works folder in shelf-equivalents by height class.

    Raises
    ------
    InputFaulty
        The folder has findings.
    """
    return backlog_by_height(read_works(folder))


def fill_firing(
    folder: Path, plan_file: Path, code: str, *, budget: Budget, seed: int = 0, out_dir: Path | None = None
) -> FilledFiring:
    """Return what would fill a planned firing; with `out_dir`, write the fuller load and its loading sheet.

    Raises
    ------
    InputFaulty
        The folder or the plan cannot be read, the plan breaks a rule, or the firing is not known.
    SheetNotWritten
        A file cannot be written.
    """
    works = read_works(folder)
    plan = load_value(plan_file, Plan)
    findings = [replace(one, file=plan_file.name) for one in audit_plan(works, plan)]
    codes = [row.code for row in plan.firings]
    if code not in codes:
        findings.append(_fault("FIRING", code, f"a firing of the plan: {listed(codes)}"))
    if findings:
        raise InputFaulty(findings)
    firing = plan.firing(code)
    found = filled(works, plan, firing, budget=budget, seed=seed, packer=pack_load, checker=check_load)
    if out_dir is not None and found.load is not None:
        fuller = replace(firing, load=found.load, lots=found.lots)
        here = works_of_firing(works, fuller)
        tightest = tightest_of(audit(replace(here, lots=found.lots), found.load))
        with landing(out_dir, state_of(out_dir)) as place:
            write_loading_sheet(here, found.load, place.aside, title=f"Load {code} fuller", tightest=tightest)
            save_value(place.aside / f"{code}.load.json", found.load)
    return found


def gains_of(
    folder: Path,
    wanted: Sequence[str],
    *,
    budget: Budget,
    seed: int = 0,
    box_posts: int = BOX_POSTS,
    listener: Listener | None = None,
) -> Gains:
    """Plan the works as it is and with one more of each thing, all with equal effort.

    Parameters
    ----------
    wanted
        What to try, such as ``kiln E1``, ``car G1``, ``shift`` or ``posts C100``; nothing for all of them.

    Raises
    ------
    InputFaulty
        The folder has findings, or a thing is not known.
    """
    works = read_works(folder)
    calibrations, said = calibrations_in(folder, works)
    rows = {row.what: row for row in one_more(works, box_posts=box_posts)}
    unknown = [what for what in wanted if what not in rows]
    if unknown:
        raise InputFaulty(
            _fault("--more", what, nearest(what, rows) or f"one of {listed(rows, len(rows))}") for what in unknown
        )
    tried = [rows[what] for what in wanted] or list(rows.values())
    now = _gain(works, "as it is", budget, seed, calibrations, listener)
    found = [_gain(row.works, row.what, budget, seed, calibrations, listener) for row in tried]
    found.sort(key=lambda row: (row.goals.order, row.energy_kwh, row.what))
    return Gains(works=works.name, now=now, rows=tuple(found), remarks=said)


def trade_off_of(
    folder: Path, out_dir: Path, *, budget: Budget, seed: int = 0, listener: Listener | None = None
) -> tuple[TradeOff, tuple[Path, ...]]:
    """Plan a works for several weights of energy against lateness, and write chart, table and `trade-off.json`.

    The budget is that of each plan. Every plan is packed, checked and audited.

    Raises
    ------
    InputFaulty
        The folder has findings.
    SheetNotWritten
        A file cannot be written.
    SolverFault
        A plan breaks a rule; nothing was written.
    """
    works, seen = read_works(folder), state_of(out_dir)
    calibrations, _ = calibrations_in(folder, works)
    base = with_energy_of(works, _with(works, POLICIES[0], budget, seed, listener), calibrations)
    chosen = best_ways(works, mean_kwh(base), seed=seed, typical=typical_loads(works, base))
    plans: dict[Policy, Plan] = {POLICIES[0]: base}
    for policy in chosen.values():
        if policy not in plans:
            plans[policy] = with_energy_of(works, _with(works, policy, budget, seed, listener), calibrations)
    faults = [str(one) for plan in plans.values() for one in audit_plan(works, plan, checker=check_load)]
    if faults:
        raise SolverFault("\n".join(["a plan breaks a rule:", *faults]))
    found = TradeOff(works=works.name, points=points_of((weight, plans[chosen[weight]]) for weight in chosen))
    with landing(out_dir, seen) as place:
        written = (*write_trade_off(found, place.aside), save_value(place.aside / "trade-off.json", found))
    return found, place.final(written)


def _with(works: Works, policy: Policy, budget: Budget, seed: int, listener: Listener | None) -> Plan:
    return plan_with(works, policy, budget=budget, seed=seed, packer=pack_load, checker=check_load, listener=listener)


def with_energy_of(works: Works, plan: Plan, calibrations: Mapping[str, Calibration]) -> Plan:
    """Return a plan with the energy of every firing filled in."""
    return with_energy(plan, energy_of(works, plan, calibrations))


def _gain(
    works: Works,
    what: str,
    budget: Budget,
    seed: int,
    calibrations: Mapping[str, Calibration],
    listener: Listener | None,
) -> Gain:
    known = {code: one for code, one in calibrations.items() if code in {kiln.code for kiln in works.kilns}}
    plan = plan_firings(
        works,
        budget=budget,
        seed=seed,
        packer=pack_load,
        checker=check_load,
        listener=listener,
        workers=min(PROCESSES, cores()),
        settled=Settled(given=Given(calibrations=known)),
    )
    report = energy_of(works, plan, known)
    return Gain(what=what, goals=plan.goals, energy_kwh=round(report.total_kwh, 1))


def _fault(field: str, found: str, wanted: str) -> Finding:
    return Finding(file="command", row=None, field=field, found=found, wanted=wanted)
