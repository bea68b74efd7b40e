"""`kilnpack tradeoff FOLDER --out DIR`."""

from __future__ import annotations

from kilnpack.cli.options import Effort, Folder, Out, Seconds, Seed, Told, budget_of


def tradeoff(folder: Folder, out: Out, *, seconds: Seconds = None, effort: Effort = None, seed: Seed = 0) -> None:
    """Plan for several weights of energy against lateness; the time given is for each of up to six plans."""
    budget = budget_of(seconds, effort, usual_s=60.0)
    from kilnpack.workflow.planners_questions import trade_off_of

    told = Told()
    found, written = trade_off_of(folder, out, budget=budget, seed=seed, listener=told)
    told.done()
    print(f"{'days a MWh':>10}{'kWh':>10}{'late days':>11}{'open':>6}{'firings':>9}  way")
    for row in found.points:
        print(
            f"{row.weight_days_per_mwh:>10g}{row.energy_kwh:>10,.0f}{row.weighted_late_days:>11.1f}{row.open_lines:>6}"
            f"{row.firings:>9}  {row.policy}{'' if row.best else ' (another is better)'}"
        )
    for path in written:
        print(path)
