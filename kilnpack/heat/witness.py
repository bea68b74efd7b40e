"""From witness cones to an offset map: what each place was, then a smooth field through the places.

A cone that is down says the place was at least so hot, one that stands that it was not; a bending one that it was just
there. What a place was lies between them. The field is a + b u + c v + d w + e w^2 over the scaled place, by least
squares with a prior that knows no pattern but that offsets are some 10 K: few readings give a flat map.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from math import fsum
from typing import TYPE_CHECKING

import numpy as np

from kilnpack.heat.cones import cone_series, dose, published_series
from kilnpack.heat.curve import pieces
from kilnpack.heat.fitting import rms
from kilnpack.model.kilns import OffsetReading
from kilnpack.model.measured import ConeState
from kilnpack.model.pieces import Stage  # noqa: TC001 - types of fields are read at run time to save them
from kilnpack.shapes.outlines import region_polygon

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from kilnpack.heat.cones import Cone
    from kilnpack.heat.materials import Floats
    from kilnpack.model.kilns import Kiln
    from kilnpack.model.measured import ConeReading
    from kilnpack.model.programmes import Programme
    from kilnpack.model.works import Works

WIDEST_K = 200.0
"""No place of a kiln is looked for further from the programme."""
BENDING_K = 5.0
INSTRUMENT_K = 3.0
LEAST_K = 3.0
"""What a bending cone, another instrument and any reading at all may be off by (own proposal)."""
PRIOR_K = np.array([10.0, 6.0, 6.0, 10.0, 6.0])
"""Deviation of the mean, across, deep, over height, and its bend, before any reading (own proposal)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceReading:
    """What the cones of one firing say of one place; `half_k` is how far it may be off."""

    at_mm: tuple[float, float, float]
    offset_k: float
    half_k: float


@dataclass(frozen=True, slots=True, kw_only=True)
class OffsetProposal:
    """A smooth offset map for a kiln and stage at the places that were read, with the deviation of each.

    `error_k` is what the readings still differ by, `left_out_k` the same where a place is foretold by the others,
    `plain_k` without any map.
    """

    kiln: str
    stage: Stage
    readings: tuple[OffsetReading, ...]
    deviations_k: tuple[float, ...]
    used: int
    error_k: float
    left_out_k: float | None
    plain_k: float


def offset_proposal(works: Works, kiln: Kiln, stage: Stage) -> tuple[OffsetProposal | None, tuple[str, ...]]:
    """Propose the offset map of a stage from the works' readings, and say which readings told nothing.

    Returns
    -------
    tuple
        The proposal, None where no reading places anything; words for the readings left aside.
    """
    rows = [
        row for row in works.measured.cones if row.kiln == kiln.code and works.programme(row.programme).stage is stage
    ]
    found, words = place_readings(works, rows)
    if not found:
        return None, words
    scale = _scaling(kiln)
    places = sorted({reading.at_mm for reading in found}, key=lambda at: (at[2], at[1], at[0]))
    values, deviations = _field(found, places, scale)
    left_out = _left_out_k(found, places, scale)
    return (
        OffsetProposal(
            kiln=kiln.code,
            stage=stage,
            readings=tuple(
                OffsetReading(x_mm=x, y_mm=y, z_mm=z, offset_k=round(value, 1))
                for (x, y, z), value in zip(places, values, strict=True)
            ),
            deviations_k=tuple(deviations),
            used=len(found),
            error_k=rms(values[places.index(reading.at_mm)] - reading.offset_k for reading in found),
            left_out_k=left_out,
            plain_k=rms(reading.offset_k for reading in found),
        ),
        words,
    )


def place_readings(works: Works, rows: Sequence[ConeReading]) -> tuple[list[PlaceReading], tuple[str, ...]]:
    """Return what each pack of cones and each instrument says of its place, and words for what says nothing."""
    cones = _series_of(works)
    packs: dict[tuple[object, ...], list[ConeReading]] = defaultdict(list)
    for row in rows:
        packs[row.fired_on, row.programme, row.x_mm, row.y_mm, row.z_mm, row.cone is None].append(row)
    found: list[PlaceReading] = []
    words: list[str] = []
    for pack in packs.values():
        first = pack[0]
        at_mm = (first.x_mm, first.y_mm, first.z_mm)
        programme = works.programme(first.programme)
        if first.read_degc is not None:
            mean = fsum(row.read_degc or 0.0 for row in pack) / len(pack)
            found.append(PlaceReading(at_mm=at_mm, offset_k=mean - programme.peak_degc, half_k=INSTRUMENT_K))
            continue
        between = _between(programme, pack, cones)
        if between is None:
            words.append(f"{first.kiln} {first.fired_on} at {at_mm[0]:g}, {at_mm[1]:g}, {at_mm[2]:g} mm: {_why(pack)}")
        else:
            found.append(PlaceReading(at_mm=at_mm, offset_k=between[0], half_k=max(LEAST_K, between[1])))
    return found, tuple(words)


