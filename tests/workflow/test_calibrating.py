"""From readings in a works folder to factors that are kept in it, and used."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from kilnpack.errors import InputFaulty
from kilnpack.heat.calibration import Calibration, Calibrations, of_kiln
from kilnpack.model.measured import NOTHING_MEASURED
from kilnpack.model.pieces import Stage
from kilnpack.workflow.calibrating import calibrate_works
from kilnpack.workflow.energy import CALIBRATION_FILE, calibrations_in, energy_of
from kilnpack.works_folder import load_value, read_works, save_value, write_works
from kilnpack.works_folder.template import new_works

if TYPE_CHECKING:
    from pathlib import Path

    from kilnpack.workflow.planning import PlannedWorks


@pytest.fixture
def measured(tmp_path: Path) -> Path:
    """Return the example works as tables, with its readings."""
    new_works(tmp_path / "book", example=True)
    write_works(read_works(tmp_path / "book"), tmp_path / "works")
    return tmp_path / "works"


def test_factors_are_kept_and_said(measured: Path) -> None:
    """The file reads back, the folder still reads, and what is used of it is said by kiln."""
    found = calibrate_works(measured)
    assert found.saved == measured / CALIBRATION_FILE
    kept = load_value(measured / CALIBRATION_FILE, Calibrations)
    assert [row.kiln for row in kept.kilns] == ["E1", "G1"]
    factors, words = calibrations_in(measured, read_works(measured))
    assert factors["E1"].readings == 2
    assert factors["E1"].coolings == 1
    assert factors["E1"].air_factor > 1.0
    assert "E1: energy is fitted to 2 meter readings" in words[0]
    assert any("advice until there are three" in line for line in words)
    assert found.offsets is None


def test_nothing_is_written_when_asked_so(measured: Path) -> None:
    """A dry run leaves the folder as it was."""
    before = sorted(path.name for path in measured.iterdir())
    assert calibrate_works(measured, write=False).saved is None
    assert sorted(path.name for path in measured.iterdir()) == before


def test_an_offset_map_is_written_only_when_asked(measured: Path) -> None:
    """Then the map of a measured stage is the proposal, and those of other stages stay."""
    before = read_works(measured)
    proposals = {one.stage: one for row in calibrate_works(measured).kilns for one in row.offsets}
    assert read_works(measured) == before
    found = calibrate_works(measured, write_map=True)
    assert found.offsets == measured / "offsets.csv"
    after = read_works(measured)
    glost = next(one for one in after.kiln("G1").offsets if one.stage is Stage.GLOST)
    assert glost.readings == proposals[Stage.GLOST].readings
    biscuit = next(one for one in after.kiln("E1").offsets if one.stage is Stage.BISCUIT)
    assert biscuit.readings == proposals[Stage.BISCUIT].readings
    assert replace(after, kilns=before.kilns) == before


def test_a_workbook_is_not_written_into(tmp_path: Path) -> None:
    """Offsets that stand in a workbook are people's own: a finding, and no file."""
    new_works(tmp_path / "book", example=True)
    with pytest.raises(InputFaulty, match="not written into"):
        calibrate_works(tmp_path / "book", write_map=True)
    assert not (tmp_path / "book" / CALIBRATION_FILE).exists()


def test_no_reading_is_a_finding(studio: Path, tmp_path: Path) -> None:
    """A works that measured nothing is told which tables to fill."""
    bare = tmp_path / "bare"
    write_works(replace(read_works(studio), measured=NOTHING_MEASURED), bare)
    with pytest.raises(InputFaulty, match="meter_readings"):
        calibrate_works(bare)


def test_a_measured_kiln_without_lining_is_a_finding(measured: Path, tmp_path: Path) -> None:
    """The energy of a kiln wants its lining; the finding names the kiln."""
    works = read_works(measured)
    bare = tmp_path / "bare"
    write_works(replace(works, kilns=tuple(replace(kiln, lining=()) for kiln in works.kilns)), bare)
    with pytest.raises(InputFaulty) as caught:
        calibrate_works(bare)
    assert [row.field for row in caught.value.findings] == ["kilns[E1].lining", "kilns[G1].lining"]


def test_factors_that_no_longer_hold_are_not_used(measured: Path) -> None:
    """Another lining, or a kiln that is gone, is said; another works is a finding."""
    works = read_works(measured)
    gone = replace(of_kiln(works.kilns[0], Calibration(readings=3)), kiln="X9")
    relined = replace(of_kiln(works.kilns[1], Calibration(readings=3)), lining=works.kilns[0].lining)
    save_value(measured / CALIBRATION_FILE, Calibrations(works=works.name, kilns=(gone, relined)))
    factors, words = calibrations_in(measured, works)
    assert factors == {}
    assert len(words) == 2
    assert all("not used" in line for line in words)
    save_value(measured / CALIBRATION_FILE, Calibrations(works="another"))
    with pytest.raises(InputFaulty, match="another"):
        calibrations_in(measured, works)


@pytest.mark.long
def test_a_plan_is_reckoned_with_the_factors(studio: Path, planned: PlannedWorks) -> None:
    """Twice the lining takes more energy in every firing, and the range and number of readings follow."""
    works = read_works(studio)
    plain = energy_of(works, planned.plan)
    fitted = Calibration(lining_factor=2.0, readings=5)
    found = energy_of(works, planned.plan, {kiln.code: fitted for kiln in works.kilns})
    for one, other in zip(plain.firings, found.firings, strict=True):
        assert other.balance.total_kwh > 1.2 * one.balance.total_kwh
    assert (found.readings, found.range_share) == (5, 0.05)
