"""Write a large whole-load instance: six like loads from 3,000 pieces of 60 kinds, in the format of the benchmark.

python3 run.py bench load_large --out DIR [--seed K] [--loads N] [--pieces N] [--kinds N]

The ware is invented: plates, bowls, cups, vases and square dishes with sizes drawn at random, worth about the room they
take. `run.py bench load --instances DIR ...` packs it; the stacks of all loads share the ware, not the furniture.
"""

from __future__ import annotations

import argparse
import json
import random
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Sequence

PROFILES = {
    "plate": ((0.0, 0.55), (0.35, 0.62), (0.6, 0.8), (1.0, 1.0)),
    "bowl": ((0.0, 0.42), (0.12, 0.5), (0.4, 0.8), (0.75, 0.95), (1.0, 1.0)),
    "cup": ((0.0, 0.62), (0.15, 0.8), (0.6, 0.9), (1.0, 1.0)),
    "vase": ((0.0, 0.6), (0.35, 1.0), (0.7, 0.45), (1.0, 0.6)),
}
"""Share of the height, share of the greatest radius."""

SIZES = {"plate": ((20, 34), (84, 140)), "bowl": ((48, 92), (56, 98)), "cup": ((60, 98), (31, 49)),
         "vase": ((140, 260), (40, 65)), "square": ((35, 56), (55, 92))}  # fmt: skip
"""Heights and radii (half sides) in mm that are drawn from."""

KG_PER_MM2 = 9e-6
STOCK = (40, 50, 65, 80, 100, 125, 150, 175, 200, 250, 300)


def large_instance(*, seed: int, loads: int = 6, pieces: int = 3000, kinds: int = 60) -> dict[str, Any]:
    """Return an instance of so many like loads."""
    rng = random.Random(seed)
    shares = [rng.uniform(0.3, 1.7) for _ in range(kinds)]
    demand = [max(1, round(pieces * share / sum(shares))) for share in shares]
    demand[0] += pieces - sum(demand)
    return {
        "name": f"L{loads}",
        "note": f"{loads} loads of four columns, {kinds} types, {pieces} pieces",
        "unit": "mm",
        "loads": loads,
        "columns": 4,
        "usable_height": 1300,
        "shelf": {"kind": "rect", "w": 500, "h": 400},
        "shelf_thickness": 15,
        "shelves_per_load": 34,
        "shelf_load_kg": 25.0,
        "posts": [[20, 20], [480, 20], [20, 380], [480, 380]],
        "post_side": 40,
        "post_stock": [[height, 80] for height in STOCK],
        "posts_end_to_end": 2,
        "gap": 5,
        "headroom": 10,
        "overhang": 20,
        "zone_limits": [350, 900],
        "types": [_kind(rng, number, demand[number]) for number in range(kinds)],
    }


def _kind(rng: random.Random, number: int, demand: int) -> dict[str, Any]:
    family = ("plate", "bowl", "cup", "vase", "square")[number % 5]
    (low, high), (small, wide) = SIZES[family]
    height, radius = rng.randint(low, high), round(rng.uniform(small, wide), 1)
    area = 4 * radius * radius if family == "square" else 3.1416 * radius * radius
    kind: dict[str, Any] = {
        "id": f"{family}{number}",
        "height": height,
        "mass_kg": round(0.1 + KG_PER_MM2 * area, 2),
        "value": round(area * (height + 15) * rng.uniform(0.6, 1.4) / 1e6, 2),
        "demand": demand,
        "zones": rng.choice([[0, 1, 2]] * 6 + [[2]]),
    }
    if family == "square":
        corners = [[-radius, -radius], [radius, -radius], [radius, radius], [-radius, radius]]
        kind["slices"] = [{"from_z": 0.0, "to_z": float(height), "outline": corners}]
    else:
        kind["profile_zr"] = [[round(z * height, 2), round(r * radius, 2)] for z, r in PROFILES[family]]
    return kind


def main(arguments: Sequence[str]) -> int:
    """Write the instance."""
    parser = argparse.ArgumentParser(prog="run.py bench load_large")
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--loads", type=int, default=6)
    parser.add_argument("--pieces", type=int, default=3000)
    parser.add_argument("--kinds", type=int, default=60)
    options = parser.parse_args(arguments)
    options.out.mkdir(parents=True, exist_ok=True)
    made = large_instance(seed=options.seed, loads=options.loads, pieces=options.pieces, kinds=options.kinds)
    path = options.out / f"{made['name']}.json"
    path.write_text(json.dumps(made), encoding="utf-8")
    print(path)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
