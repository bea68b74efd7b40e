"""`kilnpack energy FOLDER PLAN.json --out DIR`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from kilnpack.cli.options import Folder, Out
from kilnpack.cli.record_options import Address


def energy(
    folder: Folder,
    plan: Annotated[Path, typer.Argument(help="A saved plan (JSON).")],
    out: Out,
    *,
    posts: Annotated[
        int, typer.Option(min=0, help="Effort of each packing that asks what more posts would bring; 0 does not ask.")
    ] = 4,
    records: Address = None,
) -> None:
    """Compute energy, money and carbon of a plan by firing, product and order line, and write the owner's page."""
    from kilnpack.heat.report import with_range
    from kilnpack.workflow.owner import energy_of_plan
    from kilnpack.workflow.owner_questions import recorded_losses

    found = energy_of_plan(folder, plan, out, losses=recorded_losses(folder, records), posts_effort=posts)
    report = found.report
    low, kwh, high = with_range(report.billed_kwh, report.range_share)
    net = with_range(report.total_kwh, report.range_share)[1]
    print(f"{len(report.firings)} firings take about {kwh:,.0f} kWh as billed ({low:,.0f} to {high:,.0f}).")
    print(f"That is {net:,.0f} kWh with gas by its net calorific value.")
    print(f"Shared by {report.rule.value}.")
    print(f"Calibrated on {report.readings} readings; not in it: {report.not_in_it}.")
    for words in found.words:
        print(f"Note: {words}.")
    for path in (found.written.html, found.written.pdf, found.saved):
        print(path)
