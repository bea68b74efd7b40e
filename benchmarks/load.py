"""Benchmark of the whole load: pack every instance of a folder, write the layouts, print a table.

python3 run.py bench load --instances DIR --seconds 60 --layouts OUT [--workers N] [--seed K] [--settings N]
                          [--hand A=717.8 D=126.1 ...]

Seconds run from opening the instance. Compiling the kernels is outside: a small load is packed first. The hand method
and the proved bound come after the search, for the table only. `--hand` gives values of another hand method; the higher
counts. `--picture FILE` draws value against time. A second table tells when tables and first load were there, the value
after some seconds, the moment at which the load was least against the hand method, and the memory of all processes.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from benchmarks.hand_method import hand_load
from benchmarks.load_curves import value_over_time
from benchmarks.load_instances import layout_of, parts_of, problem_of, read_instance
from benchmarks.memory import watched
from kilnpack.packing.bound import proved_bound
from kilnpack.packing.improve import Tuning
from kilnpack.packing.together import pack_together, unpacked
from kilnpack.packing.warm_load import warm_load
from kilnpack.search.budget import Budget
from kilnpack.search.executor import cores

if TYPE_CHECKING:
    from collections.abc import Sequence

    from benchmarks.load_instances import Instance
    from kilnpack.packing.problem import LoadProblem
    from kilnpack.packing.together import Packed
    from kilnpack.search.listener import Progress


WORKED_SHARE = 0.95
"""Part of the seconds that is searched; the rest is for ending the workers."""


MOMENTS_S = (10.0, 20.0, 30.0, 60.0)
"""The value is told at these moments, as far as the search went on."""


@dataclass
class Curve:
    """Value against time, as the search tells it; seconds from opening the instance."""

    begun_s: float
    """Seconds before the search began."""
    heard_points: list[tuple[float, float]] = field(default_factory=list)
    steps: dict[str, float] = field(default_factory=dict)
    """When each step was first told."""

    def heard(self, progress: Progress) -> bool:
        """Note the best value so far; what another process found is told later than it was found."""
        at_s = self.begun_s + progress.elapsed_s
        self.steps.setdefault(progress.step, at_s)
        if progress.step != "tables":
            self.heard_points.append((round(at_s, 2), round(progress.value, 2)))
        return True

    @property
    def points(self) -> list[tuple[float, float]]:
        """Every better value with its time."""
        rising: list[tuple[float, float]] = []
        for at_s, value in sorted(self.heard_points):
            if not rising or value > rising[-1][1]:
                rising.append((at_s, value))
        return rising

    def value_at(self, seconds: float) -> float | None:
        """Return the value at a moment, None before the first load."""
        return max((value for at_s, value in self.points if at_s <= seconds), default=None)


@dataclass(frozen=True)
class Packing:
    """What came of one instance within the seconds."""

    instance: Instance
    problem: LoadProblem
    plan: Packed
    curve: Curve
    seconds: float
    memory_mb: float
    processes: int

    def layout(self) -> Instance:
        """Return the layout as the checker of the benchmark reads it."""
        return layout_of(self.instance, self.problem, unpacked(self.problem, self.plan))

    def row(self, given_hand: float) -> dict[str, Any]:
        """Return the row of the summary, with the bound and the higher of the two hand methods."""
        types, plan = self.instance["types"], self.plan
        parts = [parts_of(types[ware.group], ware.pieces) for ware in self.problem.wares]
        bound = proved_bound(self.problem, parts)
        settings = {tier.filled.spots for tiers in plan.stacks for tier in tiers if tier.filled.spots}
        points, steps = self.curve.points, self.curve.steps
        return {
            "instance": self.instance["name"],
            "value": round(plan.value, 2),
            "seconds": round(self.seconds, 2),
            "ok": True,
            "tiers": sum(len(tiers) for tiers in plan.stacks),
            "settings": len(settings),
            "ready": round(self.problem.ready_value, 2),
            "bound": None if bound is None else round(bound, 2),
            "columns": None if plan.linear_value is None else round(plan.linear_value, 2),
            "hand": round(max(given_hand, hand_load(self.instance)[0]), 2),
            "tables_s": round(steps["tables"], 2),
            "first_load_s": round(steps["first load"] - steps["tables"], 2),
            "worst": min(points, key=lambda point: point[1], default=None),
            "at": {f"{moment:g}": self.curve.value_at(moment) for moment in MOMENTS_S if moment <= self.seconds + 5},
            "memory_mb": round(self.memory_mb),
            "processes": self.processes,
            "curve": points,
        }


def pack_file(
    path: Path, *, budget: Budget, workers: int, seed: int, settings_most: int | None, tuning: Tuning
) -> Packing:
    """Pack one instance."""
    begun = time.monotonic()
    with watched() as memory:
        instance = read_instance(path)
        problem = problem_of(instance, settings_most=settings_most)
        curve = Curve(time.monotonic() - begun)
        if budget.seconds is not None:
            budget = Budget(seconds=max(0.1, WORKED_SHARE * budget.seconds - curve.begun_s))
        plan = pack_together(problem, budget=budget, seed=seed, workers=workers, tuning=tuning, listener=curve)
        seconds = time.monotonic() - begun
    return Packing(instance, problem, plan, curve, seconds, memory.most_mb, memory.processes)


def table_row(row: dict[str, Any]) -> str:
    """Return a line of the table; a gap that does not exist is a dash."""
    bound = "-" if row["bound"] is None else f"{row['bound']:.1f}"
    return (
        f"{row['instance']:9s} {row['value']:8.1f} {row['value'] / row['ready']:9.1%} {row['hand']:8.1f}"
        f" {row['value'] / row['hand'] - 1:10.1%} {bound:>8s} {_gap(row['value'], row['bound']):>13s}"
        f" {_gap(row['value'], row['columns']):>15s} {row['settings']:9d} {row['tiers']:6d} {row['seconds']:8.1f}"
    )


def _gap(value: float, above: float | None) -> str:
    return "-" if above is None else f"{max(0.0, 1 - value / above):.1%}"


def moments_row(row: dict[str, Any]) -> str:
    """Return a line of the second table."""
    worst_s, worst = row["worst"]
    values = "".join(f" {'-' if value is None else format(value, '.1f'):>9s}" for value in row["at"].values())
    return (
        f"{row['instance']:9s} {row['tables_s']:8.1f} {row['first_load_s']:11.1f} {worst:8.1f} {worst_s:6.1f}"
        f" {worst / row['hand']:8.2f} {row['memory_mb']:6d} in {row['processes']}{values}"
    )


def _print_tables(rows: Sequence[dict[str, Any]]) -> None:
    print(
        "\ntables_s: from opening the file; first load_s: after the tables; worst: least value of a load at any moment"
    )
    heads = "".join(f" {f'at {moment} s':>9s}" for moment in max((row["at"] for row in rows), key=len, default={}))
    print(f"instance  tables_s first_load_s  worst   at_s  of hand     MB    {heads}")
    for row in rows:
        print(moments_row(row), flush=True)


def _given(texts: Sequence[str]) -> dict[str, float]:
    return {name: float(value) for name, _, value in (text.partition("=") for text in texts)}


def main(arguments: Sequence[str]) -> int:
    """Run the benchmark."""
    parser = argparse.ArgumentParser(prog="run.py bench load")
    parser.add_argument("--instances", type=Path, required=True)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--effort", type=int, default=None, help="thousands of evaluations, in place of seconds")
    parser.add_argument("--layouts", type=Path, required=True)
    parser.add_argument("--workers", type=int, default=min(2, cores()))
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--settings", type=int, default=None, help="most different settings")
    parser.add_argument("--without-columns", action="store_true", help="leave out column generation")
    parser.add_argument("--hand", nargs="*", default=[], help="values of another hand method, as NAME=VALUE")
    parser.add_argument("--picture", type=Path, default=None, help="SVG of value against time, drawn at the end")
    options = parser.parse_args(arguments)
    options.layouts.mkdir(parents=True, exist_ok=True)
    warm_load()
    budget = Budget(seconds=options.seconds) if options.effort is None else Budget(effort=options.effort)
    rows, given = [], _given(options.hand)
    print(
        "instance     value  of ready     hand  over hand    bound  gap to bound  gap to columns  settings  tiers"
        "  seconds"
    )
    for path in sorted(options.instances.glob("*.json")):
        packing = pack_file(
            path,
            budget=budget,
            workers=options.workers,
            seed=options.seed,
            settings_most=options.settings,
            tuning=Tuning(columns=not options.without_columns),
        )
        (options.layouts / f"{path.stem}.layout.json").write_text(json.dumps(packing.layout()), encoding="utf-8")
        row = packing.row(given.get(path.stem, 0.0))
        rows.append(row)
        print(table_row(row), flush=True)
    (options.layouts / "summary.json").write_text(json.dumps(rows, indent=1), encoding="utf-8")
    if options.picture is not None:
        options.picture.write_text(value_over_time(rows), encoding="utf-8")
    _print_tables(rows)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
