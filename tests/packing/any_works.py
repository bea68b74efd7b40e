"""Random invented works of all kinds: kilns, furniture, ware, settings and stage are drawn anew for every seed."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import UTC, datetime

from kilnpack.model.orders import Lot, Supply, WorkCalendar
from kilnpack.model.pieces import (
    Decoration,
    Stage,
)
from kilnpack.model.settings import WorksSettings
from kilnpack.model.works import Works
from tests.packing.any_kilns import car, eight_sided, front, furniture, round_halves, round_whole
from tests.packing.any_ware import backlog, glazes_of, product, programme_of, shapes_of

NOW = datetime(2026, 3, 2, 8, tzinfo=UTC)


def any_works(seed: int) -> tuple[Works, str, str]:
    """Return a works, the code of its kiln and of the programme to pack; same seed, same works."""
    rng = random.Random(seed)
    stage = rng.choice(list(Stage))
    settings = _settings(rng)
    shelf, kiln = rng.choice((front, front, car, round_halves, round_whole, eight_sided))(rng, settings)
    peak = {
        Stage.BISCUIT: 960.0,
        Stage.GLOST: rng.choice([1230.0, 1400.0]),
        Stage.DECORATION: rng.choice([800.0, 1150.0]),
    }
    shapes = shapes_of(rng)
    glazes = glazes_of(rng, peak[Stage.GLOST])
    products = tuple(
        product(rng, shape, glazes, k) for k, shape in enumerate(shapes) if not shape.code.startswith("lid")
    )
    lines, lots = backlog(rng, products)
    programmes = tuple(programme_of(one, peak[one]) for one in Stage)
    works = Works(
        name=f"any works {seed}",
        now=NOW,
        settings=settings,
        calendar=WorkCalendar(),
        supply=Supply(),
        furniture=furniture(rng, shelf),
        kilns=(replace(kiln, programmes=tuple(row.code for row in programmes)),),
        programmes=programmes,
        shapes=shapes,
        glazes=glazes,
        decorations=(Decoration(code="gold", name="gold", programme="decoration"),),
        products=products,
        sets=(),
        lines=lines,
        lots=lots,
    )
    return works, kiln.code, stage.value


def ready(works: Works, programme: str) -> tuple[Lot, ...]:
    """Return the lots that wait for a programme."""
    return tuple(lot for lot in works.lots if works.product(lot.product).route[lot.step].programme == programme)


def _settings(rng: random.Random) -> WorksSettings:
    return WorksSettings(
        overhang_most_mm=rng.choice([0.0, 0.0, 10.0, 25.0, 40.0]),
        size_scatter_share=rng.choice([0.0, 0.01, 0.02]),
        placing_mm=rng.choice([0.0, 3.0, 5.0]),
        headroom_mm=rng.choice([6.0, 13.0, 25.0]),
        tier_allowance_mm=rng.choice([0.0, 2.0, 3.5]),
        foot_edge_mm=rng.choice([0.0, 5.0, 10.0]),
        gap_biscuit_mm=rng.choice([0.0, 2.0]),
        gap_glost_mm=rng.choice([3.0, 6.0, 12.0]),
        balance_share=rng.choice([0.0, 0.1, 0.2]),
        turn_step_deg=rng.choice([0.0, 15.0, 30.0]),
        settings_most=rng.choice([1, 3, 12, 40]),
        posts_end_to_end_most=rng.choice([1, 2, 3]),
    )
