"""How long each part of a firing takes: hands, fire, cooling to the kiln's two limits, cleaning.

Hours of cooling are what was recorded for the programme, stretched where the load is heavier than the recorded one. A
lighter load is not promised sooner: most of the heat sits in the lining. Where a car may be drawn hot the recorded
hours run to the draw, and the hours outside follow; otherwise all of them pass in the kiln. These are forecasts: the
thermometer decides when a kiln is opened.

References
----------
`common-practice`: recorded hours scaled by mass, two limits, seeds for handling times, cleaning after a glost.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from kilnpack.model.kilns import ChamberKind
from kilnpack.model.pieces import Stage
from kilnpack.units import h_from_s

if TYPE_CHECKING:
    from kilnpack.model.kilns import Kiln
    from kilnpack.model.programmes import Programme
    from kilnpack.model.settings import WorksSettings


@dataclass(frozen=True, slots=True, kw_only=True)
class Cycle:
    """Person hours of the crew, and hours of fire and cooling, of one firing."""

    load_person_h: float
    fire_h: float
    cool_in_kiln_h: float
    cool_outside_h: float
    unload_person_h: float
    cleaning_person_h: float


def has_cars(kiln: Kiln) -> bool:
    """Whether the kiln is loaded on cars outside."""
    return kiln.kind is ChamberKind.CAR and bool(kiln.cars)


def is_drawn_hot(kiln: Kiln) -> bool:
    """Whether a car leaves the kiln before it may be unloaded by hand."""
    return has_cars(kiln) and kiln.cooling.draw_degc is not None


def fire_h(programme: Programme) -> float:
    """Return the recorded hours of the fire, or those of the curve's heating where none were recorded."""
    if programme.recorded_fire_h > 0:
        return programme.recorded_fire_h
    hours, now_degc, peak = 0.0, 20.0, programme.peak_degc
    for segment in programme.segments:
        if now_degc >= peak > segment.to_degc:
            break
        hours += abs(segment.to_degc - now_degc) / segment.rate_k_h + segment.hold_h
        now_degc = segment.to_degc
    return hours


def cooling_h(kiln: Kiln, programme: Programme, contents_kg: float) -> tuple[float, float]:
    """Return the hours of cooling in the kiln and outside for a mass of ware and furniture."""
    stretch = max(1.0, contents_kg / programme.recorded_kg) if programme.recorded_kg > 0 else 1.0
    inside, outside = programme.recorded_cool_h * stretch, programme.cool_outside_h * stretch
    if is_drawn_hot(kiln):
        return inside, outside
    return (inside + outside, 0.0) if has_cars(kiln) else (inside, 0.0)


def handling_person_h(settings: WorksSettings, stage: Stage, pieces: int, shelves: int) -> float:
    """Return the person hours to load so many pieces and shelves with their posts (rule T7)."""
    piece_s = settings.raw_handling_s if stage is Stage.BISCUIT else settings.glazed_handling_s
    return h_from_s(pieces * piece_s + shelves * settings.shelf_handling_s)


def cycle_of(
    settings: WorksSettings, kiln: Kiln, programme: Programme, *, pieces: int, shelves: int, contents_kg: float
) -> Cycle:
    """Return the hours of a firing of so many pieces on so many shelves, of so many kg in all."""
    loading = handling_person_h(settings, programme.stage, pieces, shelves)
    inside, outside = cooling_h(kiln, programme, contents_kg)
    cleaning = settings.cleaning_h_per_shelf * shelves if programme.stage is Stage.GLOST else 0.0
    return Cycle(
        load_person_h=loading,
        fire_h=fire_h(programme),
        cool_in_kiln_h=inside,
        cool_outside_h=outside,
        unload_person_h=loading * settings.unloading_share,
        cleaning_person_h=cleaning,
    )
