"""From rows to what a works measured."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, cast

from kilnpack.model.kilns import EnergyKind
from kilnpack.model.measured import ConePoint, ConeReading, ConeState, CoolingReading, Measured, MeterReading
from kilnpack.shared_tables import table
from kilnpack.words import listed
from kilnpack.works_folder.reading import misfilled

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from datetime import date

    from kilnpack.errors import Finding
    from kilnpack.model.kilns import Kiln
    from kilnpack.works_folder.reading import Reading
    from kilnpack.works_folder.rows import Row

PUBLISHED = "self-supporting"
"""Series of cones that comes with the program."""
NOT_ANSWERED = ("14",)
"""Cones of the published table whose fit is not good enough to be read by (docs/method/heat.md)."""
LEAST_RATES = 3


def build_measured(reading: Reading, kilns: Iterable[Kiln]) -> Measured:
    """Return what was measured in the kilns that could be built; note rows that contradict themselves."""
    by_code = {kiln.code: kiln for kiln in kilns}
    for name, faults in (
        ("meter_readings", _meter_faults),
        ("cone_readings", _cone_faults),
        ("cooling_readings", _fired_faults),
    ):
        rows = [row for row in reading.sound_rows(name) if row.text("kiln") in by_code]
        reading.add(fault for row in rows for fault in faults(row, by_code[row.text("kiln")]))
    points = tuple(_point(row) for row in reading.sound_rows("cone_series"))
    reading.add(_series_faults(reading, points))
    known = set(by_code)
    return Measured(
        meter=tuple(_meter(row) for row in reading.sound_rows("meter_readings") if row.text("kiln") in known),
        cones=tuple(_cone(row) for row in reading.sound_rows("cone_readings") if row.text("kiln") in known),
        coolings=tuple(_cooling(row) for row in reading.sound_rows("cooling_readings") if row.text("kiln") in known),
        cone_points=points,
    )


def _fired_faults(row: Row, kiln: Kiln) -> Iterator[Finding]:
    """A reading is of a programme that its kiln fires."""
    if row.text("programme") not in kiln.programmes:
        yield row.fault("programme", row.text("programme"), f"one that {kiln.code} fires: {listed(kiln.programmes)}")


def _meter_faults(row: Row, kiln: Kiln) -> Iterator[Finding]:
    """The energy is there once, cubic metres only of gas, and a warm start is told whole."""
    yield from _fired_faults(row, kiln)
    if row.get("metered_kwh") is not None:
        yield from misfilled(row, (), ("metered_m3", "gross_kwh_per_m3"), "beside metered_kwh")
    elif row.get("metered_m3") is None:
        yield row.fault("metered_kwh", "", "a value, or metered_m3")
    elif kiln.energy.kind is EnergyKind.ELECTRIC:
        yield row.fault("metered_m3", row.get("metered_m3"), f"metered_kwh; {kiln.code} is electric")
    else:
        yield from misfilled(row, ("gross_kwh_per_m3",), (), "beside metered_m3")
    used = ("stood_h",) if row.get("before") is not None else ()
    yield from misfilled(row, used, () if used else ("stood_h",), "with before" if used else "without before")


def _cone_faults(row: Row, kiln: Kiln) -> Iterator[Finding]:
    """A place is in the chamber's height; a cone has its state, and is not there beside a temperature."""
    yield from _fired_faults(row, kiln)
    if row.number_at("z_mm") > kiln.usable_height_mm:
        yield row.fault("z_mm", row.get("z_mm"), f"at most usable_height_mm {kiln.usable_height_mm:g}")
    if row.get("read_degc") is not None:
        yield from misfilled(row, (), ("cone", "state"), "beside read_degc")
    elif row.get("cone") is None:
        yield row.fault("cone", "", "a value, or read_degc")
    else:
        yield from misfilled(row, ("state",), (), "beside cone")


def _series_faults(reading: Reading, points: Iterable[ConePoint]) -> Iterator[Finding]:
    """A cone has three rates and none twice; a reading names a cone of a series that is there."""
    if not reading.is_whole("cone_series"):
        return
    rates: dict[tuple[str, str], list[float]] = defaultdict(list)
    for row in reading.sound_rows("cone_series"):
        at = rates[row.text("series"), row.text("cone")]
        if row.number_at("rate_k_h") in at:
            yield row.fault("rate_k_h", row.get("rate_k_h"), "each rate of a cone once")
        at.append(row.number_at("rate_k_h"))
    for row in reading.sound_rows("cone_series"):
        found = len(set(rates[row.text("series"), row.text("cone")]))
        if found < LEAST_RATES:
            yield row.fault("cone", row.text("cone"), f"{LEAST_RATES} rates of it in the table; there are {found}")
    yield from _unknown_cones(reading, points)


def _unknown_cones(reading: Reading, points: Iterable[ConePoint]) -> Iterator[Finding]:
    known: dict[str, list[str]] = defaultdict(list)
    for line in table("cones"):
        if line["series"] == PUBLISHED and line["cone"] not in (*known[PUBLISHED], *NOT_ANSWERED):
            known[PUBLISHED].append(line["cone"])
    for point in points:
        known[point.series].append(point.cone)
    for row in reading.sound_rows("cone_readings"):
        series, cone = row.text("series"), row.optional_text("cone")
        if cone is not None and series not in known:
            yield row.fault("series", series, f"one of {listed(known)}")
        elif cone is not None and cone not in known[series]:
            yield row.fault("cone", cone, f"a cone of series {series}: {listed(dict.fromkeys(known[series]), 40)}")


def _meter(row: Row) -> MeterReading:
    return MeterReading(
        fired_on=cast("date", row.get("fired_on")), kiln=row.text("kiln"), programme=row.text("programme"),
        ware_kg=row.number_at("ware_kg"), furniture_kg=row.number_at("furniture_kg"),
        metered_kwh=row.optional_number("metered_kwh"), metered_m3=row.optional_number("metered_m3"),
        gross_kwh_per_m3=row.optional_number("gross_kwh_per_m3"), before=row.optional_text("before"),
        stood_h=row.optional_number("stood_h"),
    )  # fmt: skip


def _cone(row: Row) -> ConeReading:
    state = row.optional_text("state")
    return ConeReading(
        fired_on=cast("date", row.get("fired_on")), kiln=row.text("kiln"), programme=row.text("programme"),
        x_mm=row.number_at("x_mm"), y_mm=row.number_at("y_mm"), z_mm=row.number_at("z_mm"),
        cone=row.optional_text("cone"), state=None if state is None else ConeState(state),
        series=row.text("series"), read_degc=row.optional_number("read_degc"),
    )  # fmt: skip


def _cooling(row: Row) -> CoolingReading:
    return CoolingReading(
        fired_on=cast("date", row.get("fired_on")), kiln=row.text("kiln"), programme=row.text("programme"),
        ware_kg=row.number_at("ware_kg"), furniture_kg=row.number_at("furniture_kg"),
        after_h=row.number_at("after_h"), chamber_degc=row.number_at("chamber_degc"),
    )  # fmt: skip


def _point(row: Row) -> ConePoint:
    return ConePoint(
        series=row.text("series"), cone=row.text("cone"), rate_k_h=row.number_at("rate_k_h"),
        end_point_degc=row.number_at("end_point_degc"),
    )  # fmt: skip
