"""Benchmark of few settings: the value of one instance against the most different settings allowed.

python3 run.py bench load_settings --instance FILE --effort 4000 [--settings 4 6 8 12 20] [--seed K]
                                   [--picture FILE.svg]

Every limit, and no limit, gets the same effort, one worker and the same seed, so the table repeats exactly.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from benchmarks.load_instances import problem_of, read_instance
from kilnpack.packing.together import pack_together
from kilnpack.search.budget import Budget
from kilnpack.search.executor import cores, executor

if TYPE_CHECKING:
    from collections.abc import Sequence

WIDE, HIGH = 420.0, 240.0
LEFT, RIGHT, TOP, BOTTOM = 52.0, 90.0, 26.0, 40.0


def value_with(path: Path, settings_most: int | None, effort: int, seed: int) -> tuple[float, int, int]:
    """Return the value of a load, its different settings and its tiers."""
    problem = problem_of(read_instance(path), settings_most=settings_most)
    plan = pack_together(problem, budget=Budget(effort=effort), seed=seed)
    tiers = [tier for stack in plan.stacks for tier in stack]
    return plan.value, len({tier.filled.spots for tier in tiers if tier.filled.spots}), len(tiers)


def curve_of(name: str, rows: Sequence[tuple[int, float]], free: float) -> str:
    """Return an SVG of value against settings; the load without a limit is a dashed line."""
    low = min([free, *(value for _, value in rows)])
    low, high = 0.98 * low, 1.005 * max([free, *(value for _, value in rows)])
    most = max(count for count, _ in rows)

    def x(count: float) -> float:
        return LEFT + (WIDE - LEFT - RIGHT) * count / most

    def y(value: float) -> float:
        return HIGH - BOTTOM - (HIGH - TOP - BOTTOM) * (value - low) / (high - low)

    style = "text{font:11px sans-serif;fill:#222}path,line{fill:none;stroke:#222}.free{stroke-dasharray:6 4}"
    drawn = [
        f'<text x="{LEFT:.0f}" y="16">{name}: value against the most different settings</text>',
        f'<line x1="{x(0):.1f}" x2="{x(0):.1f}" y1="{y(low):.1f}" y2="{y(high):.1f}"/>',
        f'<line x1="{x(0):.1f}" x2="{x(most):.1f}" y1="{y(low):.1f}" y2="{y(low):.1f}"/>',
        f'<line class="free" x1="{x(0):.1f}" x2="{x(most):.1f}" y1="{y(free):.1f}" y2="{y(free):.1f}"/>',
        f'<text x="{x(most) + 6:.1f}" y="{y(free) + 4:.1f}">free: {free:.0f}</text>',
        f'<path stroke-width="1.8" d="M{"L".join(f"{x(count):.1f} {y(value):.1f}" for count, value in rows)}"/>',
    ]
    for count, value in rows:
        drawn += [
            f'<circle cx="{x(count):.1f}" cy="{y(value):.1f}" r="3"/>',
            f'<text x="{x(count) + 6:.1f}" y="{y(value) + 15:.1f}">{value:.0f}</text>',
            f'<text x="{x(count):.1f}" y="{HIGH - 22:.1f}" text-anchor="middle">{count}</text>',
        ]
    size = f'viewBox="0 0 {WIDE:.0f} {HIGH:.0f}" width="{WIDE:.0f}"'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} role="img" aria-label="Value against different settings">'
        f'<style>{style}</style><rect width="100%" height="100%" fill="#fff"/>{"".join(drawn)}</svg>\n'
    )


def main(arguments: Sequence[str]) -> int:
    """Run the benchmark."""
    parser = argparse.ArgumentParser(prog="run.py bench load_settings")
    parser.add_argument("--instance", type=Path, required=True)
    parser.add_argument("--effort", type=int, default=4000, help="thousands of evaluations for each limit")
    parser.add_argument("--settings", type=int, nargs="+", default=[4, 6, 8, 12, 20], help="most different settings")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=min(2, cores()), help="limits packed beside each other")
    parser.add_argument("--picture", type=Path, default=None, help="SVG to write")
    options = parser.parse_args(arguments)
    limits: list[int | None] = [*options.settings, None]
    with executor(options.workers) as pool:
        futures = [pool.submit(value_with, options.instance, most, options.effort, options.seed) for most in limits]
        found = [future.result() for future in futures]
    free = found[-1][0]
    print("at most  settings  tiers    value  of free")
    for most, (value, settings, tiers) in zip(limits, found, strict=True):
        print(f"{most or 'free':>7} {settings:9d} {tiers:6d} {value:8.1f} {value / free:8.1%}", flush=True)
    if options.picture is not None:
        rows = [(most, value) for most, (value, _, _) in zip(options.settings, found, strict=False)]
        options.picture.write_text(curve_of(options.instance.stem, rows, free), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
