"""The table of `kilnpack load ... --advise`."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from kilnpack.workflow.advising import Advice


def print_advice(advice: Advice, saved: Path) -> None:
    """Print what each change would bring, the greatest gain first."""
    base = advice.rows[0]
    print(f"What would bring more, packed {len(advice.seeds)} times each with effort {advice.effort}:")
    print(f"{'gain':>7} {'noise':>7} {'pieces':>8} {'kWh':>8} {'kWh/piece':>10}  change")
    for row in advice.rows:
        gain = "" if row is base else f"{row.gain_share:+.1%}"
        kwh = "" if row.kwh is None else f"{row.kwh:.0f}"
        each = "" if row.kwh_per_piece is None else f"{row.kwh_per_piece:.2f}"
        print(f"{gain:>7} {row.noise_share:7.1%} {row.pieces:8.1f} {kwh:>8} {each:>10}  {row.what}")
    print("A gain within twice its noise (the standard error over the seeds) says nothing; more effort tells more.")
    print(saved)
