"""Shifting what lines aim at: only what is not worse is kept."""

from __future__ import annotations

from kilnpack.planning.policies import Policy, PolicyKind
from kilnpack.planning.shifting import shifted

LINES = ("A", "B", "C")
LOOK_AHEAD = Policy(kind=PolicyKind.LOOK_AHEAD)


def lateness(policy: Policy) -> tuple[tuple[float, ...], frozenset[str]]:
    """An invented works: A wants to be aimed at three days sooner, B two days later; margins cost."""
    aims = dict(policy.sooner_h)
    late = abs(aims.get("A", 0.0) - 72.0) + abs(aims.get("B", 0.0) + 48.0) + policy.margin_h
    return (late,), frozenset({"A"}) if aims.get("A", 0.0) < 72.0 else frozenset()


def test_shifting_never_makes_it_worse_and_mostly_better() -> None:
    """With more trials from the same seed the goals only fall, and end well under where they began."""
    rated = [lateness(shifted(LOOK_AHEAD, LINES, lateness, trials.__gt__, seed=3))[0] for trials in (1, 10, 50, 300)]
    assert rated == sorted(rated, reverse=True)
    assert rated[0] == (120.0,)
    assert rated[-1] <= (48.0,)


def test_nothing_to_shift_is_left_alone() -> None:
    """No trial, no line, or a policy that does not look ahead: the policy comes back as it was."""
    first = Policy(kind=PolicyKind.FIRST_DUE)
    assert shifted(LOOK_AHEAD, LINES, lateness, lambda _: False, seed=1) is LOOK_AHEAD
    assert shifted(LOOK_AHEAD, (), lateness, lambda _: True, seed=1) is LOOK_AHEAD
    assert shifted(first, LINES, lateness, lambda _: True, seed=1) is first


def test_names_say_what_was_shifted() -> None:
    """A plan says its policy in words."""
    moved = Policy(kind=PolicyKind.LOOK_AHEAD, margin_h=24.0, longest_wait_h=12.0, sooner_h=(("A", 24.0),))
    assert moved.name == "look ahead, 24 h in hand, wait up to 12 h, lines shifted: 1"
