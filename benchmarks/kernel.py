"""Measure the compiled kernels of the shelf engine: compiling, starting, evaluations, two threads.

python3 run.py bench kernel --instances DIR [--seconds 2]

Compiling and starting are timed as processes of their own, the first with an empty folder for machine code. An
evaluation is one overlap of a whole shelf with its slope, moves and places tried included.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

from benchmarks.shelf_instances import Instance, read
from kilnpack.packing.shelf.pack import anneal, demand_of
from kilnpack.packing.shelf.tables import tables_for
from kilnpack.packing.shelf.work import ShelfWork
from kilnpack.shapes.warm import kernel_modules

ENGINE = tuple(f"kilnpack.shapes.kernel.{name}" for name in ("descent", "spots", "search", "press"))
"""The kernels of the search on one shelf; the others belong to quick settings, whole loads, rules and heat."""

TELLS_MEMORY = "; import resource; print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024)"

ROUND = 200_000
"""Evaluations between two looks at the clock."""


def arguments(words: list[str]) -> argparse.Namespace:
    """Read the command line."""
    parser = argparse.ArgumentParser(prog="bench kernel", description="Measure the kernels of the shelf engine.")
    parser.add_argument("--instances", type=Path, required=True, help="folder of one-shelf instances, family A")
    parser.add_argument("--seconds", type=float, default=2.0, help="wall seconds for each count of evaluations")
    return parser.parse_args(words)


def warm_in_process(call: str, names: tuple[str, ...], machine_code: str) -> tuple[float, int]:
    """Return the wall seconds and the greatest memory in MiB of a process that readies these kernels."""
    asked = f"from kilnpack.shapes import warm; warm.{call}({names!r})"
    begun = time.monotonic()
    said = subprocess.run(
        [sys.executable, "-c", asked + TELLS_MEMORY],
        env={**os.environ, "NUMBA_CACHE_DIR": machine_code},
        capture_output=True,
        text=True,
        check=True,
    )
    return time.monotonic() - begun, int(said.stdout)


def evaluations_within(instance: Instance, seconds: float, seed: int) -> int:
    """Search one shelf for so long and return how many evaluations that were."""
    work = ShelfWork(tables_for(instance.room, instance.bodies), demand_of(instance.room, instance.bodies), seed=seed)
    begun = time.monotonic()
    while time.monotonic() - begun < seconds:
        anneal(work, ROUND)
    return round(work.evaluations * seconds / (time.monotonic() - begun))


def on_threads(instance: Instance, seconds: float, threads: int) -> int:
    """Return the evaluations of so many threads that search the same shelf side by side."""
    counted: list[int] = []
    running = [
        threading.Thread(target=lambda seed=seed: counted.append(evaluations_within(instance, seconds, seed)))
        for seed in range(threads)
    ]
    for thread in running:
        thread.start()
    for thread in running:
        thread.join()
    return sum(counted)


def main(words: list[str]) -> int:
    """Measure everything and return the exit code."""
    asked = arguments(words)
    paths = sorted(asked.instances.glob("*.json"))
    shelves = [path for path in paths if json.loads(path.read_text("utf-8")).get("family") == "A"]
    if not shelves:
        print(f"no one-shelf instance of family A in {asked.instances}", file=sys.stderr)
        return 2
    for title, names in (("shelf engine", ENGINE), ("all kernels", kernel_modules())):
        with tempfile.TemporaryDirectory() as machine_code:
            alone_s, _ = warm_in_process("warm", names, machine_code)
            kept_s, memory_mib = warm_in_process("warm", names, machine_code)
        with tempfile.TemporaryDirectory() as machine_code:
            both_s, _ = warm_in_process("warm_side_by_side", names, machine_code)
        print(f"{title}: compiled from nothing {alone_s:.1f} s by one process, {both_s:.1f} s by two")
        print(f"{title}: loaded from kept code {kept_s:.2f} s, {memory_mib} MiB", flush=True)
    for path in shelves:
        instance = read(path)
        evaluations_within(instance, 0.1, 0)
        one, two = (on_threads(instance, asked.seconds, threads) for threads in (1, 2))
        apart_us = 1e6 * asked.seconds / one
        print(f"{instance.name:24} {apart_us:5.2f} us an evaluation, two threads {two / one:.2f} times one", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
