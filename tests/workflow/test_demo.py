"""The demonstration end to end, with little time for each step."""

from __future__ import annotations

from pathlib import Path

import pytest

from kilnpack.workflow import demo

ORDERS = Path(__file__).resolve().parents[2] / "demo_orders"


@pytest.mark.long
def test_the_demonstration_makes_what_it_says(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every file it points at is there; the studio stands in for the works, so that it stays quick."""
    monkeypatch.setattr(demo, "LOADS", ((demo.STUDIO, "R1", "BISC"),))
    monkeypatch.setattr(demo, "TABLEWARE", demo.STUDIO)
    lines: list[str] = []
    shown = demo.demonstrate(ORDERS, tmp_path / "out", load_s=0.2, plan_s=1.0, tell=lines.append)
    assert len(lines) == 3
    assert {row.reader for row in shown} == {"loader", "planner", "owner"}
    assert all(row.where.stat().st_size > 0 for row in shown)


def test_a_faulty_folder_ends_with_its_findings(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Findings go to the error stream and the exit code is 2."""
    (tmp_path / demo.TABLEWARE).mkdir()
    assert demo.main(["--orders", str(tmp_path), "--out", str(tmp_path / "out")]) == 2
    assert "works.toml" in capsys.readouterr().err


def test_the_end_says_where_to_look(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The last screen names a reader, a thing and a place, and the caution."""
    row = demo.Shown(reader="loader", what="a sheet", where=tmp_path / "sheet.pdf")
    monkeypatch.setattr(demo, "demonstrate", lambda *_args, **_more: [row])
    assert demo.main(["--out", str(tmp_path)]) == 0
    said = capsys.readouterr().out
    assert "sheet.pdf" in said
    assert "local codes" in said
