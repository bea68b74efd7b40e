"""Rebuild part of a stack: a dynamic programme picks the columns, then every shelf is filled from what is spare."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Protocol

import numpy as np

from kilnpack.packing.filler import EMPTY, Filled, Filler
from kilnpack.packing.stack_kernel import best_columns
from kilnpack.packing.state import OPEN, LoadState, TierState, useful_columns

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from kilnpack.shapes.room import Room

BAND_MM = 25.0
"""Heights this near to each other share one estimate."""

NOTHING = -1e15
Key = tuple["Room", int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Care:
    """How much work a rebuild takes: fills of each shelf, and the spread put on the estimates."""

    fills: int
    noise: float = 0.0


class Worths(Protocol):
    """Tells what a shelf may be worth."""

    def of(self, state: LoadState, room: Room, allowed: int) -> float:
        """Return the worth of a shelf in a room where these kinds are allowed."""


class Estimates:
    """What a shelf in a room may be worth; learnt from fills, so that a stack can be planned without filling it."""

    def __init__(self, filler: Filler, *, fills: int) -> None:
        self.filler = filler
        self.fills = fills
        self.known: dict[Key, Filled] = {}
        self.worth: dict[Key, float] = {}

    def of(self, state: LoadState, room: Room, allowed: int) -> float:
        """Return the worth of a shelf, filling it once from what is spare if it was never seen."""
        key = self._key(room, allowed)
        if key not in self.worth:
            low = replace(key[0], clear_height_mm=room.clear_height_mm)
            filled = self.filler.fill(low, allowed, state.spare, fills=self.fills, seed=1)
            self.known[key] = filled
            self.worth[key] = filled.value
        return self.worth[key]

    def learn(self, room: Room, allowed: int, filled: Filled) -> None:
        """Move the worth of a shelf towards what a real fill gave."""
        key = self._key(room, allowed)
        self.worth[key] = 0.5 * (self.worth.get(key, filled.value) + filled.value)
        if filled.value > self.known.get(key, EMPTY).value:
            self.known[key] = filled

    def start(self, room: Room, allowed: int) -> Filled:
        """Return a fill to begin from."""
        return self.known.get(self._key(room, allowed), EMPTY)

    def seen(self, room: Room, allowed: int) -> float:
        """Return the worth of a shelf as far as it is known, without filling it."""
        return self.worth.get(self._key(room, allowed), 0.0)

    def _key(self, room: Room, allowed: int) -> Key:
        """Rooms of other heights that let the same kinds in are one, keep-outs at other heights as well."""
        keeps = tuple(replace(keep, from_z_mm=0.0, to_z_mm=math.inf) for keep in room.keep_outs)
        return replace(
            room, clear_height_mm=math.inf, keep_outs=tuple(dict.fromkeys(keeps))
        ), allowed & self.filler.low_enough(room.clear_height_mm)


def rebuild(
    state: LoadState,
    stack: int,
    *,
    at: int,
    count: int,
    left: int,
    estimates: Estimates,
    care: Care,
    rng: np.random.Generator,
) -> None:
    """Take `count` tiers out from place `at` on and put the best in their stead, with at most `left` shelves."""
    for _ in range(count):
        state.remove(stack, at)
    columns = useful_columns(state, stack)
    site = state.problem.stacks[stack]
    bases = state.bases_mm(stack)
    above_mm = bases[-1] - bases[at]
    has_end = site.open_top and at == len(state.stacks[stack])
    start_mm, top_mm = bases[at], site.top_mm - above_mm
    left = min(left, state.shelves[site.shelf])
    gap = _Gap(stack=stack, at=at, start_mm=start_mm, top_mm=top_mm, left=left, has_end=has_end)
    picked = _pick(state, gap, columns, estimates, rng, care.noise)
    _realise(state, gap, picked, estimates, care.fills, rng)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Gap:
    """The part of a stack that is rebuilt."""

    stack: int
    at: int
    start_mm: float
    top_mm: float
    left: int
    has_end: bool


def _pick(
    state: LoadState,
    gap: _Gap,
    columns: Sequence[int],
    estimates: Estimates,
    rng: np.random.Generator,
    noise: float,
) -> list[int]:
    stack, start_mm, has_end, left = gap.stack, gap.start_mm, gap.has_end, gap.left
    levels = math.floor(gap.top_mm - start_mm + 1e-6)
    if levels <= 0 or left <= 0 or not (columns or has_end):
        return []
    pitches = np.array([math.ceil(state.pitch_mm(stack, c) - 1e-6) for c in columns], np.int64)
    values = np.full((len(columns), levels), -1.0)
    for k, column in enumerate(columns):
        values[k] = tier_worths(state, stack, column, start_mm, levels - int(pitches[k]) + 1, levels, estimates)
    ending = np.full(levels, NOTHING)
    if has_end:
        ending = tier_worths(state, stack, OPEN, start_mm, levels, levels, estimates)
    if noise:
        values *= rng.normal(1.0, noise, (len(columns), 1)).clip(0.3, 2.0)
    value, path = best_columns(values, pitches, ending, has_end, 0, levels, left)
    if value <= 0.0:
        return []
    return [columns[int(c)] for c in path] + ([OPEN] if has_end else [])


def tier_worths(
    state: LoadState, stack: int, column: int, start_mm: float, until: int, levels: int, estimates: Worths
) -> NDArray[np.float64]:
    """Return the worth of a tier at each level over the start; NOTHING where no shelf may lie."""
    row = np.full(levels, NOTHING)
    first_band = int(start_mm // BAND_MM)
    for band in range(first_band, int((start_mm + until) // BAND_MM) + 1):
        low = max(0, math.ceil(band * BAND_MM - start_mm))
        high = min(until, math.ceil((band + 1) * BAND_MM - start_mm))
        if low >= high:
            continue
        room = state.problem.site.room(stack, start_mm + low, state.posts_mm(column))
        if room is not None and room.clear_height_mm > 0:
            row[low:high] = estimates.of(state, room, state.allowed(stack, start_mm + low, column))
    for low_mm, high_mm in state.problem.stacks[stack].barred_mm:
        row[max(0, math.ceil(low_mm - start_mm)) : max(0, math.ceil(high_mm - start_mm))] = NOTHING
    return row


def _realise(
    state: LoadState,
    gap: _Gap,
    picked: Sequence[int],
    estimates: Estimates,
    fills: int,
    rng: np.random.Generator,
) -> None:
    """Put the tiers in; a column whose posts ran out meanwhile is replaced by another or left out."""
    stack, base_mm, top_mm = gap.stack, gap.start_mm, gap.top_mm
    tiers: list[tuple[int, float]] = []
    place = gap.at
    for column in picked:
        stood = _column_in_stock(state, stack, column, top_mm - base_mm)
        if stood is None or state.room(stack, base_mm, stood) is None:
            continue
        state.insert(stack, place, TierState(stood))
        tiers.append((place, base_mm))
        place += 1
        base_mm += 0.0 if stood == OPEN else state.pitch_mm(stack, stood)
    if gap.has_end:
        _open_the_top(state, stack, tiers)
    ranked = []
    for tier, height_mm in tiers:
        column = state.stacks[stack][tier].column
        room = state.room(stack, height_mm, column)
        if room is not None:
            allowed = state.allowed(stack, height_mm, column)
            ranked.append((estimates.seen(room, allowed) * rng.uniform(0.8, 1.2), tier, room, allowed))
    for _, tier, room, allowed in sorted(ranked, key=lambda row: -row[0]):
        start = estimates.start(room, allowed)
        filled = estimates.filler.fill(
            room, allowed, state.spare, fills=fills, seed=int(rng.integers(1 << 30)), start=start
        )
        state.refill(stack, tier, filled)
        estimates.learn(room, allowed, filled)


def _open_the_top(state: LoadState, stack: int, tiers: list[tuple[int, float]]) -> None:
    """Where the open top tier found no room, take closed tiers off until one of them can be it."""
    while tiers and state.stacks[stack][tiers[-1][0]].column != OPEN:
        place, base_mm = tiers.pop()
        state.remove(stack, place)
        if state.room(stack, base_mm, OPEN) is not None:
            state.insert(stack, place, TierState(OPEN))
            tiers.append((place, base_mm))


def _column_in_stock(state: LoadState, stack: int, column: int, room_mm: float) -> int | None:
    if column == OPEN:
        return OPEN
    if state.pitch_mm(stack, column) <= room_mm + 1e-6 and state.has_posts(stack, column):
        return column
    want_mm = state.problem.columns[column].height_mm
    heights = {
        c: state.problem.columns[c].height_mm
        for c in useful_columns(state, stack)
        if state.pitch_mm(stack, c) <= room_mm + 1e-6
    }
    taller = [c for c in heights if heights[c] >= want_mm]
    return min(taller, key=lambda c: heights[c]) if taller else max(heights, key=lambda c: heights[c], default=None)


def first_load(
    state: LoadState, estimates: Estimates, *, fills: int, rng: np.random.Generator, rounds: int = 4
) -> None:
    """Build one stack after the other; each is planned again as its fills show what its shelves are really worth."""
    for stack, site in enumerate(state.problem.stacks):
        waiting = sum(1 for other in state.problem.stacks[stack:] if other.shelf == site.shelf)
        left = math.ceil(state.shelves[site.shelf] / waiting)
        best = state
        for _ in range(rounds):
            trial = state.copy()
            rebuild(trial, stack, at=0, count=0, left=left, estimates=estimates, care=Care(fills=fills), rng=rng)
            if trial.value > best.value:
                best = trial
        _take_over(state, best)


def _take_over(state: LoadState, other: LoadState) -> None:
    """Become equal to another state."""
    twin = other.copy()
    for name in ("stacks", "bottoms", "spare", "posts", "shelves", "value"):
        setattr(state, name, getattr(twin, name))
