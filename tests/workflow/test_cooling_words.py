"""Cooling as recorded beside the heat model: said where they part, advice until fitted, never that a kiln is safe."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from kilnpack.heat.calibration import UNCALIBRATED
from kilnpack.workflow.cooling_words import cooling_of_folder, planned_coolings, usual_coolings
from kilnpack.workflow.energy import energy_of
from kilnpack.works_folder import read_works

if TYPE_CHECKING:
    from pathlib import Path

    from kilnpack.model.works import Works
    from kilnpack.workflow.planning import PlannedWorks


def recorded(works: Works, hours: float) -> Works:
    """Return the works with other recorded hours of cooling."""
    return replace(works, programmes=tuple(replace(row, recorded_cool_h=hours) for row in works.programmes))


def test_recorded_hours_far_from_the_forecast_are_a_finding_for_both_limits(studio: Path) -> None:
    """Hours of a car kiln far under the forecast: to the draw and to unloading by hand, each as the kiln cools."""
    works = read_works(studio.parent / "porcelain_works")
    assert usual_coolings(works, {}) == ()
    found = usual_coolings(recorded(works, 2.0), {})
    glost = next(row for row in found if "GLOST" in row.field)
    assert glost.file == "kiln G1"
    assert "forced" in glost.field
    assert "to 220 degC and" in glost.found
    assert "to 80 degC if left in the kiln" in glost.found
    assert "advice until fitted to three recorded coolings" in glost.found
    assert "the thermometer decides" in glost.wanted
    assert not any("safe" in str(row) for row in found)
    fitted = {kiln.code: replace(UNCALIBRATED, coolings=3) for kiln in works.kilns}
    assert all("fitted to 3 coolings" in row.found for row in usual_coolings(recorded(works, 2.0), fitted))
    bare = replace(works, kilns=tuple(replace(kiln, lining=()) for kiln in works.kilns))
    assert usual_coolings(recorded(bare, 2.0), {}) == ()


def test_a_finding_begins_beyond_thirty_per_cent_of_the_record(studio: Path) -> None:
    """The forecast is 29 % over or under the record: nothing is said; at 31 % it is."""
    works = read_works(studio)
    said = next(row for row in usual_coolings(recorded(works, 0.1), {}) if "GLOST" in row.field).found
    hours = float(said.split(" recorded, ")[1].split(" h")[0])
    for share, told in ((1.29, False), (1.31, True), (0.71, False), (0.69, True)):
        rows = usual_coolings(recorded(works, hours / share), {})
        assert any("GLOST" in row.field for row in rows) == told


def test_a_plan_says_where_its_loads_cool_otherwise_than_planned(studio: Path, planned: PlannedWorks) -> None:
    """The heaviest load of each programme is looked at; the remark names its firing."""
    works = recorded(read_works(studio), 1.0)
    report = energy_of(works, planned.plan)
    said = planned_coolings(works, planned.plan, report, {})
    codes = {row.code for row in planned.plan.firings}
    assert len(said) == len({(row.kiln, row.programme) for row in planned.plan.firings})
    assert {words.split(" cooling")[0] for words in said} <= codes


def test_a_folder_is_told_in_words(studio: Path) -> None:
    """What `check` notes is what the findings say."""
    works = read_works(studio)
    assert cooling_of_folder(studio, recorded(works, 1.0)) == tuple(
        str(row) for row in usual_coolings(recorded(works, 1.0), {})
    )
