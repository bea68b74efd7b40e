"""What the properties of the checker are built from: an edge of a rule, and a shelf with a few bodies on it."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias

from hypothesis import strategies as st

from kilnpack.model.loads import PlaceFill, Setting, StackLoad, Standing
from kilnpack.model.pieces import Stage
from tests.rules.small_audit import small_load, small_works, with_kiln, with_settings

if TYPE_CHECKING:
    from collections.abc import Callable

    from kilnpack.model.loads import Load
    from kilnpack.model.works import Works

Case: TypeAlias = "tuple[Works, Load]"
Build: TypeAlias = "Callable[[st.DataObject, float], Case]"
BIS, GLO, DEC = Stage.BISCUIT, Stage.GLOST, Stage.DECORATION
STAGES = st.sampled_from((BIS, GLO, DEC))
TURNS = st.floats(0.0, 2.0 * math.pi)
SIGNS = st.sampled_from((-1.0, 1.0))


@dataclass(frozen=True, kw_only=True)
class Edge:
    """A rule with a limit: `build` makes a load that goes beyond it by an amount, or stays inside by a negative one.

    `slack` is what the checker accepts beyond the limit, `most` how far a load may go either way.
    """

    rule: str
    build: Build
    slack: float = 0.05
    most: float = 20.0
    room: float = 20.0


def bare_works() -> Works:
    """Return the works whose kiln wants no cone packs."""
    return with_settings(with_kiln(small_works(), peepholes=()), glost_packs_least=0)


def bench(rows: list[tuple[str, float, float]], stage: Stage = GLO, *, posts: bool = False) -> Load:
    """Return a load of one shelf in stack A, open above or under 150 mm of posts and an empty shelf."""
    load = small_load(stage)
    step = list(Stage).index(stage)
    standings = tuple(
        Standing(place=k, form=form, x_mm=x, y_mm=y, turn_deg=0.0) for k, (form, x, y) in enumerate(rows, start=1)
    )
    fills = tuple(PlaceFill(place=at.place, lot=f"{at.form}{step}", pieces=1) for at in standings)
    full = Setting(code="ONE", shelf="S", standings=standings)
    none = Setting(code="NONE", shelf="S", standings=())
    low, high = load.stacks[0].tiers
    low = replace(low, setting="ONE", fills=fills, flat=True)
    high = replace(high, setting="NONE", fills=(), flat=False)
    tiers = (low, high) if posts else (replace(low, posts=(), room_mm=735.0),)
    stacks = (StackLoad(place="A", stub="ST30", tiers=tiers),)
    return replace(load, settings=(full, none), stacks=stacks, cone_packs=())


def away(x_mm: float, y_mm: float, turn: float, far_mm: float) -> tuple[float, float]:
    """Return the point so far from another in a direction."""
    return x_mm + far_mm * math.cos(turn), y_mm + far_mm * math.sin(turn)


def hard_rules() -> set[str]:
    """Return the ids of all hard rules of the page."""
    page = Path(__file__).resolve().parents[2] / "docs" / "method" / "rules.md"
    found = re.findall(r"^\| ([CFWZ]\d+) \|[^\n]*? \| H \| ", page.read_text(encoding="utf-8"), re.M)
    assert len(found) == len(set(found)) == 41
    return set(found)
