"""The benchmark of the whole load: the hand method, the bridge from an instance, and the layout that is written."""

from __future__ import annotations

import json
import math
import re
import subprocess
import sys
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree as ET

import pytest

from benchmarks.hand_method import hand_load
from benchmarks.load import Curve, main
from benchmarks.load_curves import value_over_time
from benchmarks.load_instances import parts_of, problem_of
from benchmarks.load_large import large_instance
from benchmarks.load_large import main as write_large
from benchmarks.load_settings import main as settings_main
from benchmarks.memory import family, shared_once_mb, watched
from kilnpack.search.listener import Progress

if TYPE_CHECKING:
    from pathlib import Path


def instance(shelf: dict[str, Any] | None = None) -> dict[str, Any]:
    """Return a small instance: cups, nested bowls and square dishes."""
    square = [[-40, -40], [40, -40], [40, 40], [-40, 40]]
    return {
        "name": "T", "loads": 1, "columns": 2, "usable_height": 260,
        "shelf": shelf or {"kind": "rect", "w": 300, "h": 220},
        "shelf_thickness": 10, "shelves_per_load": 5, "shelf_load_kg": 20.0, "posts": [[15, 15], [285, 15], [150, 205]],
        "post_side": 30, "post_stock": [[50, 12], [80, 12]], "posts_end_to_end": 2, "gap": 5, "headroom": 10,
        "overhang": 10, "zone_limits": [100, 200],
        "types": [
            {"id": "cup", "height": 60, "demand": 30, "value": 1.0, "mass_kg": 0.2, "zones": [0, 1, 2],
             "profile_zr": [[0, 20], [60, 35]]},
            {"id": "bowl", "height": 40, "demand": 20, "value": 2.0, "mass_kg": 0.3, "zones": [0, 1],
             "profile_zr": [[0, 25], [40, 60]], "stack": {"step": 10, "most": 3}},
            {"id": "square", "height": 35, "demand": 12, "value": 1.5, "mass_kg": 0.3, "zones": [1, 2],
             "slices": [{"from_z": 0, "to_z": 35, "outline": square}]},
        ],
    }  # fmt: skip


@pytest.mark.parametrize("shelf", [None, {"kind": "halfdisc", "R": 200, "w": 400}])
def test_hand_method_keeps_the_rules_it_works_by(shelf: dict[str, Any] | None) -> None:
    """Guards the measure to beat: stock, heights, zones, and gaps between the rectangles it sets."""
    case = instance(shelf)
    value, tiers = hand_load(case)
    placed = [0, 0, 0]
    for tier in tiers:
        zone = sum(tier["base"] >= limit for limit in case["zone_limits"])
        for piece in tier["pieces"]:
            kind = case["types"][piece["type"]]
            placed[piece["type"]] += piece["count"]
            height = kind["height"] + (piece["count"] - 1) * kind.get("stack", {"step": 0})["step"]
            assert height + case["headroom"] <= sum(tier["post_parts"])
            assert zone in kind["zones"]
        rounds = [p for p in tier["pieces"] if p["type"] == 0]
        for k, one in enumerate(rounds):
            assert all(math.dist((one["x"], one["y"]), (two["x"], two["y"])) >= 75.0 - 1e-9 for two in rounds[:k])
    assert len(tiers) <= case["shelves_per_load"]
    assert all(count <= kind["demand"] for count, kind in zip(placed, case["types"], strict=True))
    assert value == pytest.approx(sum(n * kind["value"] for n, kind in zip(placed, case["types"], strict=True)))
    assert value > 0


def test_instance_becomes_a_problem_of_like_size() -> None:
    """Guards the bridge: nests are wares of one group, several loads have stock of their own."""
    case = instance()
    problem = problem_of({**case, "loads": 2})
    assert [ware.code for ware in problem.wares] == ["cupx1", "bowlx1", "bowlx2", "bowlx3", "squarex1"]
    assert [ware.group for ware in problem.wares] == [0, 1, 1, 1, 2]
    assert problem.wares[3].body.height_mm == 60
    assert len(problem.stacks) == 4
    assert problem.posts == (12, 12, 12, 12)
    assert {problem.columns[c].parts[0] for c in problem.stacks[3].columns} == {2, 3}
    assert problem.ready_value == pytest.approx(30 + 40 + 18)
    assert len(parts_of(case["types"][1], 2)) == 2


