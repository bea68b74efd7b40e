"""Guards the benchmark of published batching instances: reading, layouts, faults and the summary."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

from benchmarks import ovens
from benchmarks.ovens_instances import layout_of, read
from kilnpack.planning.batching.problem import cost_of
from tests.planning.batching.cases import worked

if TYPE_CHECKING:
    from pathlib import Path

TEXT = """l=60;
a=2;
setup_costs=[|0,4,
|6,1,
|0,0|];
setup_times=[|1,2,
|3,0,
|0,0|];
m=1;
min_cap=[0];
max_cap=[2];

initState=[1];
s=3;
m_a_s = [|0,1,30|];
m_a_e = [|0,20,60|];
n=4;
eligible_machine = [{1},
{1},
{1},
{1}];
earliest_start=[3,0,0,0];
latest_end=[10,9,20,40];
min_time=[5,4,6,7];
max_time=[50,50,50,7];
size=[1,1,1,1];
attribute=[1,1,2,2];

upper_bound_integer_objective=1000;
mult_factor_total_runtime=10;
mult_factor_finished_toolate=100;
mult_factor_total_setuptimes=2;
mult_factor_total_setupcosts=5;
"""
"""The case worked by hand in `test_problem`, in the form of the published files."""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a folder with one instance."""
    (tmp_path / "own-n4.dzn").write_text(TEXT, encoding="utf-8")
    return tmp_path


def test_an_instance_is_read_whole(folder: Path) -> None:
    """Numbers from 1 become numbers from 0, empty windows and filler rows go."""
    instance = read(folder / "own-n4.dzn")
    assert instance.problem == worked()
    assert (instance.name, instance.norm) == ("own-n4", 1000)


def test_a_folder_is_solved_with_layouts_and_a_summary(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Layouts number from 1; value, seconds and ok stand in the summary; what is known is shown beside."""
    known = folder / "known.csv"
    known.write_text("file,best_integer_cost\nown-n4.dzn,100\n", encoding="utf-8")
    out = folder / "out"
    words = ["--instances", str(folder), "--seconds", "0.4", "--layouts", str(out), "--workers", "1"]
    assert ovens.main([*words, "--known", str(known)]) == 0
    row = json.loads((out / "summary.json").read_text(encoding="utf-8"))[0]
    layout = json.loads((out / "own-n4.layout.json").read_text(encoding="utf-8"))
    assert (row["instance"], row["ok"]) == ("own-n4.dzn", True)
    assert sorted(j for batch in layout for j in batch["jobs"]) == [1, 2, 3, 4]
    assert row["value"] == row["cost"] / 1000
    assert f"{100 * (row['cost'] / 100 - 1):+9.3f} %" in capsys.readouterr().out


def test_a_layout_gives_the_starts(folder: Path) -> None:
    """The starts worked by hand."""
    problem = read(folder / "own-n4.dzn").problem
    layout = layout_of(problem, (((0, 1), (2,), (3,)),))
    assert [(batch["machine"], batch["start"]) for batch in layout] == [(1, 3), (1, 10), (1, 30)]
    assert cost_of(problem, (((0, 1), (2,), (3,)),)) == 211


def test_faults_are_seen() -> None:
    """Jobs of two families in a batch, and a job that is missing."""
    assert len(ovens.faults(worked(), (((0, 2), (1,)),))) == 2
    assert ovens.faults(worked(), (((0, 1), (2,), (3,)),)) == []


def test_an_empty_folder_is_a_usage_fault(tmp_path: Path) -> None:
    """Exit code 2, nothing written."""
    out = tmp_path / "out"
    assert ovens.main(["--instances", str(tmp_path), "--layouts", str(out)]) == 2
    assert not out.exists()
