"""How each stage grows: processor seconds and peak memory against types, pieces, tiers, order lines and firings.

python3 run.py bench growth [--stages NAME ...] [--plan PLAN.json] [--out FILE.json] [--picture P]

Every point is a process of its own; what it needs first (a works, a load, a plan) is made before the clock runs, and
kernels are compiled. One thing is varied at a time. Seconds are those of the processor, so that other work on the
machine counts little; the exponent is the slope of log seconds against log size over the upper half of the sizes.
"""

from __future__ import annotations

import argparse
import json
import math
import resource
import subprocess
import sys
import time
from collections import defaultdict
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from benchmarks.growth_works import OneFiring, one_firing, with_lines, with_products

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from kilnpack.model.loads import Load
    from kilnpack.model.plans import Plan
    from kilnpack.model.works import Works

WORKS = Path("demo_orders/porcelain_works")
KILN, PROGRAMME = "E1", "BISC"
FIXED = {"types": 20, "pieces": 500, "height": 1}
LINES, TIMES = 100, 1
SEED = 1
LIMIT_S = 200.0
"""A point that takes longer than this is left out, and with it all larger ones of its row."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """What one size of one stage took."""

    stage: str
    over: str
    size: float
    cpu_s: float
    peak_mb: float


def _works() -> Works:
    from kilnpack.works_folder import read_works

    return read_works(WORKS)


def _firing(over: str, size: int) -> OneFiring:
    asked = {**FIXED, over: size}
    if over in {"pieces", "height"}:
        asked = {**asked, "pieces": max(asked["pieces"], 4000) if over == "height" else size}
    if over == "pieces":
        asked["height"] = 6
    return one_firing(_works(), kiln=KILN, programme=PROGRAMME, **asked)


def reading(over: str, size: int) -> Callable[[], object]:
    """Read and judge a works folder of so many products or order lines."""
    from kilnpack.works_folder import read_works, write_works

    works = _works()
    works = with_products(works, types=size) if over == "types" else with_lines(works, lines=size, times=1, seed=SEED)
    folder = Path(_kept_folder()) / "works"
    write_works(works, folder)
    return lambda: read_works(folder)


def _kept_folder() -> str:
    import atexit
    import shutil
    import tempfile

    made = tempfile.mkdtemp(prefix="growth-")
    atexit.register(shutil.rmtree, made, ignore_errors=True)
    return made


def tables(over: str, size: int) -> Callable[[], object]:
    """Build the tables of a room for every type."""
    from kilnpack.packing.filler import Filler
    from kilnpack.packing.firing_rules import FiringRules
    from kilnpack.packing.state import LoadState, useful_columns
    from kilnpack.packing.works_problem import works_problem

    given = _firing(over, size)
    problem = works_problem(
        FiringRules(given.works, given.kiln, given.programme), given.lots, reserve_share=0.0
    ).problem
    state = LoadState(problem)
    posts_mm = state.posts_mm(useful_columns(state, 0)[-1])
    room = next(
        room for base in range(0, 1000, 25) if (room := problem.site.room(0, float(base), posts_mm)) is not None
    )

    def work() -> object:
        filler = Filler(problem)
        return filler.fill(room, (1 << len(problem.wares)) - 1, state.spare, fills=1, seed=1)

    return work


def _packed(given: OneFiring) -> Load:
    from kilnpack.packing.pack_load import pack_load
    from kilnpack.search.budget import Budget

    return pack_load(given.works, given.kiln, given.programme, given.lots, budget=Budget(effort=1), seed=SEED)


def first_load(over: str, size: int) -> Callable[[], object]:
    """Pack a first load."""
    given = _firing(over, size)
    return lambda: _packed(given)


def checker(over: str, size: int) -> Callable[[], object]:
    """Judge a load."""
    from kilnpack.rules.checker import audit

    given = _firing(over, size)
    load = _packed(given)
    return lambda: audit(given.works, load)


def loading_sheet(over: str, size: int) -> Callable[[], object]:
    """Write the loading sheet of a load, as PDF and as a page."""
    from kilnpack.sheets.loading import write_loading_sheet

    given = _firing(over, size)
    load, folder = _packed(given), Path(_kept_folder())
    return lambda: write_loading_sheet(given.works, load, folder)


def dispatch(over: str, size: int) -> Callable[[], object]:
    """Lay out the firings over a backlog by estimate, with the first policy."""
    from kilnpack.planning.estimate import AreaHeight
    from kilnpack.planning.packs import EstimatedPack
    from kilnpack.planning.planner import POLICIES
    from kilnpack.planning.run import run

    asked = {"lines": LINES, "times": TIMES, over: size}
    works = with_lines(_works(), seed=SEED, **asked)

    def work() -> object:
        estimate = AreaHeight(works)
        return run(works, POLICIES[0], EstimatedPack(estimate), estimate, seed=SEED)

    return work


def _plan(firings: int) -> Plan:
    """Return the first firings of a plan, again and again under other codes until there are so many."""
    from kilnpack.model.plans import Plan
    from kilnpack.works_folder import load_value

    plan = load_value(Path(options().plan), Plan)
    rows = sorted(plan.firings, key=lambda row: row.load_start)
    span = max(row.furniture_back for row in rows) - rows[0].load_start
    moments = [name for name in type(rows[0]).__dataclass_fields__ if type(getattr(rows[0], name)) is type(plan.made)]
    found = []
    for number in range(firings):
        row, later = rows[number % len(rows)], span * (number // len(rows))
        moved = {name: getattr(row, name) + later for name in moments}
        found.append(replace(row, code=f"{row.code}.{number // len(rows)}", **moved))
    codes = {row.code for row in found}
    outcomes = tuple(
        replace(row, firings=tuple(f"{one}.0" for one in row.firings if f"{one}.0" in codes)) for row in plan.outcomes
    )
    return replace(plan, firings=tuple(found), outcomes=outcomes)


def plan_audit(over: str, size: int) -> Callable[[], object]:
    """Judge a plan without its loads (those are judged one by one)."""
    from kilnpack.planning.plan_audit import audit_plan

    del over
    works = _works()
    plan = _plan(size)
    return lambda: audit_plan(works, plan)


def plan_loads_audit(over: str, size: int) -> Callable[[], object]:
    """Judge a plan with its loads."""
    from kilnpack.planning.plan_audit import audit_plan
    from kilnpack.workflow.planning import check_load

    del over
    works = _works()
    plan = _plan(size)
    return lambda: audit_plan(works, plan, checker=check_load)


def plan_sheets(over: str, size: int) -> Callable[[], object]:
    """Write the sheets of a plan, without the loading sheets."""
    from kilnpack.sheets.from_plan import plan_rows
    from kilnpack.sheets.plan_sheets import write_plan_sheets

    del over
    works = _works()
    plan, folder = _plan(size), Path(_kept_folder())
    return lambda: write_plan_sheets(plan_rows(works, plan), folder)


def first_view(over: str, size: int) -> Callable[[], object]:
    """Read a plan out of the records and lay out the planner's page of it."""
    from datetime import UTC, datetime

    from kilnpack.records.address import records_url
    from kilnpack.records.firings import keep_plan, plan_of
    from kilnpack.records.standing_plan import firing_heads, plan_heads
    from kilnpack.records.store import init_records
    from kilnpack.records.works_values import put_works
    from kilnpack.sheets.from_plan import plan_rows
    from kilnpack.workflow.board import board_of
    from kilnpack.workflow.shown import of_backlog

    del over
    works = _works()
    plan = _plan(size)
    records = init_records(records_url(Path(_kept_folder())), clock=lambda: datetime.now(UTC))
    with records.writing("growth") as session:
        put_works(session, works)
        keep_plan(session, plan)

    def work() -> object:
        with records.reading() as session:
            code = plan_heads(session, most=1)[0].code
            kept, heads = of_backlog(plan_of(session, code), works), firing_heads(session, code)
        return plan_rows(works, kept), board_of(works, kept, heads, zoom="weeks", now=works.now)

    return work


