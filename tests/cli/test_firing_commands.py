"""The commands load, audit, plan and energy, run as a person runs them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from kilnpack.cli.options import Told
from kilnpack.search.listener import Progress
from tests.cli.test_works_folder_commands import ran

if TYPE_CHECKING:
    from collections.abc import Callable

STUDIO = str(Path(__file__).resolve().parents[2] / "demo_orders" / "round_kiln_studio")

Say = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with a load and a plan made by the commands themselves."""
    out = tmp_path_factory.mktemp("made")
    with pytest.MonkeyPatch.context() as patch:
        load = ("load", STUDIO, "--kiln", "R1", "--programme", "BISC", "--out", str(out / "load"), "--effort", "20")
        assert ran(patch, *load) == 0
        assert ran(patch, "plan", STUDIO, "--out", str(out / "plan"), "--effort", "20") == 0
    return out


def test_a_saved_load_is_judged(made: Path, monkeypatch: pytest.MonkeyPatch, capsys: Say) -> None:
    """Guards `audit` on a good load: what was counted, where it is tightest, exit 0."""
    assert ran(monkeypatch, "audit", STUDIO, str(made / "load" / "load.json")) == 0
    said = capsys.readouterr().out
    assert "no finding" in said
    assert "Tightest headroom" in said


def test_a_saved_plan_is_judged_and_costed(made: Path, monkeypatch: pytest.MonkeyPatch, capsys: Say) -> None:
    """Guards `audit` and `energy` on the plan that `plan` wrote."""
    plan = str(made / "plan" / "plan.json")
    assert ran(monkeypatch, "audit", STUDIO, plan) == 0
    assert "every load checked: no finding" in capsys.readouterr().out
    assert ran(monkeypatch, "energy", STUDIO, plan, "--out", str(made / "energy"), "--posts", "0") == 0
    said = capsys.readouterr().out
    assert "kWh as billed" in said
    assert "Calibrated on 0 readings" in said


@pytest.mark.parametrize(
    ("place", "spoil", "field"),
    [
        ("load/load.json", lambda value: value["stacks"][0]["tiers"][0].update(base_mm=500.0), "F15"),
        ("plan/plan.json", lambda value: value["firings"][0].update(kiln="X9"), "kiln"),
    ],
)
def test_spoilt_files_are_findings(
    made: Path, monkeypatch: pytest.MonkeyPatch, capsys: Say, place: str, spoil: Callable[[dict[str, object]], None],
    field: str,
) -> None:  # fmt: skip
    """Guards exit 2 and findings for a file edited by hand."""
    whole = json.loads((made / place).read_text())
    spoil(whole["value"])
    edited = made / "edited.json"
    edited.write_text(json.dumps(whole))
    assert ran(monkeypatch, "audit", STUDIO, str(edited)) == 2
    assert field in capsys.readouterr().out


@pytest.mark.parametrize("text", ["", "[]", "{", '{"schema": 3}', "\x00"])
def test_no_load_at_all_is_a_finding(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Say, text: str) -> None:
    """Guards exit 2 without a traceback for files that are no saved value."""
    (tmp_path / "odd.json").write_text(text)
    assert ran(monkeypatch, "audit", STUDIO, str(tmp_path / "odd.json")) == 2
    assert "odd.json" in capsys.readouterr().err


def test_seconds_and_effort_exclude_each_other(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards the wrong use: exit 2."""
    both = ("--seconds", "1", "--effort", "1")
    assert ran(monkeypatch, "plan", STUDIO, "--out", str(tmp_path), *both) == 2


def test_nothing_ready_ends_with_exit_3(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Say) -> None:
    """Guards the outcome "nothing could be placed": a works whose lots are all finished."""
    assert ran(monkeypatch, "new", str(tmp_path / "works"), "--headings-only") == 0
    assert ran(monkeypatch, "plan", str(tmp_path / "works"), "--out", str(tmp_path / "out"), "--effort", "1") == 3
    assert "0 firings" in capsys.readouterr().out


def test_progress_is_live_on_a_screen(monkeypatch: pytest.MonkeyPatch, capsys: Say) -> None:
    """Guards that goals, the best so far and how to stop are on the error stream, and wiped at the end."""
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setenv("COLUMNS", "120")
    monkeypatch.setattr("sys.stderr.isatty", lambda: True, raising=False)
    told = Told()
    for elapsed, said in ((0.0, "no plan yet"), (0.1, "not shown so soon"), (0.7, "2 late lines")):
        assert told.heard(Progress(step="packing", value=3.0, share=0.5, elapsed_s=elapsed, said=said))
    told.done()
    shown = capsys.readouterr()
    assert shown.out == ""
    assert "2 late lines" in shown.err
    assert "Ctrl-C" in shown.err
    assert "not shown" not in shown.err


def test_progress_is_plain_lines_elsewhere(capsys: Say) -> None:
    """Guards that a log gets one line whenever the best so far changes, and no codes for screens."""
    told = Told()
    for elapsed, said in ((0.0, "no plan yet"), (1.0, "no plan yet"), (2.0, "2 late lines"), (3.0, "")):
        assert told.heard(Progress(step="packing", value=3.0, share=0.5, elapsed_s=elapsed, said=said))
    told.done()
    shown = capsys.readouterr()
    assert shown.out == ""
    assert shown.err.count("\n") == 2
    assert "     2 s  packing; best so far: 2 late lines" in shown.err
    assert "\x1b" not in shown.err
