"""What the inspections teach: yields by product, shape and stage, and losses by place. Each with its sample size."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sqlalchemy import select

from kilnpack.model.orders import LotKind
from kilnpack.model.pieces import Stage
from kilnpack.records.firings import firing_rows, load_fired
from kilnpack.records.shares import Count, Share, learnt_share
from kilnpack.records.states import Grade, RecordedState
from kilnpack.records.tables_firings import InspectionRow

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from sqlalchemy.orm import Session

    from kilnpack.model.pieces import RouteStep
    from kilnpack.model.works import Works


_Place = tuple[str, str, str | None, int | None]
"""Kiln, stage, stack and tier."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Yield:
    """What comes out of a stage: of one product, or of all products of a shape.

    Refires are counted apart and do not count as lost; ware that was fired again is not counted here.
    """

    of: str
    is_shape: bool
    stage: Stage
    first_pieces: int
    refire_pieces: int
    scrap: Share
    second: Share


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceLoss:
    """What was fired at a tier of a kiln, and what of it was lost there.

    `tier` None collects pieces whose place nobody noted; `fired_pieces` is then 0.
    """

    kiln: str
    stage: Stage
    stack: str | None
    tier: int | None
    fired_pieces: int
    second_pieces: int
    refire_pieces: int
    scrap_pieces: int
    firings: int
    causes: tuple[tuple[str, int], ...]

    @property
    def lost_share(self) -> float | None:
        """Seconds, refires and scrap as a share of what was fired there; None where nothing was."""
        lost = self.second_pieces + self.refire_pieces + self.scrap_pieces
        return lost / self.fired_pieces if self.fired_pieces else None


def yields(session: Session, works: Works) -> tuple[Yield, ...]:
    """Return the yields of every product that was inspected, in the order of the works, then of shapes.

    A shape is told where more than one of its products was inspected; else its product says the same.
    """
    rows = tuple(
        session.scalars(
            select(InspectionRow)
            .where(InspectionRow.lot_kind != LotKind.REFIRE.value, InspectionRow.replaced_at.is_(None))
            .order_by(InspectionRow.id)
        )
    )
    shapes = {product.code: product.shape for product in works.products}
    of_product = _yields(works, rows, [*shapes], lambda row: row.product, lambda code: [code], is_shape=False)
    members: dict[str, list[str]] = defaultdict(list)
    for product, shape in shapes.items():
        members[shape].append(product)
    seen = {row.product for row in rows}
    shared = [shape for shape, products in members.items() if len(seen.intersection(products)) > 1]
    of_shape = _yields(works, rows, shared, lambda row: row.shape, lambda code: members[code], is_shape=True)
    return (*of_product, *of_shape)


def _yields(
    works: Works,
    rows: Iterable[InspectionRow],
    codes: list[str],
    key: Callable[[InspectionRow], str],
    products: Callable[[str], list[str]],
    *,
    is_shape: bool,
) -> tuple[Yield, ...]:
    counted: dict[tuple[str, Stage], dict[str, Counter[str]]] = defaultdict(lambda: defaultdict(Counter))
    for row in rows:
        counted[key(row), Stage(row.stage)][row.firing][row.grade] += row.pieces
    return tuple(
        _yield(works, code, stage, counted[code, stage], products(code), is_shape=is_shape)
        for code in codes
        for stage in Stage
        if (code, stage) in counted
    )


def _yield(
    works: Works, of: str, stage: Stage, firings: dict[str, Counter[str]], products: list[str], *, is_shape: bool
) -> Yield:
    steps = [step for code in products for step in works.product(code).route if step.stage is stage]
    grades = [*firings.values()]
    return Yield(
        of=of,
        is_shape=is_shape,
        stage=stage,
        first_pieces=sum(grade[Grade.FIRST] for grade in grades),
        refire_pieces=sum(grade[Grade.REFIRE] for grade in grades),
        scrap=learnt_share(_counts(grades, Grade.SCRAP), _guessed(steps, lambda step: step.scrap_share)),
        second=learnt_share(_counts(grades, Grade.SECOND), _guessed(steps, lambda step: step.second_share)),
    )


def _counts(grades: list[Counter[str]], grade: Grade) -> list[Count]:
    return [Count(pieces=row.total(), hit=row[grade]) for row in grades]


def _guessed(steps: list[RouteStep], share: Callable[[RouteStep], float]) -> float:
    """Return what the works reckons with now: the mean over the routes that fire this stage."""
    return sum(map(share, steps)) / len(steps) if steps else 0.0


def losses(session: Session) -> tuple[PlaceLoss, ...]:
    """Return what was fired and lost by tier of every stack of every kiln, and what has no place."""
    fired: Counter[_Place] = Counter()
    firings: dict[_Place, set[str]] = defaultdict(set)
    kilns: dict[str, str] = {}
    for row in firing_rows(session, states=[RecordedState.INSPECTED]):
        kilns[row.code] = row.kiln
        for stack in load_fired(row).stacks:
            for tier in stack.tiers:
                key: _Place = (row.kiln, row.stage, stack.place, tier.number)
                fired[key] += sum(fill.pieces for fill in tier.fills)
                firings[key].add(row.code)
    lost: dict[_Place, Counter[str]] = defaultdict(Counter)
    causes: dict[_Place, Counter[str]] = defaultdict(Counter)
    not_first = (InspectionRow.grade != Grade.FIRST.value, InspectionRow.replaced_at.is_(None))
    for one in session.scalars(select(InspectionRow).where(*not_first)):
        placed = one.stack is not None and one.tier is not None
        key = (kilns[one.firing], one.stage, one.stack if placed else None, one.tier if placed else None)
        lost[key][one.grade] += one.pieces
        causes[key][one.cause] += one.pieces
        firings[key].add(one.firing)
    return tuple(
        PlaceLoss(
            kiln=key[0], stage=Stage(key[1]), stack=key[2], tier=key[3], fired_pieces=fired[key],
            second_pieces=lost[key][Grade.SECOND], refire_pieces=lost[key][Grade.REFIRE],
            scrap_pieces=lost[key][Grade.SCRAP], firings=len(firings[key]),
            causes=tuple(causes[key].most_common()),
        )
        for key in sorted(fired.keys() | lost.keys(), key=lambda key: (key[0], key[1], key[2] or "~", key[3] or 0))
    )  # fmt: skip


def with_learnt_yields(works: Works, learnt: Iterable[Yield]) -> Works:
    """Return the works with scrap and seconds of every route step as learnt for its product."""
    by_step = {(row.of, row.stage): row for row in learnt if not row.is_shape}
    products = tuple(
        replace(
            product,
            route=tuple(
                replace(step, scrap_share=row.scrap.share, second_share=row.second.share)
                if (row := by_step.get((product.code, step.stage)))
                else step
                for step in product.route
            ),
        )
        for product in works.products
    )
    return replace(works, products=products)
