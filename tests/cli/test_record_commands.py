"""The commands that keep what was fired, run as a person runs them."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from kilnpack.cli.record_options import signed_in_name
from kilnpack.model.loads import Load
from kilnpack.search.budget import Budget
from kilnpack.workflow.loading import load_kiln
from kilnpack.works_folder import load_value, read_works, save_value
from tests.cli.test_works_folder_commands import ran
from tests.records.small import firing, pieces_of, small_plan

STUDIO = Path(__file__).resolve().parents[2] / "demo_orders" / "round_kiln_studio"
Say = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def load_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a saved glost load of the studio."""
    return load_kiln(STUDIO, "R1", "GLOST", tmp_path_factory.mktemp("load"), budget=Budget(effort=20), seed=3).saved


@pytest.fixture(scope="module")
def recorded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a copy of the studio whose records hold it, made once by the commands themselves."""
    copied = tmp_path_factory.mktemp("works") / "studio"
    shutil.copytree(STUDIO, copied)
    with pytest.MonkeyPatch.context() as patch:
        assert ran(patch, "record", "init", str(copied)) == 0
        assert ran(patch, "record", "import", str(copied), "--by", "eva") == 0
    return copied


@pytest.fixture
def folder(recorded: Path, tmp_path: Path) -> Path:
    """Return a copy to change."""
    shutil.copytree(recorded, tmp_path / "studio")
    return tmp_path / "studio"


def inspection(load: Load, file: Path, *, lost: int) -> Path:
    """Write a table in which so many pieces of each lot are scrap, the rest of first grade."""
    rows = ["lot;grade;pieces;cause"]
    for lot, pieces in pieces_of(load).items():
        scrap = min(lost, pieces)
        rows += [f"{lot};scrap;{scrap};crack"] if scrap else []
        rows += [f"{lot};first;{pieces - scrap};"] if pieces > scrap else []
    file.write_text("\n".join(rows) + "\n")
    return file


def test_a_firing_from_load_to_lesson(
    folder: Path, load_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Say
) -> None:
    """Guards the whole way: load kept, fired, measured, inspected, learnt from, and the works written out again."""
    at = ("--at", "2026-12-01 07:30")
    assert ran(monkeypatch, "record", "firing", str(folder), "X1", "--load", str(load_file)) == 0
    assert ran(monkeypatch, "record", "firing", str(folder), "X1", "--load", str(load_file), "--as-loaded") == 0
    for state in ("firing", "unloaded"):
        assert ran(monkeypatch, "record", "firing", str(folder), "X1", "--state", state, *at) == 0
    assert "judged by its thermometer" in capsys.readouterr().out
    (tmp_path / "cones.csv").write_text("x_mm,y_mm,z_mm,cone,state\n300,300,100,5,down\n300,300,100,6,standing\n")
    (tmp_path / "cooling.csv").write_text("after_h,chamber_degc\n6,700\n12,400\n30,95\n")
    tables = ("--cones", str(tmp_path / "cones.csv"), "--cooling", str(tmp_path / "cooling.csv"))
    assert ran(monkeypatch, "record", "measured", str(folder), "X1", "--kwh", "150", *tables) == 0
    assert "1 of the meter, 2 of cones, 3 of the cooling" in capsys.readouterr().out
    load = load_value(load_file, Load)
    table = inspection(load, tmp_path / "out.csv", lost=2)
    assert ran(monkeypatch, "record", "inspect", str(folder), "X1", str(table), *at) == 0
    table = inspection(load, tmp_path / "out.csv", lost=1)
    assert ran(monkeypatch, "record", "inspect", str(folder), "X1", str(table), "--correct") == 0
    assert "Firing X1, corrected" in (said := capsys.readouterr().out)
    assert f"{len(pieces_of(load))} scrap" in said
    posts = ("posts", "P100", "1", "--cause", "cracked")
    assert ran(monkeypatch, "record", "condemn", str(folder), *posts) == 0
    assert ran(monkeypatch, "learnt", str(folder)) == 0
    said = capsys.readouterr().out
    for words in ("1 inspected firing.", "Losses by product and stage", "crack", "Kiln R1", "1 meter reading",
                  "1 coolings", "P100", "1 condemned"):  # fmt: skip
        assert words in said
    out = str(tmp_path / "out")
    assert ran(monkeypatch, "record", "export", str(folder), out, "--now", "2026-12-02 08:00") == 0
    works = read_works(tmp_path / "out")
    assert works.now == datetime(2026, 12, 2, 8)
    assert [reading.metered_kwh for reading in works.measured.meter] == [150.0]
    assert sum(lot.pieces for lot in works.lots) == sum(lot.pieces for lot in read_works(STUDIO).lots) - len(
        pieces_of(load)
    )
    assert ran(monkeypatch, "record", "import", str(folder)) == 2
    assert "what was recorded since" in capsys.readouterr().err


def test_a_plan_is_kept_with_its_firings(
    folder: Path, load_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Say
) -> None:
    """Guards `record plan`: codes are printed, and a plan of another works is refused."""
    works, load = read_works(folder), load_value(load_file, Load)
    lots = tuple(replace(lot, ready_at=datetime(2026, 11, 30, tzinfo=UTC)) for lot in works.lots)
    becomes = {lot: f"{lot}@done" for lot in pieces_of(load)}
    plan = replace(small_plan(), works=works.name, firings=(firing("F1", load, lots, becomes, 0),))
    for name, made in (("plan", plan), ("other", small_plan())):
        save_value(tmp_path / f"{name}.json", made)
    assert ran(monkeypatch, "record", "plan", str(folder), str(tmp_path / "plan.json"), "--code", "may") == 0
    assert "may.F1" in capsys.readouterr().out
    assert ran(monkeypatch, "record", "list", str(folder)) == 0
    said = capsys.readouterr().out
    assert f"{load.pieces} pieces  planned" in said
    assert "2030-01-07 10:00" in said
    assert ran(monkeypatch, "record", "firing", str(folder), "may.F1", "--state", "given up") == 0
    capsys.readouterr()
    for every, count in (((), 0), (("--all",), 1)):
        assert ran(monkeypatch, "record", "list", str(folder), *every) == 0
        assert f"{count} firing(s)." in capsys.readouterr().out
    assert ran(monkeypatch, "record", "plan", str(folder), str(tmp_path / "other.json")) == 2
    assert "found Test works, wanted Wrenlow Studio" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("lot;grade;pieces\nW01;good;2\n", "out.csv, row 2, grade: found good, wanted one of first, second"),
        ("lot;grade\nW01;first\n", "out.csv, row 1, pieces: found no such heading"),
        ("lot;grade;pieces\n", "out.csv: found no row, wanted a row at least"),
        ('lot;grade;pieces\n"W01;first;2\n', "out.csv, row 2: found a cell that begins with"),
        ("lot;grade;pieces\nW99;first;2\n", "out.csv, row 2, lot: found W99, wanted a lot of the firing"),
    ],
)
def test_odd_tables_are_findings(
    folder: Path, load_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Say, text: str, said: str
) -> None:
    """Guards exit 2 with file, row and heading for a table that cannot be taken."""
    assert ran(monkeypatch, "record", "firing", str(folder), "X1", "--load", str(load_file), "--state", "cooling") == 0
    (tmp_path / "out.csv").write_text(text)
    assert ran(monkeypatch, "record", "inspect", str(folder), "X1", str(tmp_path / "out.csv")) == 2
    assert said in capsys.readouterr().err


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("record", "firing", "{}", "X1"), "give --load, --state, or both"),
        (("record", "firing", "{}", "X1", "--state", "burnt"), "it is one of: loading"),
        (("record", "firing", "{}", "X9", "--state", "firing"), "found X9, wanted a firing of the records"),
        (("record", "measured", "{}", "X1"), "give --kwh, --m3, --cones or --cooling"),
        (("record", "measured", "{}", "X1", "--kwh", "3"), "found X1, wanted a firing of the records"),
        (("record", "deliver", "{}", "none/1", "1"), "found none/1, wanted an order line"),
        (("record", "init", "{}/nowhere"), "no such folder"),
        (("record", "import", "{}", "--records", "mysql://a:b@c/d"), "mysql with this name is not known"),
        (("learnt", "{}", "--records", "{}/nothing.sqlite"), "there are none; make them with kilnpack record init"),
    ],
)
def test_wrong_use_ends_with_exit_2(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: Say, arguments: tuple[str, ...], said: str
) -> None:
    """Guards one plain sentence and exit 2, never a traceback."""
    assert ran(monkeypatch, *(word.format(folder) for word in arguments)) == 2
    told = " ".join(capsys.readouterr().err.replace("│", " ").split())
    assert said in told


def test_a_load_that_breaks_a_rule_is_no_plan(
    folder: Path, load_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Say
) -> None:
    """Guards that a planned load is checked, while what was really set is kept as it was."""
    whole = json.loads(load_file.read_text())
    whole["value"]["stacks"][0]["tiers"][0]["base_mm"] += 500.0
    (tmp_path / "odd.json").write_text(json.dumps(whole))
    odd = ("--load", str(tmp_path / "odd.json"))
    assert ran(monkeypatch, "record", "firing", str(folder), "X1", *odd) == 2
    assert "F15" in capsys.readouterr().err
    assert ran(monkeypatch, "record", "firing", str(folder), "X1", "--load", str(load_file)) == 0
    assert ran(monkeypatch, "record", "firing", str(folder), "X1", *odd, "--as-loaded") == 0


def test_readings_that_a_folder_would_refuse_are_refused(
    folder: Path, load_file: Path, monkeypatch: pytest.MonkeyPatch, capsys: Say
) -> None:
    """Guards that cubic metres of an electric kiln, or half a warm start, never get into the records."""
    assert ran(monkeypatch, "record", "firing", str(folder), "X1", "--load", str(load_file), "--state", "firing") == 0
    capsys.readouterr()
    for wrong, said in (
        (("--m3", "20", "--gross-kwh-per-m3", "11"), "metered_m3"),
        (("--kwh", "20", "--before", "BISC"), "stood_h"),
    ):
        assert ran(monkeypatch, "record", "measured", str(folder), "X1", *wrong) == 2
        assert said in capsys.readouterr().err
    assert ran(monkeypatch, "learnt", str(folder)) == 0
    assert "meter" not in capsys.readouterr().out


def test_a_machine_may_not_know_who_writes(monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards a machine without a name for its user."""

    def nobody() -> str:
        raise KeyError

    monkeypatch.setattr("getpass.getuser", nobody)
    assert signed_in_name() == "somebody"
