"""An edited plan file is findings, never a fault of the program."""

from __future__ import annotations

import json
import random
from typing import TYPE_CHECKING

import pytest

from kilnpack.errors import InputFaulty
from kilnpack.model.plans import Plan
from kilnpack.planning.plan_audit import audit_plan
from kilnpack.works_folder import load_value, save_value
from tests.planning.test_audit import PLAN, shop

if TYPE_CHECKING:
    from pathlib import Path

ODD: tuple[object, ...] = (None, "", "Q", -1, 0, 10**9, 1.5, "2026-03-02T00:00:00", "2031-01-01T00:00:00Z", [], {})
SHOP = shop()


def leaves(value: object, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    """Every path to a plain value, and to every list."""
    if isinstance(value, dict):
        return [found for key, inner in value.items() for found in leaves(inner, (*path, key))]
    if isinstance(value, list):
        return [path, *(found for k, inner in enumerate(value) for found in leaves(inner, (*path, k)))]
    return [path]


def edited(value: object, path: tuple[str | int, ...], new: object) -> object:
    """A copy with another value at a path."""
    if not path:
        return new
    if isinstance(value, dict):
        return {key: edited(inner, path[1:], new) if key == path[0] else inner for key, inner in value.items()}
    assert isinstance(value, list)
    return [edited(inner, path[1:], new) if k == path[0] else inner for k, inner in enumerate(value)]


def judge(path: Path, content: object) -> bool:
    """Whether the file has a finding, on reading or on the audit."""
    path.write_text(json.dumps(content), encoding="utf-8")
    try:
        plan = load_value(path, Plan)
    except InputFaulty as fault:
        return bool(fault.findings)
    return bool(audit_plan(SHOP, plan))


def test_a_plan_is_saved_and_read_back(tmp_path: Path) -> None:
    """JSON and back is the same plan, and sound."""
    save_value(tmp_path / "plan.json", PLAN)
    again = load_value(tmp_path / "plan.json", Plan)
    assert again == PLAN
    assert audit_plan(SHOP, again) == ()


@pytest.mark.parametrize("seed", range(6))
def test_no_edit_brings_the_audit_down(tmp_path: Path, seed: int) -> None:
    """Sixty edits of any value at any place: each is judged, and most of them are found."""
    save_value(tmp_path / "plan.json", PLAN)
    content = json.loads((tmp_path / "plan.json").read_text(encoding="utf-8"))
    places = leaves(content)
    draw = random.Random(seed)
    found = sum(
        judge(tmp_path / "edited.json", edited(content, draw.choice(places), draw.choice(ODD))) for _ in range(60)
    )
    assert found >= 20
