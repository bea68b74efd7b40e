"""What moving packed loads towards the wishes brings: wishes missed before and after, on the demonstration's loads.

python3 run.py bench steer --effort 150 --seeds 1
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from kilnpack.packing import pack_load as packing
from kilnpack.packing.steer import steered
from kilnpack.packing.wishes import Misses, Wishes
from kilnpack.planning.ready import ready_lots
from kilnpack.search.budget import Budget
from kilnpack.workflow.demo import LOADS
from kilnpack.works_folder import read_works

if TYPE_CHECKING:
    from kilnpack.packing.firing_rules import FiringRules
    from kilnpack.packing.state import LoadState
    from kilnpack.packing.works_problem import WorksProblem

ORDERS = Path(__file__).resolve().parents[1] / "demo_orders"
MORE = (("porcelain_works", "D1", "COL860"), ("porcelain_works", "D1", "COL1190"))
NAMES = ("sides", "low", "flat", "handles", "sets", "flame")


def main() -> None:
    """Pack every load and print a line for it."""
    parser = argparse.ArgumentParser(prog="bench steer", description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--effort", type=int, default=150)
    parser.add_argument("--seeds", type=int, nargs="+", default=[1])
    options = parser.parse_args()
    print(f"{'load':30} {'seed':>4}  " + "  ".join(f"{name:>13}" for name in NAMES))
    for works, kiln, programme in (*LOADS, *MORE):
        for seed in options.seeds:
            before, after = missed(ORDERS / works, kiln, programme, options.effort, seed)
            pairs = (f"{getattr(before, name):.2f} -> {getattr(after, name):.2f}" for name in NAMES)
            print(f"{works + ' ' + programme:30} {seed:4}  " + "  ".join(f"{pair:>13}" for pair in pairs), flush=True)


def missed(folder: Path, kiln_code: str, code: str, effort: int, seed: int) -> tuple[Misses, Misses]:
    """Return by how much a load misses the wishes before and after it is steered."""
    works = read_works(folder)
    kiln, programme = works.kiln(kiln_code), works.programme(code)
    found: list[Misses] = []

    def watched(state: LoadState, built: WorksProblem, rules: FiringRules, budget: Budget) -> LoadState:
        wishes = Wishes(rules, built)
        better = steered(state, built, rules, budget)
        found.extend((wishes.misses(state), wishes.misses(better)))
        return better

    packing.__dict__["steered"] = watched
    lots = ready_lots(works, kiln, programme, works.now)
    packing.pack_load(works, kiln, programme, lots, budget=Budget(effort=effort), seed=seed)
    return found[0], found[1]


if __name__ == "__main__":
    main()
