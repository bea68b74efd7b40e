"""The checker across the joint of two stacks, and before a glost: no gap is free, no ware goes in raw."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kilnpack.rules.checker import audit
from tests.rules.small_audit import small_load, small_works, with_kiln


def cups_at_the_joint(short_mm: float) -> tuple[set[str], float]:
    """Return the broken rules and tightest gap with two shelves 5 mm apart and a cup either side of the joint.

    Each cup of 40 mm radius touches its own side of the middle, less `short_mm`; the gap is twice that.
    """
    works = small_works()
    left, right = works.kilns[0].places
    first, second = works.kilns[0].peepholes
    works = with_kiln(works, places=(left, replace(right, x_mm=465)), peepholes=(first, replace(second, x_mm=665)))
    load = small_load()
    low = load.settings[0]
    at = low.standings
    near = (replace(at[0], x_mm=37.5 + short_mm), replace(at[1], x_mm=362.5 - short_mm), at[2])
    load = replace(load, settings=(replace(low, standings=near), load.settings[1]))
    found = audit(works, load)
    assert found.tightest_gap is not None
    return {finding.field.split()[0] for finding in found.findings}, found.tightest_gap.mm


def test_gap_holds_across_two_stacks() -> None:
    """Guards C1 and C12 between stacks: 6 and 3 mm are wanted, on the middle line there is no gap at all."""
    for short_mm, rules in ((0.0, {"C1"}), (4.4, {"C1"}), (4.5, set())):
        found, gap_mm = cups_at_the_joint(short_mm)
        assert found == rules
        assert gap_mm == pytest.approx(2 * short_mm, abs=1e-6)


def test_ware_not_glazed_stays_out_of_the_glost() -> None:
    """Guards W5: a lot that waits to be glazed does not share a glost."""
    works = small_works()
    lots = tuple(replace(lot, glazed=lot.code != "MUG1") for lot in works.lots)
    found = audit(works, small_load(), lots=lots).findings
    assert [finding.field for finding in found] == ["W5 lot MUG1"]
