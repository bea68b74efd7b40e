"""How fast ware may go: the closed form, bodies by thickness and stacking, and what a programme does beside it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from kilnpack.heat.ramps import (
    DIFFUSIVITY_M2_S,
    SlowBody,
    fastest_fall_k_h,
    half_thickness_mm,
    ramp_limits,
    rate_limit_k_h,
    slowest_of_load,
    slowest_of_programme,
)
from kilnpack.model.kilns import AirBand, Cooling, CoolingWay
from kilnpack.model.loads import BodyForm
from kilnpack.model.pieces import Stacking, StackWay, Stage
from kilnpack.model.programmes import Segment
from kilnpack.model.settings import WorksSettings

if TYPE_CHECKING:
    from kilnpack.model.kilns import Kiln
    from kilnpack.model.loads import Load
    from kilnpack.model.programmes import Programme
    from kilnpack.model.works import Works


@pytest.mark.source("carslaw-jaeger", "slab with linearly rising faces, long times")
def test_the_middle_of_a_slab_lags_as_said() -> None:
    """A slab of 40 mm heated at the limit for 10 K, marched by explicit differences, lags 10 K in its middle."""
    half_mm, wanted_k = 20.0, 10.0
    rate_k_s = rate_limit_k_h(half_mm, wanted_k) / 3600.0
    cells, half_m = 21, half_mm / 1000.0
    dx = 2.0 * half_m / (cells - 1)
    dt = 0.4 * dx**2 / DIFFUSIVITY_M2_S
    temperature = np.zeros(cells)
    face = 0.0
    for _ in range(int(3.0 * half_m**2 / DIFFUSIVITY_M2_S / dt)):
        face += rate_k_s * dt
        temperature[1:-1] += DIFFUSIVITY_M2_S * dt / dx**2 * np.diff(temperature, 2)
        temperature[0] = temperature[-1] = face
    assert face - temperature[cells // 2] == pytest.approx(wanted_k, rel=0.01)


def test_stacking_makes_a_body_slower(works: Works) -> None:
    """A wall of 4 mm: 2 mm alone, 4 boxed, 6 for three nested, half of 5 x 9 mm for a pile of five."""
    shape = replace(
        works.shapes[0],
        stackings=(Stacking(way=StackWay.PILED, step_mm=9.0, most_pieces=5, load_limit_factor=5.0),),
    )

    def half(way: StackWay | None, pieces: int) -> float:
        return half_thickness_mm(shape, BodyForm(code="f", shape="cup", stage=Stage.BISCUIT, way=way, pieces=pieces))

    assert [half(None, 1), half(StackWay.BOXED, 2), half(StackWay.NESTED, 3), half(StackWay.PILED, 5)] == [
        2.0,
        4.0,
        6.0,
        22.5,
    ]


def test_the_slowest_body_is_found(works: Works, load: Load) -> None:
    """Of a load what stands in it counts; of a programme what its products may make, piled in biscuit only."""
    found = slowest_of_load(works, load)
    assert found is not None
    assert found.half_mm == 2.0
    assert slowest_of_load(works, replace(load, settings=())) is None
    piled = Stacking(way=StackWay.PILED, step_mm=9.0, most_pieces=5, load_limit_factor=5.0)
    shape = replace(works.shapes[0], stackings=(piled,))
    glost = works.programmes[0]
    biscuit = replace(glost, code="B", stage=Stage.BISCUIT)
    both = replace(works, shapes=(shape,), programmes=(glost, biscuit))
    raw, glazed = slowest_of_programme(both, biscuit), slowest_of_programme(both, glost)
    assert raw is not None
    assert raw.half_mm == 22.5
    assert "piled 5 high" in raw.said
    assert glazed is not None
    assert glazed.half_mm == 2.0
    assert slowest_of_programme(replace(both, products=()), glost) is None


def test_limits_of_a_biscuit(kiln: Kiln, glost: Programme) -> None:
    """Drying, quartz, elsewhere when heating; quartz and cristobalite when cooling; each with the rate it meets."""
    segments = (Segment(to_degc=120.0, rate_k_h=40.0), Segment(to_degc=700.0, rate_k_h=80.0),
                Segment(to_degc=960.0, rate_k_h=120.0))  # fmt: skip
    biscuit = replace(glost, stage=Stage.BISCUIT, segments=segments)
    bands = (AirBand(above_degc=400.0, air_nm3_h=50.0, greatest_k_h=60.0), AirBand(above_degc=60.0, air_nm3_h=90.0))
    blown = replace(kiln, cooling=Cooling(way=CoolingWay.FORCED, bands=bands))
    rows = ramp_limits(WorksSettings(), blown, biscuit, SlowBody(half_mm=22.5, said="pile"))
    assert [(row.cooling, row.programme_k_h) for row in rows] == [
        (False, pytest.approx(40.0)),
        (False, pytest.approx(80.0)),
        (False, pytest.approx(120.0)),
        (True, 60.0),
        (True, None),
    ]
    assert [row.kept for row in rows] == [True, False, True, True, None]
    assert rows[1].limit_k_h == pytest.approx(2 * 5e-7 * 10.0 / 0.0225**2 * 3600.0)


def test_a_cool_programme_meets_no_quartz(kiln: Kiln, glost: Programme) -> None:
    """Up to 400 degC there is no quartz to pass; a sealed kiln says nothing of its fall."""
    cool = replace(glost, segments=(Segment(to_degc=400.0, rate_k_h=100.0),))
    rows = ramp_limits(WorksSettings(), kiln, cool, SlowBody(half_mm=2.0, said="wall"))
    assert [row.said for row in rows] == ["through cristobalite, 226 °C", "elsewhere", "through cristobalite, 226 °C"]
    assert rows[-1].programme_k_h is None
    assert fastest_fall_k_h(kiln, 100.0, 200.0) is None
