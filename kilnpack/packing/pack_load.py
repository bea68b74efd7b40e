"""Pack what is ready into one load of a kiln: the call everyone else makes."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from kilnpack.model.loads import Load
from kilnpack.packing.bounded import Noting, with_bounds
from kilnpack.packing.exclusions import compatible
from kilnpack.packing.filler import Filler
from kilnpack.packing.firing_rules import FiringRules
from kilnpack.packing.improve import Tuning
from kilnpack.packing.kept import KeptTiers, beside_kept, numbered
from kilnpack.packing.late import LATE, emptied, late_lots, room_made, with_forms
from kilnpack.packing.left_out import left_out
from kilnpack.packing.piece_worths import piece_worths
from kilnpack.packing.read_back import Arranged, arranged, settle_orders
from kilnpack.packing.ready_ware import able
from kilnpack.packing.remarks import remarks
from kilnpack.packing.sparing import Sparing, UntilAllIsIn
from kilnpack.packing.state import LoadState
from kilnpack.packing.steer import steered
from kilnpack.packing.tidy import tidied
from kilnpack.packing.together import pack_together, unpacked
from kilnpack.packing.wishes import Wishes
from kilnpack.packing.works_problem import WorksProblem, works_problem
from kilnpack.search.listener import Silent

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from kilnpack.model.kilns import Kiln
    from kilnpack.model.loads import ConePack, StackLoad
    from kilnpack.model.orders import Lot
    from kilnpack.model.programmes import Programme
    from kilnpack.model.works import Works
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
    late: Mapping[str, int] | None = None,
    kept: Load | None = None,
    workers: int = 1,
    prove: bool = False,
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
    late
        Pieces of products that are not there yet, for which places are kept free.
    kept
        A load of this kiln whose tiers stand already. New tiers go over them; `works` holds the furniture and `lots`
        the ware that is left.
    prove
        Whether to prove a bound as well, which takes some seconds beyond the budget. There is none where tiers stand
        already or room is kept for late pieces.

    Notes
    -----
    The value of a piece is its setting volume (what it covers with its gap, times its height with headroom, dm3) x
    priority of its order line x urgency (2 overdue, 1.5 due within 14 days, 1 later, 0.6 for stock) x kind of lot.
    """
    rules = FiringRules(works, kiln, programme)
    standing = KeptTiers(works, kept) if kept is not None else None
    waiting = [*late_lots(works, programme, late or {}), *(lot for lot in lots if lot.pieces > 0)]
    fit, barred = able(rules, waiting)
    joining, kept_out = beside_kept(rules, fit, standing)
    together, out = compatible(rules, joining)
    built = works_problem(rules, together, reserve_share=reserve_share, kept=standing)
    noting = Noting(listener or Silent())
    state = _packed(built, rules, standing, budget=budget, seed=seed, listener=noting, workers=workers)
    state, reserved = emptied(state, built)
    found = arranged(works, state, built, Wishes(rules, built).heat_k, standing)
    rows = [*barred, *kept_out, *out, *left_out(rules, built, state, found.placed)]
    load = _load(rules, built, found, standing, seed)
    load = replace(
        load,
        left_out=tuple(row for row in rows if not row.lot.startswith(LATE)),
        value_share=_value_share(rules, built, state, standing),
        reserved=numbered(reserved, standing),
        forms=with_forms(load.forms, built.ware.forms, reserved),
    )
    if prove and standing is None and not late:
        load = with_bounds(load, built, noting)
    return replace(load, remarks=tuple(remarks(rules, load, late or {}, lots)))


def _load(rules: FiringRules, built: WorksProblem, found: Arranged, standing: KeptTiers | None, seed: int) -> Load:
    """Return the load of all tiers, new and kept, with its cone packs."""
    kiln, programme = rules.kiln, rules.programme
    stacks = tuple(stack for stack in found.stacks if stack.tiers)
    stacks = standing.joined(stacks) if standing else stacks
    used = {row.setting for stack in stacks for row in stack.tiers}
    settings = tuple(setting for setting in found.settings if setting.code in used)
    standing_forms = {body.form for setting in settings for body in setting.standings}
    forms = {form.code: form for form in (*(standing.load.forms if standing else ()), *built.ware.forms)}
    car = kiln.cars[0].code if kiln.cars else None
    return Load(
        works=rules.works.name,
        kiln=kiln.code,
        programme=programme.code,
        stage=programme.stage,
        car=standing.load.car if standing else car,
        forms=tuple(form for code, form in forms.items() if code in standing_forms),
        settings=settings,
        stacks=stacks,
        cone_packs=_cone_packs(rules, stacks),
        value_share=0.0,
        seed=seed,
    )


def _value_share(rules: FiringRules, built: WorksProblem, state: LoadState, standing: KeptTiers | None) -> float:
    """Return the value placed as a share of all that was ready; late pieces count on neither side."""
    late = {number for number, group in enumerate(built.ware.groups) if group.late}
    ready = built.problem.ready_value - sum(
        max(ware.body.value / ware.pieces for ware in built.problem.wares if ware.group == number)
        * built.problem.counts[number]
        for number in late
        if any(ware.group == number for ware in built.problem.wares)
    )
    stood = 0.0
    if standing is not None:
        lots = standing.lots()
        worth = piece_worths(rules, [*lots, *(lot for group in built.ware.groups for lot in group.lots)])
        stood = sum(worth.get(lot.code, 0.0) * lot.pieces for lot in lots)
    return round((state.value + stood) / (ready + stood), 6) if ready + stood > 0 else 0.0


def _packed(
    built: WorksProblem,
    rules: FiringRules,
    standing: KeptTiers | None,
    *,
    budget: Budget,
    seed: int,
    listener: Listener | None,
    workers: int,
) -> LoadState:
    tuning = Tuning(turn_step_deg=rules.settings.turn_step_deg, bound_share=0.0)
    if not built.problem.wares or not built.problem.stacks:
        state = LoadState(built.problem)
        return tidied(state, Filler(built.problem), built, rules, standing) if standing else state
    meter = budget.start()
    until = UntilAllIsIn(listener or Silent(), built.problem.ready_value)
    plan = pack_together(built.problem, budget=budget, seed=seed, workers=workers, tuning=tuning, listener=until)
    sparing = Sparing(problem=built.problem, meter=meter, listener=until, tuning=tuning, seed=seed, workers=workers)
    filler = Filler(built.problem)
    state = room_made(unpacked(built.problem, sparing.spared(plan)), built, filler)
    state = tidied(state, filler, built, rules, standing)
    state = settle_orders(state, built.ware, built.shelves, rules.settings.balance_share)
    return steered(state, built, rules, budget)


def _cone_packs(rules: FiringRules, stacks: Sequence[StackLoad]) -> tuple[ConePack, ...]:
    places = {place.code: place for place in rules.kiln.places}
    shelves = {shelf.code: shelf for shelf in rules.works.furniture.shelves}
    tiers = [
        (places[stack.place], tier.number, tier.base_mm, shelves[tier.shelf])
        for stack in stacks
        for tier in stack.tiers
    ]
    packs = [rules.cone_pack(hole, tiers) for hole in rules.packs()]
    return tuple(pack for pack in packs if pack is not None)
