"""`kilnpack audit FOLDER FILE`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from kilnpack.cli.options import Folder, print_findings


def audit(folder: Folder, file: Annotated[Path, typer.Argument(help="A saved load or plan (JSON).")]) -> None:
    """Judge any load or plan, also one made by hand, against every rule."""
    from kilnpack.codec import schema_name
    from kilnpack.model.plans import Plan
    from kilnpack.works_folder.saved import saved_as

    findings = _plan(folder, file) if saved_as(file) == schema_name(Plan) else _load(folder, file)
    if findings:
        raise typer.Exit(2)


def _load(folder: Path, file: Path) -> int:
    from kilnpack.workflow.loading import audit_file

    load, checked = audit_file(folder, file)
    if checked.findings:
        print_findings(checked.findings)
        return len(checked.findings)
    print(f"{load.pieces} pieces on {checked.tiers} tiers of {load.kiln}: no finding.")
    for what, tight in (("gap", checked.tightest_gap), ("headroom", checked.tightest_headroom)):
        if tight:
            print(f"Tightest {what}: {tight.mm:.1f} mm at stack {tight.place} tier {tight.tier}, {tight.what}")
    for remark in checked.remarks:
        print(f"Note: {remark}")
    return 0


def _plan(folder: Path, file: Path) -> int:
    from kilnpack.workflow.planning import audit_plan_file

    plan, findings = audit_plan_file(folder, file)
    if findings:
        print_findings(findings)
    else:
        print(f"{len(plan.firings)} firings, every load checked: no finding.")
    return len(findings)
