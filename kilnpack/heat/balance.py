"""The heat balance of one firing: its parts, its range and what it leaves behind."""

from __future__ import annotations

from dataclasses import dataclass

from kilnpack.heat.lining import LiningState  # noqa: TC001 - types of fields are read at run time to save them
from kilnpack.model.kilns import EnergyKind


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatBalance:
    """The heat of one firing, kWh; gas as net calorific value.

    The parts sum to `total_kwh`. `lining_kwh` is what the lining holds more at the end of the peak than at the start,
    `cooling_kwh` what it takes to cool no faster than the programme says. `hourly_kwh` is the energy of each hour
    from the start; `residual_share` the part of the energy that the heat equation lost.
    """

    kiln: str
    programme: str
    energy: EnergyKind
    ware_kwh: float
    chemistry_kwh: float
    furniture_kwh: float
    lining_kwh: float
    walls_kwh: float
    air_kwh: float
    flue_kwh: float
    cooling_kwh: float
    total_kwh: float
    range_share: float
    readings: int
    peak_kw: float
    fire_h: float
    hourly_kwh: tuple[float, ...]
    shell_degc: float
    residual_share: float
    end: LiningState
    remarks: tuple[str, ...] = ()

    @property
    def basis(self) -> str:
        """What the kWh are."""
        return "electric" if self.energy is EnergyKind.ELECTRIC else "net calorific value"

    @property
    def low_kwh(self) -> float:
        """Low end of the range, kWh."""
        return self.total_kwh * (1.0 - self.range_share)

    @property
    def high_kwh(self) -> float:
        """High end of the range, kWh."""
        return self.total_kwh * (1.0 + self.range_share)

    @property
    def parts_kwh(self) -> dict[str, float]:
        """The parts by name, kWh; they sum to the total."""
        return {
            "ware": self.ware_kwh,
            "chemistry": self.chemistry_kwh,
            "furniture": self.furniture_kwh,
            "lining": self.lining_kwh,
            "walls": self.walls_kwh,
            "leak air": self.air_kwh,
            "flue": self.flue_kwh,
            "cooling": self.cooling_kwh,
        }
