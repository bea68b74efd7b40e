"""Pack what is ready into one load of a kiln: the call everyone else makes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kilnpack.model.loads import ConePack, Load
from kilnpack.packing.exclusions import compatible
from kilnpack.packing.filler import Filler
from kilnpack.packing.firing_rules import FiringRules
from kilnpack.packing.improve import Tuning
from kilnpack.packing.left_out import left_out
from kilnpack.packing.read_back import Arranged, arranged, settle_orders
from kilnpack.packing.ready_ware import able
from kilnpack.packing.sparing import Sparing, UntilAllIsIn
from kilnpack.packing.tidy import tidied
from kilnpack.packing.together import pack_together, unpacked
from kilnpack.packing.works_problem import WorksProblem, works_problem
from kilnpack.search.listener import Silent

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kilnpack.model.kilns import Kiln
    from kilnpack.model.loads import LeftOut
    from kilnpack.model.orders import Lot
    from kilnpack.model.programmes import Programme
    from kilnpack.model.works import Works
    from kilnpack.packing.state import LoadState
    from kilnpack.search.budget import Budget
    from kilnpack.search.listener import Listener


def pack_load(  # noqa: PLR0913 - what a firing is, then how long to look and who listens
    works: Works,
    kiln: Kiln,
    programme: Programme,
    lots: Sequence[Lot],
    *,
    budget: Budget,
    seed: int,
    listener: Listener | None = None,
    reserve_share: float = 0.0,
    workers: int = 1,
) -> Load:
    """Return the best load found for one firing, with a reason for every piece that did not go in.

    Parameters
    ----------
    lots
        What is ready for the programme (see `planning.ready.ready_lots`).
    budget
        Seconds, or effort; with effort, a seed and one worker the load repeats exactly.
    listener
        Hears of progress and may end the search early, as Ctrl-C does.
    reserve_share
        Share of every kind of shelf that stays free for late pieces.

    Notes
    -----
    The value of a piece is its setting volume (what it covers with its gap, times its height with headroom, dm3) x
    priority of its order line x urgency (2 overdue, 1.5 due within 14 days, 1 later, 0.6 for stock) x kind of lot.
    """
    rules = FiringRules(works, kiln, programme)
    fit, barred = able(rules, [lot for lot in lots if lot.pieces > 0])
    together, out = compatible(rules, fit)
    built = works_problem(rules, together, reserve_share=reserve_share)
    state = _packed(built, rules, budget=budget, seed=seed, listener=listener, workers=workers)
    found = arranged(works, state, built.ware, built.shelves)
    packs = _cone_packs(rules, built, found)
    ready = built.problem.ready_value
    rows = [*barred, *out, *left_out(rules, built, state, found.placed)]
    used = {standing.form for setting in found.settings for standing in setting.standings}
    return Load(
        works=works.name,
        kiln=kiln.code,
        programme=programme.code,
        stage=programme.stage,
        car=kiln.cars[0].code if kiln.cars else None,
        forms=tuple({form.code: form for form in built.ware.forms if form.code in used}.values()),
        settings=found.settings,
        stacks=tuple(stack for stack in found.stacks if stack.tiers),
        cone_packs=packs,
        left_out=tuple(rows),
        value_share=round(state.value / ready, 6) if ready > 0 else 0.0,
        seed=seed,
        remarks=tuple(_remarks(rules, built, state, packs, rows)),
    )


def _packed(
    built: WorksProblem,
    rules: FiringRules,
    *,
    budget: Budget,
    seed: int,
    listener: Listener | None,
    workers: int,
) -> LoadState:
    tuning = Tuning(turn_step_deg=rules.settings.turn_step_deg, bound_share=0.0)
    if not built.problem.wares or not built.problem.stacks:
        from kilnpack.packing.state import LoadState

        return LoadState(built.problem)
    meter = budget.start()
    until = UntilAllIsIn(listener or Silent(), built.problem.ready_value)
    plan = pack_together(built.problem, budget=budget, seed=seed, workers=workers, tuning=tuning, listener=until)
    sparing = Sparing(problem=built.problem, meter=meter, listener=until, tuning=tuning, seed=seed, workers=workers)
    state = unpacked(built.problem, sparing.spared(plan))
    state = tidied(state, Filler(built.problem), built, rules)
    return settle_orders(state, built.ware, built.shelves, rules.settings.balance_share)


def _cone_packs(rules: FiringRules, built: WorksProblem, found: Arranged) -> tuple[ConePack, ...]:
    places = {place.code: (place, shelf) for place, shelf in zip(built.places, built.shelves, strict=True)}
    tiers = [
        (places[stack.place][0], tier.number, tier.base_mm, places[stack.place][1])
        for stack in found.stacks
        for tier in stack.tiers
    ]
    packs = [rules.cone_pack(hole, tiers) for hole in rules.packs()]
    return tuple(pack for pack in packs if pack is not None)


def _remarks(
    rules: FiringRules,
    built: WorksProblem,
    state: LoadState,
    packs: Sequence[ConePack],
    rows: Sequence[LeftOut],
) -> list[str]:
    """Return what the loader should know: a near-empty kiln (Z7), packs without a shelf (C7)."""
    said = []
    ware_kg = sum(
        built.ware.bodies[spot.ware].ware_kg for tiers in state.stacks for tier in tiers for spot in tier.filled.spots
    )
    if ware_kg < rules.kiln.least_ware_kg:
        left = sum(row.pieces for row in rows)
        said.append(
            f"Z7: {ware_kg:.1f} kg of ware, at least {rules.kiln.least_ware_kg:.1f} kg wanted; "
            f"{left} ready pieces are left out, fillers or dummies would even the fire"
        )
    standing = {pack.peephole for pack in packs}
    said += [f"C7: no shelf under the cone pack of {hole.code}" for hole in rules.packs() if hole.code not in standing]
    return said
