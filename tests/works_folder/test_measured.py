"""What a works measured comes in and goes out unchanged."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from kilnpack.model.measured import ConePoint, ConeState
from kilnpack.works_folder import read_works, write_works
from tests.works_folder.small import measured_files, small_files, write_files

if TYPE_CHECKING:
    from pathlib import Path


def test_readings_are_read_as_written(tmp_path: Path) -> None:
    """Guards dates of two kinds, decimal commas, empty cells, codes with a nought, and the round trip."""
    works = read_works(write_files(tmp_path / "in", small_files() | measured_files()))
    measured = works.measured
    assert [row.fired_on for row in measured.meter] == [date(2026, 11, 2), date(2026, 11, 4), date(2026, 11, 5)]
    assert [row.metered_kwh for row in measured.meter] == [310.0, 120.5, None]
    assert (measured.meter[1].before, measured.meter[1].stood_h) == ("BISC", 30.0)
    assert (measured.meter[2].metered_m3, measured.meter[2].gross_kwh_per_m3) == (290.0, 11.2)
    assert [row.cone for row in measured.cones] == ["06", "05", None]
    assert [row.state for row in measured.cones] == [ConeState.DOWN, ConeState.STANDING, None]
    assert [row.after_h for row in measured.coolings] == [10.0, 20.0]
    assert measured.cone_points[0] == ConePoint(series="own", cone="05", rate_k_h=15.0, end_point_degc=1020.0)
    write_works(works, tmp_path / "out")
    assert read_works(tmp_path / "out") == works


def test_a_works_without_readings_has_none(tmp_path: Path) -> None:
    """The tables may be left out."""
    measured = read_works(write_files(tmp_path / "in", small_files())).measured
    assert (measured.meter, measured.cones, measured.coolings, measured.cone_points) == ((), (), (), ())
