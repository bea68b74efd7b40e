"""`kilnpack programmes` from the command line."""

from __future__ import annotations

from pathlib import Path

from typer.testing import CliRunner

from kilnpack.cli.main import app

STUDIO = Path(__file__).resolve().parents[2] / "demo_orders" / "round_kiln_studio"


def test_every_sheet_is_written_and_named(tmp_path: Path) -> None:
    """Two programmes, a PDF and a page each; the hour of lighting reaches the page."""
    ran = CliRunner().invoke(app, ["programmes", str(STUDIO), "--out", str(tmp_path), "--lit", "21"])
    assert ran.exit_code == 0, ran.output
    names = sorted(path.name for path in tmp_path.iterdir())
    assert names == [f"programme-r1-{code}.{form}" for code in ("bisc", "glost") for form in ("html", "pdf")]
    assert all(name in ran.output for name in names)
    assert "21:00" in (tmp_path / "programme-r1-bisc.html").read_text(encoding="utf-8")
