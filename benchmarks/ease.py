"""What ease costs on one shelf: angles in steps, and fewer rows at a price for each.

python3 run.py bench ease --instances DIR [--evaluations 60000] [--seeds 2]
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

from benchmarks.shelf_instances import read
from kilnpack.packing.shelf.pack import pack_shelf
from kilnpack.packing.shelf.rows import row_count
from kilnpack.packing.shelf.setting import Ease

CASES = (
    ("free", Ease()),
    ("15 degrees", Ease(turn_step_deg=15.0)),
    ("45 degrees", Ease(turn_step_deg=45.0)),
    ("15 unless 2 % more", Ease(turn_step_deg=15.0, finer_gain_share=0.02)),
    ("straightened", Ease(in_rows=True)),
    *((f"row costs {share:.1%}", Ease(row_cost_share=share)) for share in (0.005, 0.01, 0.02, 0.04)),
)


def main(words: list[str]) -> int:
    """Print covered share and rows for each case, means over the seeds."""
    parser = argparse.ArgumentParser(prog="bench ease", description="What ease costs on one shelf.")
    parser.add_argument("--instances", type=Path, required=True)
    parser.add_argument("--evaluations", type=int, default=60_000)
    parser.add_argument("--seeds", type=int, default=2)
    asked = parser.parse_args(words)
    print(f"{'instance':14} " + " ".join(f"{name:>19}" for name, _ in CASES))
    for path in sorted(asked.instances.glob("*.json")):
        if json.loads(path.read_text(encoding="utf-8"))["family"] != "A":
            continue
        instance = read(path)
        cells = []
        for _, ease in CASES:
            found = [
                pack_shelf(instance.room, instance.bodies, evaluations=asked.evaluations, seed=seed, ease=ease)
                for seed in range(asked.seeds)
            ]
            covered = sum(setting.value for setting in found) / len(found)
            lines = [row_count([(p.body, p.x_mm, p.y_mm, 0.0) for p in setting.placements]) for setting in found]
            cells.append(f"{100 * covered:6.2f} % {sum(lines) / len(lines):5.1f} rows")
        print(f"{instance.name:14} " + " ".join(cells), flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
