"""Hold the heat model against closed forms, published tables, reference libraries and one worked firing.

python3 run.py bench heat

Prints value, reference, source and deviation of each case; exit code 1 if one is out.
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from typing import TYPE_CHECKING

from benchmarks.heat_tables import table_rows
from benchmarks.heat_wall import Row, wall_rows
from kilnpack.heat.cones import cone_at
from kilnpack.heat.cooling import cooling_hours
from kilnpack.heat.firing import empty_kwh, fire
from kilnpack.heat.reactions import Chemistry
from kilnpack.model.geometry import Rectangle
from kilnpack.model.kilns import (
    AirBand,
    ChamberKind,
    Cooling,
    CoolingWay,
    Energy,
    EnergyKind,
    Kiln,
    LiningLayer,
    WallKind,
)
from kilnpack.model.pieces import Stage
from kilnpack.model.programmes import Atmosphere, Programme, Segment

if TYPE_CHECKING:
    from kilnpack.heat.balance import HeatBalance

WARE_KG = {"porcelain": 180.0}
FURNITURE_KG = {"silicon carbide": 200.0, "mullite": 60.0}
GLOST = Chemistry(melting_kj_kg=80.0)
WORKED = "own-calculation, worked case"


def worked_kiln(kind: EnergyKind) -> Kiln:
    """Return the kiln of the worked case: 1.15 x 1.15 x 1.60 m inside, 325 mm of lining."""
    layers = (
        LiningLayer(material="insulating brick 1540", thickness_mm=125.0),
        LiningLayer(material="insulating brick 1260", thickness_mm=125.0),
        LiningLayer(material="ceramic fibre blanket 160", thickness_mm=75.0),
    )
    return Kiln(
        code="worked",
        name="worked case",
        kind=ChamberKind.FRONT,
        wall=WallKind.ELECTRIC,
        chamber=Rectangle(w_mm=1150.0, d_mm=1150.0),
        usable_height_mm=1600.0,
        places=(),
        programmes=("glost",),
        top_degc=1450.0,
        lining=layers,
        energy=Energy(kind=kind, connected_kw=130.0, price_money_per_kwh=0.2, co2_kg_per_kwh=0.3),
        usual_ware_kg=180.0,
    )


def worked_programme() -> Programme:
    """Return the glost of the worked case: 23 h to 1400 degC with a soak of 2 h."""
    segments = (
        Segment(to_degc=950.0, rate_k_h=930.0 / 9.0, lambda_factor=1.5),
        Segment(to_degc=1000.0, rate_k_h=25.0, lambda_factor=1.5),
        Segment(to_degc=1300.0, rate_k_h=40.0, lambda_factor=0.95, atmosphere=Atmosphere.REDUCTION),
        Segment(to_degc=1400.0, rate_k_h=40.0, hold_h=2.0, lambda_factor=1.02),
    )
    return Programme(
        code="glost",
        name="glost",
        stage=Stage.GLOST,
        segments=segments,
        atmosphere=Atmosphere.REDUCTION,
        recorded_fire_h=23.0,
        recorded_cool_h=20.0,
        recorded_kg=440.0,
    )


def worked_row(name: str, value: float, reference: float, allowed: float = 0.005, unit: str = "kWh") -> Row:
    """Return a figure of the worked case, its allowance a share of the reference."""
    return Row(name=name, value=value, reference=reference, unit=unit, allowed=allowed, relative=True, source=WORKED)


def balance(kind: EnergyKind) -> HeatBalance:
    """Return the worked firing."""
    return fire(worked_kiln(kind), worked_programme(), WARE_KG, FURNITURE_KG, GLOST)


def firing_rows() -> list[Row]:
    """Return the worked firing with electricity and with gas."""
    electric, gas = balance(EnergyKind.ELECTRIC), balance(EnergyKind.NATURAL_GAS)
    empty = empty_kwh(worked_kiln(EnergyKind.ELECTRIC), worked_programme())
    lost = Row(
        name="heat lost by the equation",
        value=max(electric.residual_share, gas.residual_share),
        reference=0.0,
        unit="share",
        allowed=1e-9,
        relative=False,
        source="balance of the run itself",
    )
    return [
        worked_row("electric, total", electric.total_kwh, 772.0),
        worked_row("electric, lining", electric.lining_kwh, 528.8),
        worked_row("electric, walls", electric.walls_kwh, 29.2, 0.01),
        worked_row("electric, leak air", electric.air_kwh, 16.3, 0.01),
        worked_row("electric, empty kiln", empty, 574.0),
        worked_row("gas, total", gas.total_kwh, 1608.0),
        worked_row("gas, flue", gas.flue_kwh, 852.0),
        lost,
    ]


def cooling_rows() -> list[Row]:
    """Return the worked kiln cooling with 440 kg inside: sealed, and with forced air."""
    kiln, end = worked_kiln(EnergyKind.ELECTRIC), balance(EnergyKind.ELECTRIC).end
    contents_kg = {**WARE_KG, **FURNITURE_KG}

    def blown(air_nm3_h: float) -> Kiln:
        bands = (AirBand(above_degc=0.0, air_nm3_h=air_nm3_h - kiln.energy.leak_air_nm3_h),)
        return replace(kiln, cooling=Cooling(way=CoolingWay.FORCED, bands=bands))

    sealed = cooling_hours(kiln, end, contents_kg, 100.0, within_h=12.0)
    slow = cooling_hours(blown(200.0), end, contents_kg, 100.0)
    fast = cooling_hours(blown(500.0), end, contents_kg, 100.0)
    return [
        worked_row("sealed, after 10 h", dict(sealed.curve)[10.0], 1052.0, 0.02, "degC"),
        worked_row("200 Nm3/h, after 10 h", dict(slow.curve)[10.0], 235.0, 0.05, "degC"),
        worked_row("200 Nm3/h, to 100 degC", slow.hours_h or 0.0, 21.0, 0.1, "h"),
        worked_row("500 Nm3/h, to 100 degC", fast.hours_h or 0.0, 9.0, 0.1, "h"),
    ]


def heat_work_rows() -> list[Row]:
    """Return what a soak of 2 h at 1400 degC is worth at 60 K/h."""
    soak = replace(worked_programme(), segments=(Segment(to_degc=1400.0, rate_k_h=60.0, hold_h=2.0),))
    found = cone_at(soak)
    return [
        worked_row("2 h at 1400 degC, low end", found.low_degc, 1442.0, 0.005, "degC"),
        worked_row("2 h at 1400 degC, high end", found.high_degc, 1455.0, 0.005, "degC"),
    ]


def seconds_a_firing() -> float:
    """Return the seconds that one firing takes which was not computed before."""
    kiln, programme = worked_kiln(EnergyKind.ELECTRIC), worked_programme()
    begun = time.perf_counter()
    fire(kiln, programme, {"porcelain": 181.0}, FURNITURE_KG, GLOST)
    return time.perf_counter() - begun


def main() -> int:
    """Print all cases and return the exit code."""
    rows = [*wall_rows(), *table_rows(), *firing_rows(), *cooling_rows(), *heat_work_rows()]
    print(f"{'case':58} {'value':>11} {'reference':>11} {'unit':7} {'deviation':>10} {'allowed':>8}  ok   source")
    for row in rows:
        shown = [f"{x:.3%}" if row.relative else f"{x:.3g}" for x in (row.deviation, row.allowed)]
        figures = f"{row.value:11.5g} {row.reference:11.5g} {row.unit:7} {shown[0]:>10} {shown[1]:>8}"
        print(f"{row.name:58} {figures}  {'yes' if row.ok else 'NO':3}  {row.source}")
    print(f"one firing of 23 h: {seconds_a_firing():.3f} s")
    return 0 if all(row.ok for row in rows) else 1


if __name__ == "__main__":
    sys.exit(main())