ROWS: tuple[tuple[str, Callable[[str, int], Callable[[], object]], str, tuple[int, ...]], ...] = (
    ("reading a folder", reading, "types", (100, 200, 400, 800, 1600)),
    ("reading a folder", reading, "lines", (100, 200, 400, 800, 1600)),
    ("tables of a room", tables, "types", (10, 20, 40, 80)),
    ("first load", first_load, "types", (10, 20, 40, 80)),
    ("first load", first_load, "pieces", (250, 500, 1000, 2000, 4000)),
    ("first load", first_load, "height", (1, 2, 4, 8)),
    ("checker of a load", checker, "types", (10, 20, 40, 80)),
    ("checker of a load", checker, "height", (1, 2, 4, 8)),
    ("loading sheet", loading_sheet, "height", (1, 2, 4, 8)),
    ("dispatch by estimate", dispatch, "lines", (50, 100, 200, 400)),
    ("dispatch by estimate", dispatch, "times", (1, 2, 4, 8)),
    ("audit of a plan, without loads", plan_audit, "firings", (15, 30, 60, 120, 240)),
    ("audit of a plan, with loads", plan_loads_audit, "firings", (8, 15, 30, 60)),
    ("sheets of a plan", plan_sheets, "firings", (15, 30, 60, 120, 240)),
    ("first view of a kept plan", first_view, "firings", (15, 30, 60, 120, 240)),
)
"""Stage, what makes its work ready, what is varied, and the sizes."""
WORDS = {"height": "height of the kiln", "times": "pieces of a line"}


