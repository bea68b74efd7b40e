"""docs/records.md says what the commands and tables of the records are."""

from __future__ import annotations

import re
from pathlib import Path

from kilnpack.cli.record import record
from kilnpack.cli.record_firing import STATES
from kilnpack.records.shares import PRIOR_PIECES, USUAL_RHO
from kilnpack.works_folder.headings_records import CONES, COOLING, INSPECTION

PAGE = (Path(__file__).parents[2] / "docs" / "records.md").read_text(encoding="utf-8")


def test_the_page_names_every_command_and_no_other() -> None:
    """Guards against a command that nobody can find, or that is not there."""
    known = {str(command.name) for command in record.registered_commands}
    assert set(re.findall(r"kilnpack record ([a-z]+) FOLDER", PAGE)) == known


def test_the_page_names_every_heading_grade_and_state() -> None:
    """Guards the tables that people fill in."""
    headings = {column.heading for sheet in (INSPECTION, CONES, COOLING) for column in sheet.columns}
    choices = {choice for column in INSPECTION.columns for choice in column.choices}
    for word in headings | choices | set(STATES):
        assert f"`{word}`" in PAGE, word
    answered = {"fired_on", "kiln", "programme", "ware_kg", "furniture_kg"}
    assert not headings & answered


def test_the_page_says_what_the_code_takes() -> None:
    """Guards the two proposals that learnt shares rest on."""
    assert f"as much as {PRIOR_PIECES:.0f} pieces" in " ".join(PAGE.split())
    assert f"a correlation of {USUAL_RHO:g}" in PAGE
