"""From witness cones to an offset map: what a pack bounds, and a smooth field with honest errors."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

import pytest

from kilnpack.heat.cones import cone_at, published_series
from kilnpack.heat.witness import offset_for, offset_proposal
from kilnpack.model.measured import ConePoint, ConeReading, ConeState, Measured
from kilnpack.model.pieces import Stage
from kilnpack.model.programmes import Segment

if TYPE_CHECKING:
    from kilnpack.model.works import Works

DAY = date(2026, 1, 20)
KILN = "K1"


@pytest.fixture(scope="module")
def cool(works: Works) -> Works:
    """Return the works with a programme up to 1240 degC at 60 K/h, where cones of the published series bend."""
    glost = works.programmes[0]
    return replace(works, programmes=(replace(glost, segments=(Segment(to_degc=1240.0, rate_k_h=60.0),)),))


def cone(name: str | None, state: ConeState | None, z_mm: float = 100.0, **more: object) -> ConeReading:
    """Return one cone at one height in the middle."""
    return replace(
        ConeReading(fired_on=DAY, kiln=KILN, programme="G", x_mm=575.0, y_mm=575.0, z_mm=z_mm, cone=name, state=state),
        **more,  # type: ignore[arg-type]
    )


def measured(works: Works, *rows: ConeReading, points: tuple[ConePoint, ...] = ()) -> Works:
    """Return the works with these readings."""
    return replace(works, measured=Measured(cones=rows, cone_points=points))


@pytest.mark.source("cone-chart", "cone 7 at 60 K/h is down at 1239 degC")
def test_offset_is_end_point_less_programme(cool: Works) -> None:
    """On a steady 60 K/h to 1240 degC, cone 7 (1239 degC) wants about -1 K, cone 8 (1249 degC) about +9 K (fit 4 K)."""
    programme = cool.programmes[0]
    wanted = {"7": -1.0, "8": 9.0}
    for one in published_series():
        if one.name in wanted:
            assert offset_for(programme, one) == pytest.approx(wanted[one.name], abs=4.5)


def test_a_pack_lies_between_its_cones(cool: Works) -> None:
    """Cone 7 down and cone 8 standing: the place is between, and no further off than half their step."""
    pack = (cone("7", ConeState.DOWN), cone("8", ConeState.STANDING))
    proposal, words = offset_proposal(measured(cool, *pack), cool.kiln(KILN), Stage.GLOST)
    assert proposal is not None
    assert words == ()
    seven, eight = (offset_for(cool.programmes[0], one) for one in published_series() if one.name in "78")
    assert proposal.plain_k == pytest.approx((seven + eight) / 2.0, abs=0.1)
    assert 0.0 < proposal.readings[0].offset_k < eight
    assert proposal.left_out_k is None
    assert cone_at(cool.programmes[0], proposal.plain_k).cone in {"7", "8"}


def test_a_bending_cone_tells_its_place(cool: Works) -> None:
    """A bending cone 8 outranks bounds; the map keeps most of it, and knows it to some 10 K."""
    eight = next(offset_for(cool.programmes[0], one) for one in published_series() if one.name == "8")
    proposal, _ = offset_proposal(measured(cool, cone("8", ConeState.BENDING)), cool.kiln(KILN), Stage.GLOST)
    assert proposal is not None
    assert proposal.readings[0].offset_k == pytest.approx(0.85 * eight, abs=0.15 * eight)
    assert proposal.deviations_k[0] < 5.0


def test_what_bounds_nothing_is_said(cool: Works) -> None:
    """Cones that are all down, that contradict each other, or whose kind is far off place nothing."""
    rows = (
        cone("7", ConeState.DOWN),
        cone("8", ConeState.DOWN, 500.0),
        cone("7", ConeState.STANDING, 500.0),
        cone("019", ConeState.DOWN, 900.0),
        cone("8", ConeState.STANDING, 900.0),
    )
    proposal, words = offset_proposal(measured(cool, *rows), cool.kiln(KILN), Stage.GLOST)
    assert proposal is None
    assert len(words) == 3
    assert "one side only" in words[0]
    assert "contradict" in words[1]
    assert offset_proposal(cool, cool.kiln(KILN), Stage.GLOST) == (None, ())


def test_an_own_series_is_used(cool: Works) -> None:
    """Cones of a works' own series are fitted and read like the published ones."""
    points = tuple(
        ConePoint(series="own", cone="A", rate_k_h=rate, end_point_degc=degc)
        for rate, degc in ((15.0, 1215.0), (60.0, 1250.0), (150.0, 1270.0))
    )
    row = cone("A", ConeState.BENDING, series="own")
    proposal, _ = offset_proposal(measured(cool, row, points=points), cool.kiln(KILN), Stage.GLOST)
    assert proposal is not None
    assert proposal.plain_k == pytest.approx(10.0, abs=4.0)


def test_a_slope_over_height_is_found_and_foretold(cool: Works) -> None:
    """Read from -8 K below to +8 K above at five heights in three firings, the map follows, also a place left out."""
    heights = (100.0, 450.0, 800.0, 1150.0, 1500.0)
    rows = [
        cone(None, None, z, read_degc=1240.0 + 16.0 * (z - 800.0) / 1400.0 + wobble, fired_on=date(2026, 1, 20 + k))
        for k, wobble in enumerate((-1.0, 0.0, 1.0))
        for z in heights
    ]
    proposal, _ = offset_proposal(measured(cool, *rows), cool.kiln(KILN), Stage.GLOST)
    assert proposal is not None
    assert proposal.used == 15
    for reading, z in zip(proposal.readings, heights, strict=True):
        assert reading.offset_k == pytest.approx(16.0 * (z - 800.0) / 1400.0, abs=1.0)
    assert proposal.error_k < 1.5
    assert (proposal.left_out_k or 99.0) < 0.6 * proposal.plain_k


def test_programmes_of_another_stage_are_passed_over(cool: Works) -> None:
    """A glost reading says nothing of the decoration map."""
    works = measured(cool, cone("8", ConeState.BENDING))
    assert offset_proposal(works, works.kiln(KILN), Stage.DECORATION) == (None, ())
