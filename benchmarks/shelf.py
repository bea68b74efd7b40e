"""Pack the one-shelf instances of a folder and write one layout for each.

python3 run.py bench shelf --instances DIR --seconds 10 --layouts OUT [--workers N] [--seed K] [--beside]

Seconds run from opening an instance; the compiled kernels are loaded before. Exit code 1 if a layout has a fault.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
import time
from dataclasses import replace
from pathlib import Path

from benchmarks.shelf_instances import Instance, Places, faults, read, solve, value_of
from kilnpack.packing.shelf.construct import bottom_left
from kilnpack.packing.shelf.pack import demand_of
from kilnpack.packing.shelf.tables import tables_for
from kilnpack.search.executor import cores

WRITING_S = 0.01
"""Kept back from the seconds for writing the layout."""


def arguments(words: list[str]) -> argparse.Namespace:
    """Read the command line."""
    parser = argparse.ArgumentParser(prog="bench shelf", description="Pack one-shelf instances.")
    parser.add_argument("--instances", type=Path, required=True, help="folder of instance files")
    parser.add_argument("--seconds", type=float, default=10.0, help="wall seconds for each instance")
    parser.add_argument("--layouts", type=Path, required=True, help="folder the layouts go to")
    parser.add_argument("--workers", type=int, default=cores(), help="threads that search")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--beside", action="store_true", help="show plain bottom-left beside it")
    return parser.parse_args(words)


def warm_up() -> None:
    """Load what is loaded once in a process: kernels and the whole-number solver."""
    import ortools.math_opt.python.mathopt  # noqa: F401

    from kilnpack.shapes.kernel import places, press, search

    search.warm_up()
    press.warm_up()
    places.warm_up()


def run_one(path: Path, layouts: Path, seconds: float, *, workers: int, seed: int) -> dict[str, object]:
    """Pack one instance, write its layout, and return a row of the summary."""
    begun = time.monotonic()
    instance = read(path)
    layout: Places = solve(instance, seconds - WRITING_S - (time.monotonic() - begun), workers=workers, seed=seed)
    text = json.dumps({"instance": instance.name, "shelves": layout})
    (layouts / f"{path.stem}.layout.json").write_text(text + "\n", encoding="utf-8")
    taken = time.monotonic() - begun
    wrong = faults(instance, layout)
    for fault in wrong:
        print(f"{path.stem}: {fault}", file=sys.stderr)
    value = round(value_of(instance, layout), 4)
    return {"instance": instance.name, "value": value, "seconds": round(taken, 3), "ok": not wrong}


def plain_value(instance: Instance) -> float:
    """Return what plain bottom-left reaches: covered share, or number of shelves filled one after another.

    Not a number where a body does not stand on the raster even on an empty shelf.
    """
    tables, demand = tables_for(instance.room, instance.bodies), demand_of(instance.room, instance.bodies)
    layout: Places = []
    left = demand.count.copy()
    while left.any() and (instance.data["family"] == "B" or not layout):
        shelf = bottom_left(tables, replace(demand, count=left))
        if not shelf:
            return math.nan
        for place in shelf:
            left[place[0]] -= 1
        layout.append([list(place) for place in shelf])
    return value_of(instance, layout)


def main(words: list[str]) -> int:
    """Run every instance of the folder and return the exit code."""
    asked = arguments(words)
    paths = sorted(path for path in asked.instances.glob("*.json") if "types" in json.loads(path.read_text("utf-8")))
    if not paths:
        print(f"no instance in {asked.instances}", file=sys.stderr)
        return 2
    asked.layouts.mkdir(parents=True, exist_ok=True)
    warm_up()
    print(f"{'instance':32} {'value':>8} {'seconds':>8}  ok{'  bottom-left' if asked.beside else ''}")
    summary = []
    for path in paths:
        row = run_one(path, asked.layouts, asked.seconds, workers=asked.workers, seed=asked.seed)
        summary.append(row)
        beside = f"  {plain_value(read(path)):11.4g}" if asked.beside else ""
        mark = "yes" if row["ok"] else " NO"
        print(f"{row['instance']:32} {row['value']:8} {row['seconds']:8} {mark}{beside}", flush=True)
    (asked.layouts / "summary.json").write_text(json.dumps(summary, indent=1) + "\n", encoding="utf-8")
    return 0 if all(row["ok"] for row in summary) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