def _why(pack: Sequence[ConeReading]) -> str:
    if len({row.state for row in pack}) > 1:
        return "cones contradict each other, or are far from the programme; left aside"
    return f"every cone is {pack[0].state}: the place is bounded on one side only; left aside"


def _series_of(works: Works) -> Mapping[tuple[str, str], Cone]:
    """Return every cone that may be named, by series and number."""
    published = {(cone.series, cone.name): cone for cone in published_series()}
    points = [
        {
            "series": point.series,
            "cone": point.cone,
            "rate_k_h": str(point.rate_k_h),
            "end_point_degc": str(point.end_point_degc),
            "source": "works",
        }
        for point in works.measured.cone_points
    ]
    for series in {point.series for point in works.measured.cone_points}:
        published |= {(series, cone.name): cone for cone in cone_series(points, series)}
    return published


def _between(
    programme: Programme, pack: Sequence[ConeReading], cones: Mapping[tuple[str, str], Cone]
) -> tuple[float, float] | None:
    """Return middle and half width of what a pack allows, None where it bounds one side only or contradicts itself."""
    ends: dict[ConeState, list[float]] = defaultdict(list)
    for row in pack:
        cone = cones.get((row.series, row.cone or ""))
        if cone is None or row.state is None:
            continue
        offset_k = offset_for(programme, cone)
        if abs(offset_k) < WIDEST_K - 1.0:  # a cone far from the programme bounds nothing
            ends[row.state].append(offset_k)
    if ends[ConeState.BENDING]:
        middle = fsum(ends[ConeState.BENDING]) / len(ends[ConeState.BENDING])
        return middle, BENDING_K
    if not ends[ConeState.DOWN] or not ends[ConeState.STANDING]:
        return None
    low, high = max(ends[ConeState.DOWN]), min(ends[ConeState.STANDING])
    return ((low + high) / 2.0, (high - low) / 2.0) if low < high else None


def offset_for(programme: Programme, cone: Cone) -> float:
    """Return how much hotter than the programme a place must be for a cone to go just down there, K."""
    parts = pieces(programme)
    low, high = -WIDEST_K, WIDEST_K
    while high - low > 0.01:
        middle = (low + high) / 2.0
        if dose(parts, cone.activation_kj_mol, cone.log_rate, offset_k=middle) < 1.0:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0


def _scaling(kiln: Kiln) -> tuple[Floats, Floats]:
    """Return the middle of the chamber and half its size, mm."""
    left, front, right, back = region_polygon(kiln.chamber).bounds
    middle = np.array([(left + right) / 2.0, (front + back) / 2.0, kiln.usable_height_mm / 2.0])
    return middle, np.array([(right - left) / 2.0, (back - front) / 2.0, kiln.usable_height_mm / 2.0])


def _basis(places: Iterable[tuple[float, float, float]], scale: tuple[Floats, Floats]) -> Floats:
    middle, half = scale
    at = (np.array(list(places)) - middle) / half
    return np.column_stack([np.ones(len(at)), at, at[:, 2] ** 2 - 1.0 / 3.0])


def _field(
    found: Sequence[PlaceReading], places: Sequence[tuple[float, float, float]], scale: tuple[Floats, Floats]
) -> tuple[list[float], list[float]]:
    """Return the smooth field at some places and its standard deviation, K."""
    weights = np.array([1.0 / reading.half_k for reading in found])
    rows = _basis((reading.at_mm for reading in found), scale) * weights[:, None]
    covariance = np.linalg.inv(rows.T @ rows + np.diag(PRIOR_K**-2.0))
    wanted = np.array([reading.offset_k for reading in found]) * weights
    at = _basis(places, scale)
    values = at @ (covariance @ (rows.T @ wanted))
    deviations = np.sqrt(np.einsum("ij,jk,ik->i", at, covariance, at))
    return values.tolist(), deviations.tolist()


def _left_out_k(
    found: Sequence[PlaceReading], places: Sequence[tuple[float, float, float]], scale: tuple[Floats, Floats]
) -> float | None:
    """Foretell the readings of each place by those of the others."""
    if len(places) < 2:
        return None
    misses = []
    for place in places:
        others = [reading for reading in found if reading.at_mm != place]
        (value,), _ = _field(others, [place], scale)
        misses += [value - reading.offset_k for reading in found if reading.at_mm == place]
    return rms(misses)