def measured(stage: str, over: str, size: int) -> Point:
    """Measure one point in this process."""
    ready = next(make for name, make, varied, _ in ROWS if (name, varied) == (stage, over))
    work = ready(over, size)
    begun_s = time.process_time()
    work()
    cpu_s = time.process_time() - begun_s
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
    return Point(stage=stage, over=over, size=size, cpu_s=cpu_s, peak_mb=peak_mb)


def apart(stage: str, over: str, size: int, plan: str) -> Point | None:
    """Measure one point in a process of its own; None where it takes too long."""
    command = [sys.executable, "-m", "benchmarks.growth", "--plan", plan, "--one", stage, over, str(size)]
    try:
        ran = subprocess.run(command, capture_output=True, text=True, check=True, timeout=LIMIT_S)
    except subprocess.TimeoutExpired:
        return None
    except subprocess.CalledProcessError as fault:
        sys.exit(f"{stage}, {size} {over}: {fault.stderr}")
    return Point(**json.loads(ran.stdout.splitlines()[-1]))


def exponent(points: Sequence[Point]) -> float:
    """Return the slope of log seconds against log size over the upper half of the sizes, three at least."""
    upper = sorted(points, key=lambda one: one.size)[-max(3, (len(points) + 1) // 2) :]
    xs, ys = [math.log(one.size) for one in upper], [math.log(max(one.cpu_s, 1e-4)) for one in upper]
    mean_x, mean_y = sum(xs) / len(xs), sum(ys) / len(ys)
    spread = sum((x - mean_x) ** 2 for x in xs)
    return sum((x - mean_x) * (y - mean_y) for x, y in zip(xs, ys, strict=True)) / spread


def table(points: Sequence[Point]) -> str:
    """Return a row for every stage and what was varied, as Markdown."""
    lines = ["| stage | varied | sizes | processor s | exponent | peak MB |", "|---|---|---|---|---|---|"]
    for (stage, over), row in grouped(points).items():
        sizes = " ".join(f"{one.size:g}" for one in row)
        seconds = " ".join(f"{one.cpu_s:.2g}" for one in row)
        power = f"{exponent(row):.1f}" if len(row) > 2 else ""
        peaks = f"{row[0].peak_mb:.0f} to {row[-1].peak_mb:.0f}"
        lines.append(f"| {stage} | {WORDS.get(over, over)} | {sizes} | {seconds} | {power} | {peaks} |")
    return "\n".join(lines)


def grouped(points: Sequence[Point]) -> dict[tuple[str, str], list[Point]]:
    """Return the points by stage and what was varied, the smallest size first."""
    rows: dict[tuple[str, str], list[Point]] = defaultdict(list)
    for one in points:
        rows[one.stage, one.over].append(one)
    return {key: sorted(row, key=lambda one: one.size) for key, row in rows.items()}


def draw(points: Sequence[Point], picture: Path) -> None:
    """Draw the seconds of every stage against its size, both as logarithms, with lines of slope 1 and 2."""
    import matplotlib as mpl

    mpl.use("svg")
    mpl.rcParams.update({"svg.hashsalt": "growth", "svg.fonttype": "none", "font.size": 8})
    from matplotlib import pyplot as plt

    rows = grouped(points)
    wide = 4
    figure, axes = plt.subplots(math.ceil(len(rows) / wide), wide, figsize=(12, 2.5 * math.ceil(len(rows) / wide)))
    for axis in axes.flat[len(rows) :]:
        axis.set_visible(False)
    for axis, ((stage, over), row) in zip(axes.flat, rows.items(), strict=False):
        xs, ys = [one.size for one in row], [max(one.cpu_s, 1e-4) for one in row]
        axis.loglog(xs, ys, "o-", color="black")
        for power, style in ((1, ":"), (2, "--")):
            axis.loglog(xs, [ys[-1] * (x / xs[-1]) ** power for x in xs], style, color="gray", linewidth=0.8)
        axis.set_xticks(xs, [f"{x:g}" for x in xs])
        axis.minorticks_off()
        axis.set_title(f"{stage}\nprocessor s against {WORDS.get(over, over)}", fontsize=8)
    figure.tight_layout()
    figure.savefig(picture, metadata={"Date": None})


def options(words: Sequence[str] | None = None) -> argparse.Namespace:
    """Read the arguments."""
    parser = argparse.ArgumentParser(prog="bench growth", description=(__doc__ or "").partition("\n")[0])
    parser.add_argument(
        "--stages", nargs="+", default=[], help="beginnings of the names of stages; all where not given"
    )
    parser.add_argument("--plan", default="out/porcelain_works/plan/plan.json", help="a plan of the works of the demo")
    parser.add_argument("--out", type=Path, help="keep the points as JSON; points that are there already stay")
    parser.add_argument("--picture", type=Path, help="draw all of them")
    parser.add_argument("--one", nargs=3, metavar=("STAGE", "OVER", "SIZE"), help="measure one point in this process")
    return parser.parse_args(words)


def keep(points: Sequence[Point], out: Path | None) -> None:
    """Write the points so far, where a file is named."""
    if out is not None:
        out.write_text(json.dumps([asdict(one) for one in points], indent=1), encoding="utf-8")


def main(words: Sequence[str] | None = None) -> int:
    """Measure, print the table, draw."""
    asked = options(words)
    if asked.one:
        stage, over, size = asked.one
        print(json.dumps(asdict(measured(stage, over, int(size)))))
        return 0
    points = [Point(**one) for one in json.loads(asked.out.read_text())] if asked.out and asked.out.exists() else []
    for stage, _, over, sizes in ROWS:
        if asked.stages and not any(stage.startswith(name) for name in asked.stages):
            continue
        points = [one for one in points if (one.stage, one.over) != (stage, over)]
        for size in sizes:
            if (found := apart(stage, over, size, asked.plan)) is None:
                break
            points.append(found)
            keep(points, asked.out)
            print(f"{stage:32} {over:8} {size:6} {found.cpu_s:8.2f} s {found.peak_mb:6.0f} MB", flush=True)
    order = [(stage, over) for stage, _, over, _ in ROWS]
    points.sort(key=lambda one: (order.index((one.stage, one.over)), one.size))
    keep(points, asked.out)
    print(table(points))
    if asked.picture:
        draw(points, asked.picture)
    return 0


if __name__ == "__main__":
    sys.exit(main())
