"""From a works folder to a date that may be promised."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kilnpack.errors import Finding, InputFaulty, SolverFault
from kilnpack.packing.pack_load import pack_load
from kilnpack.planning.plan_audit import audit_plan
from kilnpack.planning.promising import SURE_SHARE, Asking, asked_works, promised
from kilnpack.search.executor import cores
from kilnpack.words import nearest
from kilnpack.workflow.planning import PROCESSES, check_load
from kilnpack.workflow.saved_plans import saved_plan
from kilnpack.works_folder import read_works

if TYPE_CHECKING:
    from pathlib import Path

    from kilnpack.model.questions import Promise
    from kilnpack.model.works import Works
    from kilnpack.search.budget import Budget
    from kilnpack.search.listener import Listener


def promise_date(
    folder: Path,
    item: str,
    quantity: int,
    *,
    plan_file: Path | None,
    budget: Budget,
    seed: int = 0,
    sure_share: float = SURE_SHARE,
    listener: Listener | None = None,
) -> Promise:
    """Return when so many pieces of a product (or sets) can be there beside the orders of a works.

    Raises
    ------
    InputFaulty
        The folder or the plan cannot be read, or the product is not known.
    SolverFault
        The plan that the date rests on breaks a rule.
    """
    works = read_works(folder)
    before = saved_plan(plan_file) if plan_file is not None else None
    if before is not None and before.works != works.name:
        wanted = f"a plan of {works.name}"
        raise InputFaulty([*_faults(works, item, quantity), _fault("--plan", before.works, wanted)])
    asking = Asking(item=item, quantity_pieces=quantity, before=before, sure_share=sure_share)
    return promise_asked(
        works, asking, budget=budget, seed=seed, listener=listener, workers=min(PROCESSES, cores())
    )  # fmt: skip


def promise_asked(
    works: Works,
    asking: Asking,
    *,
    budget: Budget,
    seed: int = 0,
    listener: Listener | None = None,
    workers: int = 1,
) -> Promise:
    """Return when what is asked for can be there; the plan that the date rests on is audited.

    Raises
    ------
    InputFaulty
        The product is not known, or fewer than one piece is asked for.
    SolverFault
        The plan that the date rests on breaks a rule.
    """
    faults = _faults(works, asking.item, asking.quantity_pieces)
    if faults:
        raise InputFaulty(faults)
    found, plan = promised(
        works,
        asking,
        budget=budget,
        seed=seed,
        packer=pack_load,
        checker=check_load,
        listener=listener,
        workers=workers,
    )
    findings = audit_plan(asked_works(works, asking, seed), plan, checker=check_load)
    if findings:
        raise SolverFault("\n".join(["the plan breaks a rule:", *(str(one) for one in findings)]))
    return found


def _faults(works: Works, item: str, quantity: int) -> list[Finding]:
    codes = [row.code for row in works.products] + [row.code for row in works.sets]
    faults = []
    if item not in codes:
        faults.append(_fault("--product", item, f"a product or set of the works{nearest(item, codes)}"))
    if quantity < 1:
        faults.append(_fault("--quantity", str(quantity), "at least 1"))
    return faults


def _fault(field: str, found: str, wanted: str) -> Finding:
    return Finding(file="command", row=None, field=field, found=found, wanted=wanted)
