"""What may be set where a body is missing or broken: ready ware that is left out and no larger anywhere.

A body that lies wholly inside another keeps every distance the other keeps. Mass, balance, heat, vapours and stock are
left to the checker, which looks at loads in which the substitutes stand.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from kilnpack.model.loads import PlaceFill, Substitute
from kilnpack.packing.covers import cover_of, foot_reach_mm
from kilnpack.packing.firing_rules import FiringRules
from kilnpack.rules.checker import audit
from kilnpack.shapes.bodies import stand
from kilnpack.shapes.primitives import radius_at

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from kilnpack.model.loads import BodyForm, Load, Setting, Tier
    from kilnpack.model.orders import Lot
    from kilnpack.model.works import Works
    from kilnpack.shapes.bodies import Body

MOST_EACH = 2
"""Substitutes told for one form, and loads the checker looks at."""
LEVEL_MM = 1e-6


@dataclass(frozen=True, slots=True)
class _Candidate:
    """Ware of a lot in the place of a form."""

    form: str
    instead: BodyForm
    lot: Lot
    pieces: int


def substitutes(works: Works, load: Load, lots: Sequence[Lot]) -> tuple[Substitute, ...]:
    """Return what may stand instead of each form, as far as the checker accepts it."""
    rules = FiringRules(works, works.kiln(load.kiln), works.programme(load.programme))
    offers = _offers(rules, load, lots)
    found: list[Substitute] = []
    for turn in range(MOST_EACH):
        row = [own[turn] for own in offers.values() if len(own) > turn]
        found += [
            Substitute(form=one.form, lot=one.lot.code, form_instead=one.instead.code, pieces=one.pieces)
            for one in _accepted(works, load, row)
        ]
    return tuple(sorted(found, key=lambda sub: sub.form))


def forms_instead(
    works: Works, kiln: str, programme: str, form: BodyForm, lots: Sequence[Lot]
) -> Iterator[tuple[Lot, BodyForm]]:
    """Yield the lots no taller and nowhere wider than a form, on the same support, each in the way most like it.

    What stands wholly inside the form keeps every distance it keeps; for the rest the checker must be asked.

    Parameters
    ----------
    kiln, programme
        Codes of the firing.
    lots
        Ware that is ready for it; what has fewer pieces than it would stand in is passed over.
    """
    rules = FiringRules(works, works.kiln(kiln), works.programme(programme))
    body = stand(works, form)
    known: dict[tuple[str, int], list[BodyForm]] = {}
    for lot in lots:
        if (lot.product, lot.step) not in known:
            known[lot.product, lot.step] = sorted(
                (one for one in rules.forms(lot)[0] if _no_larger(works, one, form, body)),
                key=lambda one: (not _inside(works, one, form, body), _unlike(one, form)),
            )
        fitting = (one for one in known[lot.product, lot.step] if one.pieces <= lot.pieces)
        if (best := next(fitting, None)) is not None:
            yield lot, best


def _offers(rules: FiringRules, load: Load, lots: Sequence[Lot]) -> dict[str, list[_Candidate]]:
    """Return for every form the ware left out that is no larger, the most like it first."""
    left = {row.lot: row.pieces for row in load.left_out if row.rule == "no room"}
    present = {rules.vapours(rules.works.lot(code)) for code in _lots_in(load)}
    waiting = [lot for lot in lots if left.get(lot.code)]
    offers: dict[str, list[_Candidate]] = {}
    for form in load.forms:
        body = stand(rules.works, form)
        own = []
        for lot in waiting:
            if any(rules.clash(rules.vapours(lot), one) for one in present):
                continue
            own += [
                (_unlike(instead, form), lot.code, _Candidate(form.code, instead, lot, left[lot.code]))
                for instead in rules.forms(lot)[0]
                if instead.pieces <= left[lot.code] and _inside(rules.works, instead, form, body)
            ]
        by_lot: dict[str, _Candidate] = {}
        for _, code, one in sorted(own, key=lambda row: row[:2]):
            by_lot.setdefault(code, one)
        offers[form.code] = list(by_lot.values())[:MOST_EACH]
    return offers


def _lots_in(load: Load) -> set[str]:
    return {fill.lot for stack in load.stacks for tier in stack.tiers for fill in tier.fills}


def _unlike(instead: BodyForm, form: BodyForm) -> tuple[bool, int]:
    return instead.code != form.code, -instead.pieces


def _inside(works: Works, instead: BodyForm, form: BodyForm, outer: Body) -> bool:
    """Whether one body lies wholly inside another, both on their axis; stood on the same support."""
    if instead.code == form.code:
        return True
    if instead.support != form.support or instead.spacer != form.spacer:
        return False
    inner = stand(works, instead)
    if inner.top_mm > outer.top_mm + LEVEL_MM or foot_reach_mm(inner) > foot_reach_mm(outer) + LEVEL_MM:
        return False
    own, others = cover_of(inner.parts), cover_of(outer.parts)
    if any(p.reach_mm > LEVEL_MM for p in (*own, *others)):
        return False
    levels = {z for p in (*own, *others) for z, _ in p.profile}
    return all(_widest(own, z) <= _widest(others, z) + LEVEL_MM for z in levels)


def _no_larger(works: Works, instead: BodyForm, form: BodyForm, outer: Body) -> bool:
    """Whether a body is no taller than another and reaches no further from its axis; stood on the same support."""
    if instead.code == form.code:
        return True
    if instead.support != form.support:
        return False
    inner = stand(works, instead)
    return inner.top_mm <= outer.top_mm + LEVEL_MM and _reach_mm(inner) <= _reach_mm(outer) + LEVEL_MM


def _reach_mm(body: Body) -> float:
    return max(p.reach_mm + max(r for _, r in p.profile) for p in cover_of(body.parts))


def _widest(primitives: Sequence[object], z_mm: float) -> float:
    found = (radius_at(p.profile, z_mm) for p in primitives)  # type: ignore[attr-defined]
    return max((r for r in found if r is not None), default=-1.0)


def _accepted(works: Works, load: Load, offers: Sequence[_Candidate]) -> Iterator[_Candidate]:
    """Yield the offers with which the checker finds nothing, as many pieces as stand in the trial."""
    if not offers:
        return
    trial, stood, where = _with(load, offers)
    faults = [row.field for row in audit(works, trial).findings]
    for one in offers:
        tiers = where[one.form]
        everywhere = any("stack" not in field for field in faults)
        if tiers and not everywhere and not any(name in f"{field} " for field in faults for name in tiers):
            yield replace(one, pieces=stood[one.form])


def _with(load: Load, offers: Sequence[_Candidate]) -> tuple[Load, dict[str, int], dict[str, set[str]]]:
    """Return a load with the substitutes in it, how many pieces of each stand, and on which tiers."""
    by_form = {one.form: one for one in offers}
    left = {one.form: one.pieces for one in offers}
    stood: dict[str, int] = defaultdict(int)
    where: dict[str, set[str]] = defaultdict(set)
    settings: list[Setting] = list(load.settings)
    stacks = []
    for stack in load.stacks:
        tiers: list[Tier] = []
        for tier in stack.tiers:
            setting, fills = load.setting(tier.setting), list(tier.fills)
            rows = list(setting.standings)
            for k, standing in enumerate(rows):
                one = by_form.get(standing.form)
                if one is None or left[one.form] < one.instead.pieces:
                    continue
                left[one.form] -= one.instead.pieces
                stood[one.form] += one.instead.pieces
                where[one.form].add(f"stack {stack.place} tier {tier.number} ")
                rows[k] = replace(standing, form=one.instead.code)
                fills = [fill for fill in fills if fill.place != standing.place]
                fills.append(PlaceFill(place=standing.place, lot=one.lot.code, pieces=one.instead.pieces))
            code = f"{setting.code} {stack.place}{tier.number}"
            settings.append(replace(setting, code=code, standings=tuple(rows)))
            tiers.append(replace(tier, setting=code, fills=tuple(sorted(fills, key=lambda fill: fill.place))))
        stacks.append(replace(stack, tiers=tuple(tiers)))
    forms = {form.code: form for form in (*load.forms, *(one.instead for one in offers))}
    used = {tier.setting for stack in stacks for tier in stack.tiers}
    trial = replace(
        load,
        forms=tuple(forms.values()),
        settings=tuple(row for row in settings if row.code in used),
        stacks=tuple(stacks),
    )
    return trial, stood, where