def test_benchmark_writes_layouts_and_a_summary_never_under_the_hand_method(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Guards the command: a layout for each instance, a summary, and more value than the hand method finds."""
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "T.json").write_text(json.dumps(instance()), encoding="utf-8")
    out = tmp_path / "out"
    picture = tmp_path / "curve.svg"
    arguments = ["--instances", str(tmp_path / "in"), "--layouts", str(out), "--effort", "500", "--workers", "1"]
    arguments += ["--picture", str(picture)]
    assert main(arguments) == 0
    layout = json.loads((out / "T.layout.json").read_text(encoding="utf-8"))
    [row] = json.loads((out / "summary.json").read_text(encoding="utf-8"))
    kinds = instance()["types"]
    placed = sum(kinds[p["type"]]["value"] * p["count"] for tier in layout["tiers"] for p in tier["pieces"])
    assert row["value"] == pytest.approx(placed, abs=0.01)
    assert row["value"] >= row["hand"]
    assert row["value"] <= row["bound"] <= row["ready"] + 1e-6
    assert row["columns"] is not None
    assert row["worst"][1] <= row["value"]
    assert row["memory_mb"] > 0
    assert [value for _, value in row["curve"]] == sorted(value for _, value in row["curve"])
    assert "by hand" in picture.read_text(encoding="utf-8")
    assert "T " in capsys.readouterr().out


def test_given_value_of_a_hand_method_counts_where_it_is_higher(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Guards the comparison with another hand method, and the table of the moment that was worst against it."""
    (tmp_path / "T.json").write_text(json.dumps(instance()), encoding="utf-8")
    arguments = ["--instances", str(tmp_path), "--layouts", str(tmp_path / "out"), "--effort", "1", "--workers", "1"]
    assert main([*arguments, "--hand", "T=1000", "U=3", "--without-columns"]) == 0
    [row] = json.loads((tmp_path / "out" / "summary.json").read_text(encoding="utf-8"))
    assert row["hand"] == 1000.0
    assert row["columns"] is None
    assert f"{row['worst'][1] / 1000:.2f}" in capsys.readouterr().out.splitlines()[-1]


def test_curve_sorts_what_is_told_late() -> None:
    """Guards the value against time: what another process found is told after the round, with its own time."""
    curve = Curve(0.5)
    told = (("tables", 0.0, 0.4), ("first load", 5.0, 1.0), ("improving", 9.0, 4.0), ("improving", 7.0, 2.0))
    for step, value, at_s in told:
        assert curve.heard(Progress(step=step, value=value, share=0.0, elapsed_s=at_s))
    assert curve.points == [(1.5, 5.0), (2.5, 7.0), (4.5, 9.0)]
    assert curve.steps["tables"] == 0.9
    assert [curve.value_at(moment) for moment in (1.0, 3.0, 60.0)] == [None, 7.0, 9.0]


def test_memory_counts_this_process_and_those_below_it() -> None:
    """Guards the figure for memory: a process that waits below this one is seen, and gone once it has ended."""
    with watched() as memory:
        child = subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE)
        assert str(child.pid) in family()
        child.communicate(b"\n")
    assert str(child.pid) not in family()
    assert memory.most_mb > 5.0
    assert shared_once_mb("0") == 0.0


def test_curve_is_drawn_from_its_points() -> None:
    """Guards the picture: one panel an instance, a step at every better load, nothing outside the panel."""
    row = {"instance": "T", "value": 30.0, "hand": 12.0, "seconds": 10.0, "curve": [[1.0, 20.0], [4.0, 30.0]]}
    root = ET.fromstring(value_over_time([row, {**row, "curve": []}]))
    assert root.get("viewBox") == "0 0 680 220"
    paths = [element.get("d") for element in root.iter("{http://www.w3.org/2000/svg}path")]
    assert paths[0] is not None
    assert paths[0].count("V") == 1
    numbers = [float(number) for number in re.findall(r"[0-9.]+", paths[0])]
    assert all(0 <= number <= 340 for number in numbers)
    assert paths[1] == ""


def test_large_instance_has_what_was_asked_for(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Guards the generator: loads, pieces and kinds as asked, the same for a seed, readable as a problem."""
    made = large_instance(seed=3, loads=2, pieces=100, kinds=10)
    assert made == large_instance(seed=3, loads=2, pieces=100, kinds=10)
    assert made != large_instance(seed=4, loads=2, pieces=100, kinds=10)
    assert sum(kind["demand"] for kind in made["types"]) == 100
    problem = problem_of(made)
    assert len(problem.stacks) == 8
    assert len(problem.wares) == 10
    value, tiers = hand_load({**instance(), "loads": 2})
    assert {tier["load"] for tier in tiers} == {0, 1}
    assert value >= hand_load(instance())[0]
    assert write_large(["--out", str(tmp_path), "--pieces", "50", "--kinds", "5"]) == 0
    assert capsys.readouterr().out.strip() == str(tmp_path / "L6.json")


def test_benchmark_of_few_settings_keeps_its_limits(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Guards the curve of value against settings: every limit is kept, and the picture has a point for each."""
    path, picture = tmp_path / "T.json", tmp_path / "settings.svg"
    path.write_text(json.dumps(instance()), encoding="utf-8")
    asked = ["--instance", str(path), "--effort", "40", "--settings", "1", "3", "--workers", "1"]
    assert settings_main([*asked, "--picture", str(picture)]) == 0
    rows = [line.split() for line in capsys.readouterr().out.splitlines()[1:]]
    assert [row[0] for row in rows] == ["1", "3", "free"]
    assert int(rows[0][1]) == 1
    assert int(rows[1][1]) <= 3
    assert rows[2][4] == "100.0%"
    root = ET.fromstring(picture.read_text(encoding="utf-8"))
    assert len(list(root.iter("{http://www.w3.org/2000/svg}circle"))) == 2
