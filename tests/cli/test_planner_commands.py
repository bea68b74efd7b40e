"""The planner's commands, run as a person runs them on a tiny works folder."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

from kilnpack.cli.options import with_downs_joined
from kilnpack.model.loads import Load
from kilnpack.model.plans import FiringState, Plan
from kilnpack.model.questions import BacklogByHeight, Gains, PlanComparison, Promise, TradeOff
from kilnpack.works_folder import load_value
from tests.cli.test_works_folder_commands import ran
from tests.cli.tiny_folder import write_tiny

if TYPE_CHECKING:
    from pathlib import Path

Say = pytest.CaptureFixture[str]
Patch = pytest.MonkeyPatch
LITTLE = ("--effort", "2")


@pytest.fixture(scope="module")
def tiny(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder, with the plan `plan/plan.json` made by the command itself."""
    folder = write_tiny(tmp_path_factory.mktemp("tiny") / "works")
    with pytest.MonkeyPatch.context() as patch:
        assert ran(patch, "plan", str(folder), "--out", str(folder.parent / "plan"), *LITTLE) == 0
    return folder


def plan_of(tiny: Path) -> Path:
    """Return where the plan is saved."""
    return tiny.parent / "plan" / "plan.json"


def test_a_plan_made_again_keeps_what_is_locked_and_says_what_moved(
    tiny: Path, tmp_path: Path, monkeypatch: Patch, capsys: Say
) -> None:
    """Guards plan --from --lock --down --urgent, and compare of both plans as text and as JSON."""
    before = load_value(plan_of(tiny), Plan)
    first, second = before.firings
    start, end = second.load_start, second.fire_end
    down = ("--down", "K", start.strftime("%Y-%m-%dT%H:%M"), end.strftime("%Y-%m-%dT%H:%M"))
    again = ("plan", str(tiny), "--out", str(tmp_path / "again"), "--from", str(plan_of(tiny)), "--lock", first.code)
    assert ran(monkeypatch, *again, *down, "--urgent", "O2", *LITTLE) == 0
    said = capsys.readouterr().out
    assert f"locked: {first.code}" in said
    assert "1 moved" in said
    assert "K is down" in said
    after = load_value(tmp_path / "again" / "plan.json", Plan)
    assert after.firing(first.code).state is FiringState.LOCKED
    assert after.firing(first.code).load == first.load
    assert after.firing(second.code).load_start >= end
    files = (str(plan_of(tiny)), str(tmp_path / "again" / "plan.json"))
    assert ran(monkeypatch, "compare", *files, "--out", str(tmp_path / "compared.json")) == 0
    assert "line O2: done" in capsys.readouterr().out
    assert load_value(tmp_path / "compared.json", PlanComparison).same_firings == 1
    assert ran(monkeypatch, "compare", files[0], files[0]) == 0
    assert "no line is done at another time" in capsys.readouterr().out


def test_all_that_is_asked_for_wrongly_is_said_at_once(
    tiny: Path, tmp_path: Path, monkeypatch: Patch, capsys: Say
) -> None:
    """Guards exit 2 with a finding for every unknown firing, kiln, moment and line; nothing is written."""
    out = tmp_path / "none"
    wrong = (
        "--lock", "F77", "--urgent", "O9", "--down", "K8", "2026-03-02", "2026-03-01", "--down", "K", "soon", "later",
        "--down", "K",
    )  # fmt: skip
    asked = ("plan", str(tiny), "--out", str(out), "--from", str(plan_of(tiny)), *wrong, *LITTLE)
    assert ran(monkeypatch, *asked) == 2
    said = capsys.readouterr().err
    for words in ("F77", "O9", "K8", "an end after the start", "soon", "later"):
        assert words in said
    assert not out.exists()
    assert ran(monkeypatch, "plan", str(tiny), "--out", str(out), "--lock", "F1", *LITTLE) == 2
    assert "give --from" in capsys.readouterr().err


def test_a_plan_of_another_works_is_no_plan_before(tiny: Path, tmp_path: Path, monkeypatch: Patch, capsys: Say) -> None:
    """Guards --from, compare and promise against plans of two works."""
    whole = json.loads(plan_of(tiny).read_text())
    whole["value"]["works"] = "Another"
    other = tmp_path / "other.json"
    other.write_text(json.dumps(whole))
    out = ("--out", str(tmp_path / "none"))
    assert ran(monkeypatch, "plan", str(tiny), *out, "--from", str(other), *LITTLE) == 2
    assert ran(monkeypatch, "compare", str(plan_of(tiny)), str(other)) == 2
    promise = ("promise", str(tiny), "--product", "MUGG", "--quantity", "2", "--plan", str(other), *LITTLE)
    assert ran(monkeypatch, *promise) == 2
    assert "nearest: MUG" in capsys.readouterr().err


