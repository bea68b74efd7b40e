"""The demonstration: the whole chain on the two works of `demo_orders/`, written under one folder.

python -m kilnpack.workflow.demo --out out/
"""

from __future__ import annotations

import argparse
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from kilnpack.errors import KilnpackError
from kilnpack.search.budget import Budget
from kilnpack.search.executor import executor
from kilnpack.workflow.loading import LoadedKiln, load_kiln
from kilnpack.workflow.owner import energy_of_plan
from kilnpack.workflow.planning import plan_works

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

TABLEWARE = "porcelain_works"
STUDIO = "round_kiln_studio"
LOADS = (
    (TABLEWARE, "E1", "BISC"),
    (TABLEWARE, "G1", "GLOST"),
    (TABLEWARE, "D1", "COL790"),
    (STUDIO, "R1", "GLOST"),
)
LOAD_S = 8.0
PLAN_S = 60.0
AT_A_TIME = 2
"""Loads packed beside each other."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """One thing the demonstration made: for whom, what, and where."""

    reader: str
    what: str
    where: Path


def demonstrate(
    orders: Path,
    out_dir: Path,
    *,
    load_s: float = LOAD_S,
    plan_s: float = PLAN_S,
    tell: Callable[[str], object] = print,
) -> list[Shown]:
    """Pack one load of each stage, plan the whole backlog, compute its energy; return where to look.

    Parameters
    ----------
    orders
        Folder of the demo works.
    out_dir
        Where all is written, made where it is missing.
    load_s, plan_s
        Seconds for each load and for the plan.
    tell
        Takes a line of progress.

    Raises
    ------
    KilnpackError
        A folder has findings, a file cannot be written, or a load breaks a rule.
    """
    shown = []
    for (works, kiln, programme), found in zip(LOADS, _loaded(orders, out_dir, load_s), strict=True):
        tell(_load_line(works, kiln, programme, found))
        shown.append(Shown(reader="loader", what=f"{works} {kiln} {programme}, to print", where=found.sheets.pdf))
        shown.append(Shown(reader="loader", what=f"{works} {kiln} {programme}, tablet", where=found.sheets.html))
        shown.append(Shown(reader="loader", what=f"{works} {kiln} {programme}, programme", where=found.programme.pdf))
    planned = plan_works(orders / TABLEWARE, out_dir / TABLEWARE / "plan", budget=Budget(seconds=plan_s))
    late = sum(1 for row in planned.plan.outcomes if row.late_days > 0 or row.finish is None)
    tell(f"{TABLEWARE}: {len(planned.plan.firings)} firings for {len(planned.plan.outcomes)} order lines, {late} late")
    energy = energy_of_plan(orders / TABLEWARE, planned.saved, out_dir / TABLEWARE / "energy")
    tell(f"{TABLEWARE}: about {energy.report.total_kwh:,.0f} kWh net over the plan")
    shown.append(Shown(reader="planner", what="plan with chart", where=planned.written.plan.page))
    shown.append(Shown(reader="planner", what="work list today and tomorrow", where=planned.written.plan.work_pdf))
    shown.append(Shown(reader="planner", what="tables", where=planned.written.plan.workbook))
    shown.append(Shown(reader="owner", what="energy and money per good piece", where=energy.written.pdf))
    return shown


def _loaded(orders: Path, out_dir: Path, load_s: float) -> Iterator[LoadedKiln]:
    """Pack the loads, two at a time, and give each in its turn."""
    with executor(AT_A_TIME) as pool:
        packing = [
            pool.submit(
                load_kiln,
                orders / works,
                kiln,
                programme,
                out_dir / works / f"load-{kiln}-{programme}",
                budget=Budget(seconds=load_s),
            )
            for works, kiln, programme in LOADS
        ]
        for one in packing:
            yield one.result()


def _load_line(works: str, kiln: str, programme: str, found: LoadedKiln) -> str:
    settings = len(found.load.settings)
    return (
        f"{works}: {programme} in {kiln}: {found.load.pieces} of {found.ready_pieces} ready pieces on "
        f"{found.checked.tiers} tiers, {settings} different settings, no finding"
    )


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the demonstration from the command line; return the exit code."""
    parser = argparse.ArgumentParser(prog="demo", description="Run kilnpack on the demo works.")
    parser.add_argument("--out", type=Path, default=Path("out"), help="folder to write to")
    parser.add_argument("--orders", type=Path, default=Path("demo_orders"), help="folder of the demo works")
    options = parser.parse_args(arguments)
    begun = time.monotonic()
    say = sys.stdout.write
    try:
        shown = demonstrate(options.orders, options.out, tell=lambda line: say(f"{line}\n"))
    except KilnpackError as fault:
        sys.stderr.write(f"{fault}\n")
        return fault.exit_code
    say(f"\nDone in {time.monotonic() - begun:.0f} s. Where to look:\n")
    for row in shown:
        say(f"  {row.reader:8} {row.what:45} {row.where}\n")
    say("\nHeat, gas, dust, heavy shelves and hot ware can hurt: follow your local codes and licensed practice.\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
