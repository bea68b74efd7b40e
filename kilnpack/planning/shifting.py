"""Better policies by trial: shift what single lines aim at, and the numbers of the policy, and keep what is not worse.

Each trial is a whole run with estimated loads. Lines that are late are tried sooner more often than others.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, TypeAlias

from kilnpack.planning.clock import NEVER_H
from kilnpack.planning.policies import Policy, PolicyKind
from kilnpack.search.seeds import stream

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import numpy as np

Rated: TypeAlias = tuple[tuple[float, ...], frozenset[str]]
"""Goals of a run (less is better), and its late lines."""

MARGINS_H = (0.0, 24.0, 48.0, 96.0)
WAITS_H = (0.0, 12.0, 24.0, 48.0, NEVER_H)
HORIZONS_H = (96.0, 168.0, 336.0)
FURNITURE_SHARES = (0.0, 0.4, 0.6, 0.8)
SHIFTS_H = (24.0, 48.0, 96.0, 168.0)
NUMBERS_SHARE = 0.25
"""Share of trials that change a number of the policy; the others shift lines."""


def shifted(
    policy: Policy,
    lines: Sequence[str],
    rate: Callable[[Policy], Rated],
    goes_on: Callable[[int], bool],
    *,
    seed: int,
) -> Policy:
    """Return the best policy found by trial, or the one given.

    Parameters
    ----------
    policy
        Where to begin. One that does not look ahead is taken as it is.
    lines
        Codes of the order lines.
    rate
        Runs a policy and returns its goals and late lines.
    goes_on
        Asked with the number of the trial; False ends the search.
    seed
        For the draws.
    """
    if policy.kind is not PolicyKind.LOOK_AHEAD or not lines or not goes_on(0):
        return policy
    draw = stream(seed, 4)
    best, (goals, late) = policy, rate(policy)
    trial = 1
    while goes_on(trial):
        tried = _other_numbers(best, draw) if draw.random() < NUMBERS_SHARE else _other_aims(best, lines, late, draw)
        found, found_late = rate(tried)
        if found <= goals:
            best, goals, late = tried, found, found_late
        trial += 1
    return best


def _other_numbers(policy: Policy, draw: np.random.Generator) -> Policy:
    """Change one number of the policy."""
    which = int(draw.integers(0, 6))
    if which == 5:
        return replace(policy, least_furniture_share=FURNITURE_SHARES[int(draw.integers(0, len(FURNITURE_SHARES)))])
    if which == 4:
        return replace(policy, paced=not policy.paced)
    if which == 3:
        return replace(policy, together=not policy.together)
    if which == 0:
        return replace(policy, margin_h=MARGINS_H[int(draw.integers(0, len(MARGINS_H)))])
    if which == 1:
        return replace(policy, longest_wait_h=WAITS_H[int(draw.integers(0, len(WAITS_H)))])
    return replace(policy, horizon_h=HORIZONS_H[int(draw.integers(0, len(HORIZONS_H)))])


def _other_aims(policy: Policy, lines: Sequence[str], late: frozenset[str], draw: np.random.Generator) -> Policy:
    """Shift one to three lines: a late one sooner, another one sooner or later."""
    aims = dict(policy.sooner_h)
    pressed = sorted(late)
    for _ in range(int(draw.integers(1, 4))):
        is_late = bool(pressed) and draw.random() < 0.5
        pool = pressed if is_late else lines
        line = pool[int(draw.integers(0, len(pool)))]
        hours = SHIFTS_H[int(draw.integers(0, len(SHIFTS_H)))]
        sign = 1.0 if is_late or draw.random() < 0.3 else -1.0
        aims[line] = aims.get(line, 0.0) + sign * hours
    return replace(policy, sooner_h=tuple(sorted((line, h) for line, h in aims.items() if h)))