def test_a_date_is_promised_beside_a_plan(tiny: Path, tmp_path: Path, monkeypatch: Patch, capsys: Say) -> None:
    """Guards promise: an earliest date, a sure one not before it, how many to start, and the answer as JSON."""
    saved = tmp_path / "promise.json"
    asked = ("promise", str(tiny), "--product", "MUG", "--quantity", "5", "--plan", str(plan_of(tiny)))
    assert ran(monkeypatch, *asked, "--out", str(saved), *LITTLE) == 0
    said = capsys.readouterr().out
    assert "a forecast, not a guarantee" in said
    found = load_value(saved, Promise)
    assert found.earliest is not None
    assert found.sure is not None
    assert found.sure >= found.earliest
    assert found.met_share >= 0.9


def test_the_backlog_is_shown_in_shelves(tiny: Path, tmp_path: Path, monkeypatch: Patch, capsys: Say) -> None:
    """Guards backlog: the ten cups under posts of 100 mm, as text and as JSON."""
    saved = tmp_path / "backlog.json"
    assert ran(monkeypatch, "backlog", str(tiny), "--out", str(saved)) == 0
    assert "shelves" in capsys.readouterr().out
    (row,) = load_value(saved, BacklogByHeight).classes
    assert (row.pieces, row.ready_pieces, row.posts) == (10, 6, "P")


def test_a_planned_firing_is_filled(tiny: Path, tmp_path: Path, monkeypatch: Patch, capsys: Say) -> None:
    """Guards fill: nothing more is ready for the last firing (exit 3); an unknown firing is a finding."""
    plan = load_value(plan_of(tiny), Plan)
    out = ("--out", str(tmp_path / "fuller"))
    assert ran(monkeypatch, "fill", str(tiny), str(plan_of(tiny)), plan.firings[-1].code, *out, *LITTLE) == 3
    assert "0 more pieces are ready" in capsys.readouterr().out
    assert ran(monkeypatch, "fill", str(tiny), str(plan_of(tiny)), "F99", *LITTLE) == 2


def test_a_fuller_load_is_written_with_its_sheet(tiny: Path, tmp_path: Path, monkeypatch: Patch, capsys: Say) -> None:
    """Guards fill --out: a lot that no order wants goes in beside what the firing holds; the load is written."""
    folder = tmp_path / "works"
    folder.mkdir()
    for path in tiny.iterdir():
        (folder / path.name).write_bytes(path.read_bytes())
    text = (folder / "lots.csv").read_text(encoding="utf-8-sig").rstrip()
    names, first, *_ = (row.split(",") for row in text.splitlines())
    cells = dict(zip(names, first, strict=True)) | {"code": "L3", "order_line": "", "pieces": "2"}
    (folder / "lots.csv").write_text(f"{text}\n{','.join(cells[name] for name in names)}\n", encoding="utf-8")
    out = tmp_path / "fuller"
    plan = load_value(plan_of(tiny), Plan)
    code = plan.firings[0].code
    assert ran(monkeypatch, "fill", str(folder), str(plan_of(tiny)), code, "--out", str(out), *LITTLE) == 0
    assert "2 of lot L3" in capsys.readouterr().out
    assert load_value(out / f"{code}.load.json", Load).pieces == 8
    assert any(path.suffix == ".pdf" for path in out.iterdir())


def test_one_more_of_a_thing_is_weighed(tiny: Path, tmp_path: Path, monkeypatch: Patch, capsys: Say) -> None:
    """Guards gain: a second kiln beside the works as it is; an unknown thing is a finding."""
    saved = tmp_path / "gain.json"
    assert ran(monkeypatch, "gain", str(tiny), "--more", "kiln K", "--out", str(saved), *LITTLE) == 0
    assert "as it is" in capsys.readouterr().out
    found = load_value(saved, Gains)
    assert [row.what for row in found.rows] == ["kiln K"]
    assert found.rows[0].goals.order <= found.now.goals.order
    assert ran(monkeypatch, "gain", str(tiny), "--more", "kiln Z", *LITTLE) == 2


def test_lateness_is_weighed_against_energy(tiny: Path, tmp_path: Path, monkeypatch: Patch, capsys: Say) -> None:
    """Guards tradeoff: a point for every weight, chart and table; the point of least energy is beaten by none."""
    out = tmp_path / "curve"
    assert ran(monkeypatch, "tradeoff", str(tiny), "--out", str(out), *LITTLE) == 0
    assert "trade-off.svg" in capsys.readouterr().out
    found = load_value(out / "trade-off.json", TradeOff)
    assert len(found.points) == 5
    assert found.points[0].best
    assert (out / "trade-off.png").read_bytes().startswith(b"\x89PNG")
    assert (out / "trade-off.csv").read_text().count("\n") == 6


def test_three_words_behind_down_are_one() -> None:
    """Guards the option of three words: joined where there are three, left where one is missing."""
    assert with_downs_joined(["plan", "--down", "K", "a", "b", "x"]) == ["plan", "--down", "K a b", "x"]
    assert with_downs_joined(["--down", "K", "--seed", "1"]) == ["--down", "K", "--seed", "1"]
