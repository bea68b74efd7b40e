"""Everything a programme sheet says: of one kiln and programme, for a load or for the kiln's usual one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from kilnpack.heat.firing import FUEL_OF
from kilnpack.heat.places import cones_by_place
from kilnpack.heat.prices import bill, bill_factor, night_share
from kilnpack.heat.ramps import RampLimit, SlowBody, ramp_limits
from kilnpack.heat.windows import hold_words
from kilnpack.model.pieces import Stage
from kilnpack.model.programmes import Atmosphere
from kilnpack.sheets.programme_curve import HourBar, clock_words, draw_programme
from kilnpack.sheets.ranges import span, told
from kilnpack.sheets.words import hours, kelvin, kilograms, signs

if TYPE_CHECKING:
    from kilnpack.heat.balance import HeatBalance
    from kilnpack.model.kilns import Energy, Kiln
    from kilnpack.model.programmes import Programme
    from kilnpack.model.works import Works
    from kilnpack.sheets.svg import Drawing

WIDTH_MM = 182.0
START_DEGC = 20.0
NO_LIMIT_K_H = 500.0
"""Limits above this are not told: no kiln of the trade goes so fast."""

SEGMENT_HEADINGS = ("no.", "to °C", "K/h", "hold", "from hour", "clock", "gas", "air ratio")
RAMP_HEADINGS = ("", "stretch", "fastest for this ware", "programme, or kiln when cooling", "")
PLACE_HEADINGS = ("place x, y, z mm", "offset", "heat work")
HOUR_HEADINGS = ("lit at", "by night", "energy costs")

ALWAYS = ("heat", "opening", "lifting", "dust")


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgrammeLoad:
    """What is fired: in words, its masses, its slowest body, its balance where the heat can be computed."""

    said: str
    ware_kg: float
    furniture_kg: float
    body: SlowBody | None
    balance: HeatBalance | None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgrammeFacts:
    """All words, tables and the picture of one programme sheet."""

    title: str
    works: str
    made: str
    summary: tuple[str, ...]
    notes: tuple[str, ...]
    picture: Drawing
    segments: tuple[tuple[str, ...], ...]
    ramps: tuple[tuple[str, ...], ...]
    ramp_words: str
    places: tuple[tuple[str, ...], ...]
    hold_words: str
    hours: tuple[tuple[str, ...], ...]
    cautions: tuple[str, ...]
    """Topics of the cautions that hold for this programme."""


def programme_facts(
    works: Works, kiln: Kiln, programme: Programme, load: ProgrammeLoad, *, lit_h: float = 6.0
) -> ProgrammeFacts:
    """Work out everything the sheet of a programme says.

    Parameters
    ----------
    load
        What is fired.
    lit_h
        Hour of the day at which the fire is lit.
    """
    balance = load.balance
    ramps = ramp_limits(works.settings, kiln, programme, load.body) if load.body else ()
    return ProgrammeFacts(
        title=f"Programme {programme.name} ({programme.code}) in {kiln.name} ({kiln.code})",
        works=works.name,
        made=works.now.strftime("%Y-%m-%d %H:%M"),
        summary=_summary(works, kiln, programme, load, lit_h),
        notes=(*load.notes, *(balance.remarks if balance else ()), *_slow_notes(ramps)),
        picture=draw_programme(programme, _bars(kiln.energy, balance, lit_h), lit_h=lit_h, width_mm=WIDTH_MM),
        segments=_segments(kiln, programme, lit_h),
        ramps=tuple(_ramp(row) for row in ramps),
        ramp_words=_ramp_words(works, load.body),
        places=_places(kiln, programme),
        hold_words=hold_words(kiln, programme),
        hours=_lighting(kiln.energy, balance, works.settings.currency),
        cautions=_cautions(kiln, programme),
    )


def _summary(works: Works, kiln: Kiln, programme: Programme, load: ProgrammeLoad, lit_h: float) -> tuple[str, ...]:
    curve = f"{hours(_length_h(programme))} by the curve ({programme.recorded_fire_h:g} h"
    lines = [
        f"Peak {programme.peak_degc:.0f} °C, {curve} recorded); the whole load in {programme.atmosphere}",
        f"For {load.said}: {kilograms(load.ware_kg)} ware, {kilograms(load.furniture_kg)} furniture and car",
    ]
    if load.balance is None:
        lines.append("Energy is not told: the kiln's lining or air does not let it be computed")
        return tuple(lines)
    balance, share = load.balance, load.balance.range_share
    charged = bill(balance, kiln.energy, start_h=lit_h)
    fitted = f"fitted to {balance.readings} meter readings" if balance.readings else "not fitted to a meter"
    lines.append(
        f"Energy about {told(charged.billed_kwh, share)} kWh ({span(charged.billed_kwh, share)}), {charged.basis}, "
        f"{fitted}; about {told(charged.money, share)} {works.settings.currency}, {told(charged.co2_kg, share)} kg CO₂"
    )
    lines.append(
        f"Highest hour: about {told(balance.peak_kw, share)} kW of {kiln.energy.connected_kw:.0f} kW connected"
    )
    return tuple(lines)


def _length_h(programme: Programme) -> float:
    total, degc = 0.0, START_DEGC
    for segment in programme.segments:
        total += abs(segment.to_degc - degc) / segment.rate_k_h + segment.hold_h
        degc = segment.to_degc
    return total


def _bars(energy: Energy, balance: HeatBalance | None, lit_h: float) -> tuple[HourBar, ...]:
    if balance is None:
        return ()
    factor = bill_factor(energy)
    tariff = energy.night_price_money_per_kwh is not None
    return tuple(
        HourBar(
            kwh=kwh * factor,
            night_share=night_share(lit_h + k, lit_h + k + 1.0, energy) if tariff else 0.0,
            said=told(kwh * factor, balance.range_share),
        )
        for k, kwh in enumerate(balance.hourly_kwh)
    )


def _segments(kiln: Kiln, programme: Programme, lit_h: float) -> tuple[tuple[str, ...], ...]:
    rows = []
    hour, degc = 0.0, START_DEGC
    for number, segment in enumerate(programme.segments, start=1):
        ratio = segment.lambda_factor or kiln.energy.lambda_factor
        rows.append(
            (
                str(number),
                f"{segment.to_degc:.0f}",
                f"{segment.rate_k_h:.0f}",
                hours(segment.hold_h) if segment.hold_h else "–",
                hours(hour),
                clock_words(lit_h + hour),
                segment.atmosphere.value,
                f"{ratio:g}" if kiln.energy.kind in FUEL_OF else "–",
            )
        )
        hour += abs(segment.to_degc - degc) / segment.rate_k_h + segment.hold_h
        degc = segment.to_degc
    return tuple(rows)


def _ramp(row: RampLimit) -> tuple[str, ...]:
    limit = f"{row.limit_k_h:.0f} K/h" if row.limit_k_h < NO_LIMIT_K_H else f"over {NO_LIMIT_K_H:.0f} K/h"
    rate = "not stated" if row.programme_k_h is None else f"{row.programme_k_h:.0f} K/h"
    sign = {True: "within", False: "! TOO FAST", None: "watch it"}[row.kept]
    return ("cooling" if row.cooling else "heating", row.said, limit, rate, sign)


def _ramp_words(works: Works, body: SlowBody | None) -> str:
    if body is None:
        return "No ware: nothing limits the ramps."
    settings = works.settings
    return (
        f"Slowest: {body.said}, {body.half_mm:g} mm to its middle, which may lag behind by "
        f"{settings.inversion_difference_k:g} K at the inversions and {settings.ramp_difference_k:g} K elsewhere "
        "(works settings). A pile counts as one slab."
    )


def _slow_notes(ramps: tuple[RampLimit, ...]) -> tuple[str, ...]:
    fast = [row for row in ramps if row.kept is False]
    return tuple(
        f"{'Cooling' if row.cooling else 'Heating'} {row.said}: {row.programme_k_h:.0f} K/h is faster than "
        f"{row.limit_k_h:.0f} K/h for the slowest ware"
        for row in fast
    )


def _places(kiln: Kiln, programme: Programme) -> tuple[tuple[str, ...], ...]:
    rows = []
    for place in cones_by_place(kiln, programme):
        at = "not read: end of the spread"
        if place.reading is not None:
            at = f"{place.reading.x_mm:.0f}, {place.reading.y_mm:.0f}, {place.reading.z_mm:.0f}"
        rows.append((at, f"{kelvin(place.offset_k)} K", signs(place.answer.text)))
    return tuple(rows)


def _lighting(energy: Energy, balance: HeatBalance | None, currency: str) -> tuple[tuple[str, ...], ...]:
    """What the energy costs lit every third hour, the cheapest marked; nothing without a night tariff."""
    if balance is None or energy.night_price_money_per_kwh is None:
        return ()
    bills = [(hour, bill(balance, energy, start_h=float(hour))) for hour in range(0, 24, 3)]
    least = min(charged.money for _, charged in bills)
    return tuple(
        (
            clock_words(hour),
            f"{charged.night_kwh / charged.billed_kwh:.0%}",
            f"{told(charged.money, balance.range_share)} {currency}{' cheapest' if charged.money == least else ''}",
        )
        for hour, charged in bills
    )


def _cautions(kiln: Kiln, programme: Programme) -> tuple[str, ...]:
    topics = [*ALWAYS]
    if programme.stage is Stage.BISCUIT:
        topics.append("raw ware")
    if kiln.energy.kind in FUEL_OF:
        topics.append("gas")
        gases = {segment.atmosphere for segment in programme.segments}
        if Atmosphere.REDUCTION in gases:
            topics.append("reduction")
    return tuple(topics)
