"""The commands load and reload with their options, run as a person runs them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import typer

from kilnpack.cli.advise import print_advice
from kilnpack.cli.load import reserve_of
from kilnpack.workflow.advising import Advice, Advised
from tests.cli.test_works_folder_commands import ran

STUDIO = str(Path(__file__).resolve().parents[2] / "demo_orders" / "round_kiln_studio")
FIRING = ("--kiln", "R1", "--programme", "GLOST")

Say = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder of a load of at most four settings with room kept for a late mug."""
    out = tmp_path_factory.mktemp("made")
    with pytest.MonkeyPatch.context() as patch:
        more = ("--settings", "4", "--reserve", "MUG-W:1", "--effort", "10", "--out", str(out))
        assert ran(patch, "load", STUDIO, *FIRING, *more) == 0
    return out


def test_settings_are_limited_and_room_is_kept(made: Path) -> None:
    """Guards `--settings` and `--reserve`: few arrangements of bodies, late places told in the saved load."""
    value = json.loads((made / "load.json").read_text())["value"]
    assert sum(row["pieces"] for row in value["reserved"]) == 1
    assert len(value["settings"]) <= 4 + len(value["reserved"])


def test_a_kiln_half_set_is_packed_again(made: Path, monkeypatch: pytest.MonkeyPatch, capsys: Say) -> None:
    """Guards `reload`: the tiers packed anew are named, and the page marks them."""
    out = made / "again"
    asked = ("--broken", "H270", "--from-tier", "3", "--effort", "10", "--out", str(out))
    assert ran(monkeypatch, "reload", STUDIO, str(made / "load.json"), *asked) == 0
    assert "packed anew without 1 × H270" in capsys.readouterr().out
    assert json.loads((out / "load.json").read_text())["value"]["changed"]


def test_faults_of_a_reload_are_findings(made: Path, monkeypatch: pytest.MonkeyPatch, capsys: Say) -> None:
    """Guards exit 2: a code and a tier that are not there are told together."""
    asked = ("--broken", "H99", "--from-tier", "77", "--out", str(made / "none"))
    assert ran(monkeypatch, "reload", STUDIO, str(made / "load.json"), *asked) == 2
    said = capsys.readouterr().err
    assert "--broken: found H99" in said
    assert "--from-tier: found 77" in said
    assert not (made / "none").exists()


def test_late_products_are_looked_up(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Say) -> None:
    """Guards `--reserve` for a product that is not there: a finding, exit 2, nothing written."""
    asked = ("--reserve", "MUGG:2", "--effort", "1", "--out", str(tmp_path / "none"))
    assert ran(monkeypatch, "load", STUDIO, *FIRING, *asked) == 2
    assert "--reserve: found MUGG, wanted MUG-W?" in capsys.readouterr().err
    assert not (tmp_path / "none").exists()


def test_reserve_takes_shares_and_products() -> None:
    """Guards the reading of `--reserve`: shares add up, pieces of a product add up, all else is refused."""
    assert reserve_of(["0.1", "A:2", "A:3", "B:1"]) == (0.1, {"A": 5, "B": 1})
    for text in ("x", "A:x", "0.95", "A:0", "-0.1"):
        with pytest.raises(typer.BadParameter):
            reserve_of([text])


def test_all_that_is_ready_takes_few_loads(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Say) -> None:
    """Guards `--all`: a line for each load; it goes with no reserve."""
    asked = ("--kiln", "R1", "--programme", "BISC", "--all", "--effort", "5", "--out", str(tmp_path))
    assert ran(monkeypatch, "load", STUDIO, *asked) == 0
    assert "Turn 1, R1:" in capsys.readouterr().out
    assert ran(monkeypatch, "load", STUDIO, *asked, "--reserve", "0.1") == 2


def test_the_table_of_gains(capsys: Say) -> None:
    """Guards the printed advice: base without a gain, gains with their sign, energy where it is known."""

    def row(what: str, gain: float, kwh: float | None) -> Advised:
        each = None if kwh is None else kwh / 50
        return Advised(
            what=what, value_dm3=9.0, gain_share=gain, noise_share=0.01, pieces=50.0, kwh=kwh, kwh_per_piece=each
        )

    rows = (row("as it is", 0.0, 200.0), row("1 more shelf", 0.05, None), row("3 more posts", -0.01, 210.0))
    print_advice(Advice(works="W", kiln="K", programme="P", effort=5, seeds=(1, 2), rows=rows), Path("advise.json"))
    said = capsys.readouterr().out
    assert "+5.0%" in said
    assert "-1.0%" in said
    assert "4.00" in said
