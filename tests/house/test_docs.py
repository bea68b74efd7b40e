"""Guards the documents: what they point at is there, and the commands they name exist."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from kilnpack.cli.main import app

ROOT = Path(__file__).resolve().parents[2]
DOCUMENTS = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md"), *(ROOT / "demo_orders").rglob("*.md")])


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: str(path.relative_to(ROOT)))
def test_every_link_to_a_file_leads_somewhere(document: Path) -> None:
    """A reader who follows a link or looks at a picture finds it."""
    targets = re.findall(r"\]\(([^)#\s]+)[^)]*\)", document.read_text(encoding="utf-8"))
    here = [target for target in targets if "://" not in target]
    assert [target for target in here if not (document.parent / target).exists()] == []


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: str(path.relative_to(ROOT)))
def test_every_command_named_exists(document: Path) -> None:
    """`kilnpack something` in a document is a command there is."""
    known = {command.callback.__name__ for command in app.registered_commands if command.callback}
    known |= {str(group.name) for group in app.registered_groups}
    named = re.findall(r"`kilnpack ([a-z]+)|kilnpack ([a-z]+) [A-Z]{3,}", document.read_text(encoding="utf-8"))
    assert {first or second for first, second in named} <= known


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: str(path.relative_to(ROOT)))
def test_every_benchmark_named_exists(document: Path) -> None:
    """`run.py bench something` in a document is a module there is."""
    named = re.findall(r"run\.py bench ([a-z_]+)", document.read_text(encoding="utf-8"))
    assert [name for name in named if not (ROOT / "benchmarks" / f"{name}.py").is_file()] == []
