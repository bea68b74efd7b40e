"""How long a fired kiln takes to cool, lining and load together.

A forecast is advice until it has been held against recorded coolings. The thermometer decides; no figure here says
that a kiln may be opened.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from kilnpack.errors import Finding
from kilnpack.heat.curve import Steps
from kilnpack.heat.firing import contents_j
from kilnpack.heat.lining import LiningState, lining_of, run
from kilnpack.heat.lining_kernel import FLOATS
from kilnpack.heat.materials import GRID_FIRST_DEGC, air_flow_w_k
from kilnpack.model.kilns import CoolingWay
from kilnpack.units import SECONDS_PER_HOUR

if TYPE_CHECKING:
    from collections.abc import Mapping

    from kilnpack.heat.materials import Floats
    from kilnpack.model.kilns import Kiln
    from kilnpack.model.programmes import Programme

STEP_S = 300.0
MOST_H = 240.0
FORECAST_DIFFERS_SHARE = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class CoolingForecast:
    """How a kiln cools from the state it is left in.

    `hours_h` is None where the temperature was not reached within `within_h`. `curve` holds (hours, degC) about every
    half hour; `end` is the state at the last of them, with the lining still hotter than the chamber or cooler.
    """

    to_degc: float
    hours_h: float | None
    within_h: float
    curve: tuple[tuple[float, float], ...]
    end: LiningState


def cooling_hours(
    kiln: Kiln,
    start: LiningState,
    contents_kg: Mapping[str, float],
    to_degc: float,
    *,
    within_h: float = MOST_H,
) -> CoolingForecast:
    """Forecast how a kiln cools down to a temperature.

    Parameters
    ----------
    kiln
        With its lining and how it cools: sealed, by damper or by forced air, by temperature band.
    start
        Chamber and lining as the firing left them (`HeatBalance.end`).
    contents_kg
        Ware and furniture by material, kg; all of it cools with the chamber.
    to_degc
        Where to stop, such as the works' limit for drawing the car or unloading.
    within_h
        How far to look.

    Raises
    ------
    InputFaulty
        The kiln states no lining or an unknown material.
    """
    count = int(np.ceil(within_h * SECONDS_PER_HOUR / STEP_S))
    curve = Steps(
        times_s=np.linspace(0.0, count * STEP_S, count + 1),
        degc=np.zeros(count + 1),
        mode=np.full(count, FLOATS, dtype=np.int64),
        air_ratio=np.full(count, np.nan),
        heating=0,
    )
    found = run(
        lining_of(kiln), curve, load=contents_j(contents_kg), start=start, bands=_bands(kiln), stop_degc=to_degc
    )
    hours = found.times_s / SECONDS_PER_HOUR
    every = max(1, round(SECONDS_PER_HOUR / 2.0 / STEP_S))
    shown = sorted({*range(0, len(hours), every), len(hours) - 1})
    return CoolingForecast(
        to_degc=to_degc,
        hours_h=_crossing(hours, found.chamber_degc, to_degc),
        within_h=within_h,
        curve=tuple((float(hours[i]), float(found.chamber_degc[i])) for i in shown),
        end=found.end,
    )


def left_standing(kiln: Kiln, end: LiningState, contents_kg: Mapping[str, float], idle_h: float) -> LiningState:
    """Return the state of a kiln that stood so many hours after a firing, its contents still inside."""
    return cooling_hours(kiln, end, contents_kg, -273.0, within_h=idle_h).end


def in_kiln_degc(kiln: Kiln) -> float:
    """Return how cool the chamber must be before it is emptied: to draw the car where there is one, else to unload."""
    cooling = kiln.cooling
    return cooling.draw_degc if kiln.cars and cooling.draw_degc is not None else cooling.unload_degc


def _bands(kiln: Kiln) -> Floats:
    """Return threshold, air and fastest fall of each band, hottest first; leak air where no band holds."""
    leak_nm3_h = kiln.energy.leak_air_nm3_h
    bands = () if kiln.cooling.way is CoolingWay.SEALED else kiln.cooling.bands
    rows = [
        (band.above_degc, leak_nm3_h + band.air_nm3_h, band.greatest_k_h)
        for band in sorted(bands, key=lambda band: -band.above_degc)
    ]
    rows.append((GRID_FIRST_DEGC, leak_nm3_h, None))
    return np.array(
        [
            [above for above, _, _ in rows],
            [air_flow_w_k(air) for _, air, _ in rows],
            [np.inf if fastest is None else fastest / SECONDS_PER_HOUR for _, _, fastest in rows],
        ]
    )


def _crossing(hours: Floats, degc: Floats, to_degc: float) -> float | None:
    """Return when the falling curve passes a temperature, on a straight line between steps."""
    if degc[0] <= to_degc:
        return 0.0
    if degc[-1] > to_degc:
        return None
    at = int(np.argmax(degc <= to_degc))
    share = (degc[at - 1] - to_degc) / (degc[at - 1] - degc[at])
    return float(hours[at - 1] + share * (hours[at] - hours[at - 1]))


def recorded_cool_h(programme: Programme, contents_kg: float) -> float:
    """Return the programme's recorded hours of cooling scaled by the mass loaded (rule T3)."""
    if programme.recorded_kg <= 0.0:
        return programme.recorded_cool_h
    return programme.recorded_cool_h * contents_kg / programme.recorded_kg


def cooling_finding(programme: Programme, forecast: CoolingForecast, recorded_h: float) -> Finding | None:
    """Return a finding where forecast and record differ by more than 30 %, else None."""
    if forecast.hours_h is not None and abs(forecast.hours_h - recorded_h) <= FORECAST_DIFFERS_SHARE * recorded_h:
        return None
    said = f"over {forecast.within_h:g} h" if forecast.hours_h is None else f"{forecast.hours_h:.1f} h"
    return Finding(
        file=f"programme {programme.code}",
        row=None,
        field="recorded_cool_h",
        found=f"{recorded_h:.1f} h recorded, {said} to {forecast.to_degc:g} degC forecast",
        wanted="within 30 % of each other: check lining, cooling air and record; the thermometer decides",
    )
