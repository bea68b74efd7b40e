"""The load as it was set: the planned one with the loader's swaps and breakages.

A piece that broke leaves its place: a stack of ware gets lower, a single piece's place stays empty. Place numbers stay
as they are, because they stand on the sheet in the loader's hand. Nothing moves nearer to anything, so what the
checker accepted before it accepts now, but for rules on how much is loaded (such as an even mass).
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from kilnpack.model.loads import BodyForm, Load, PlaceFill, Setting, Tier
from kilnpack.records.states import TickKind

if TYPE_CHECKING:
    from collections.abc import Iterable

    from kilnpack.records.ticks import Tick


def as_loaded(load: Load, ticks: Iterable[Tick]) -> Load:
    """Return the planned load with every swap and breakage applied in turn."""
    for tick in ticks:
        if tick.what in (TickKind.SWAP, TickKind.BREAKAGE):
            load = _changed(load, tick)
    return _without_unused(load)


def _changed(load: Load, tick: Tick) -> Load:
    stack = next(one for one in load.stacks if one.place == tick.stack)
    tier = next(one for one in stack.tiers if one.number == tick.tier)
    fills = _swapped(tier.fills, tick) if tick.what is TickKind.SWAP else _lessened(tier.fills, tick)
    if tick.what is TickKind.BREAKAGE:
        load, tier = _lower(load, tier, fills, tick)
    new = replace(tier, fills=fills)
    tiers = tuple(new if one.number == tick.tier else one for one in stack.tiers)
    stacks = tuple(replace(one, tiers=tiers) if one.place == tick.stack else one for one in load.stacks)
    return replace(load, stacks=stacks)


def _meant(fill: PlaceFill, tick: Tick) -> bool:
    return fill.place == tick.place and tick.lot in (None, fill.lot)


def _swapped(fills: tuple[PlaceFill, ...], tick: Tick) -> tuple[PlaceFill, ...]:
    """Return the fills with pieces of one lot given to another."""
    found: list[PlaceFill] = []
    for fill in fills:
        if not _meant(fill, tick) or tick.other_lot is None:
            found.append(fill)
            continue
        moved = min(tick.pieces or fill.pieces, fill.pieces)
        if fill.pieces > moved:
            found.append(replace(fill, pieces=fill.pieces - moved))
        found.append(replace(fill, lot=tick.other_lot, pieces=moved))
    return _merged(found)


def _lessened(fills: tuple[PlaceFill, ...], tick: Tick) -> tuple[PlaceFill, ...]:
    """Return the fills without the pieces that broke."""
    found = [
        replace(fill, pieces=max(0, fill.pieces - (tick.pieces or fill.pieces))) if _meant(fill, tick) else fill
        for fill in fills
    ]
    return tuple(fill for fill in found if fill.pieces)


def _merged(fills: list[PlaceFill]) -> tuple[PlaceFill, ...]:
    """Return the fills with one row for each place and lot."""
    pieces: dict[tuple[int, str], int] = {}
    for fill in fills:
        pieces[fill.place, fill.lot] = pieces.get((fill.place, fill.lot), 0) + fill.pieces
    return tuple(PlaceFill(place=place, lot=lot, pieces=count) for (place, lot), count in pieces.items())


def _lower(load: Load, tier: Tier, fills: tuple[PlaceFill, ...], tick: Tick) -> tuple[Load, Tier]:
    """Return the load with a setting of the tier's own, in which the broken place holds what is left."""
    left = sum(fill.pieces for fill in fills if fill.place == tick.place)
    setting = load.setting(tier.setting)
    standing = next((one for one in setting.standings if one.place == tick.place), None)
    if standing is None:
        return load, tier
    forms = {form.code: form for form in load.forms}
    form = _with_pieces(forms[standing.form], left, forms)
    standings = tuple(
        replace(one, form=form.code) if one is standing else one
        for one in setting.standings
        if left or one is not standing
    )
    new = _named(load, Setting(code=setting.code, shelf=setting.shelf, standings=standings))
    forms[form.code] = form
    settings = load.settings if new in load.settings else (*load.settings, new)
    return replace(load, forms=tuple(forms.values()), settings=settings), replace(tier, setting=new.code)


def stood_instead(load: Load, tick: Tick, form: BodyForm, lot: str) -> Load:
    """Return the load with a body of another kind, of one lot, at the place of a swap: on the same axis, unturned.

    The setting becomes the tier's own.
    """
    stack = next(one for one in load.stacks if one.place == tick.stack)
    tier = next(one for one in stack.tiers if one.number == tick.tier)
    setting = load.setting(tier.setting)
    forms = {one.code: one for one in load.forms}
    alike = (one for one in load.forms if replace(one, code=form.code) == form)
    form = next(alike, replace(form, code=_free(form.code, forms)))
    forms[form.code] = form
    standings = tuple(replace(one, form=form.code) if one.place == tick.place else one for one in setting.standings)
    new = _named(load, replace(setting, standings=standings))
    fills = tuple(
        sorted(
            (
                *(fill for fill in tier.fills if fill.place != tick.place),
                PlaceFill(place=tick.place or 0, lot=lot, pieces=form.pieces),
            ),
            key=lambda fill: fill.place,
        )
    )
    changed = replace(tier, setting=new.code, fills=fills)
    tiers = tuple(changed if one.number == tick.tier else one for one in stack.tiers)
    stacks = tuple(replace(one, tiers=tiers) if one.place == tick.stack else one for one in load.stacks)
    settings = load.settings if new in load.settings else (*load.settings, new)
    return _without_unused(replace(load, forms=tuple(forms.values()), settings=settings, stacks=stacks))


def _with_pieces(form: BodyForm, pieces: int, forms: dict[str, BodyForm]) -> BodyForm:
    """Return the form of so many pieces: the same, one that is there, or a new one."""
    wanted = replace(form, pieces=max(pieces, 1), way=form.way if pieces > 1 else None)
    wanted = replace(wanted, spacer=wanted.spacer if wanted.way else None)
    alike = (one for one in forms.values() if replace(one, code=wanted.code) == wanted)
    return next(alike, replace(wanted, code=_free(f"{form.code}-{wanted.pieces}", forms)))


def _named(load: Load, setting: Setting) -> Setting:
    """Return a setting under a code of its own, or the one that is the same."""
    alike = (one for one in load.settings if replace(one, code=setting.code) == setting)
    taken = {one.code: one for one in load.settings}
    return next(alike, replace(setting, code=_free(f"{setting.code}-b", taken)))


def _free(code: str, taken: dict[str, BodyForm] | dict[str, Setting]) -> str:
    numbered = (f"{code}{number}" for number in range(2, len(taken) + 3))
    return next(one for one in (code, *numbered) if one not in taken)


def _without_unused(load: Load) -> Load:
    """Return the load without settings and forms that no tier uses any more."""
    used = {tier.setting for stack in load.stacks for tier in stack.tiers}
    settings = tuple(setting for setting in load.settings if setting.code in used)
    forms = {standing.form for setting in settings for standing in setting.standings}
    return replace(load, settings=settings, forms=tuple(form for form in load.forms if form.code in forms))
