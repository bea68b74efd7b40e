"""Guards what the command line and other processes rely on in faults: one line a finding, exit codes, safe travel."""

from __future__ import annotations

import dataclasses
import pickle
from pathlib import Path

import pytest

from kilnpack.errors import Ended, Finding, InputFaulty, KilnpackError, SheetNotWritten, SolverFault

COUNT = Finding(file="posts.csv", row=7, field="count_pieces", found="-3", wanted="a whole number from 0")
MISSING = Finding(file="kilns.toml", row=None, field="", found="", wanted="this file in the works folder")


def test_a_finding_reads_as_one_line_that_names_its_place() -> None:
    """A finding says file, row, field, what is there and what is wanted, in that order."""
    assert str(COUNT) == "posts.csv, row 7, count_pieces: found -3, wanted a whole number from 0"


def test_a_finding_on_a_whole_file_names_neither_row_nor_field() -> None:
    """Without row and field no empty places are left in the line, and nothing found is said in words."""
    assert str(MISSING) == "kilns.toml: found nothing, wanted this file in the works folder"


def test_a_finding_stays_one_line_whatever_a_cell_holds() -> None:
    """A cell with line breaks must not break the list of findings."""
    finding = dataclasses.replace(COUNT, found="1\n2\r\n\t3")
    assert str(finding) == "posts.csv, row 7, count_pieces: found 1 2 3, wanted a whole number from 0"


def test_a_finding_cannot_be_changed() -> None:
    """Findings are data: who reports one cannot be given another."""
    with pytest.raises(dataclasses.FrozenInstanceError):
        COUNT.row = 8  # type: ignore[misc]


def test_faulty_input_carries_every_finding_in_order() -> None:
    """All findings are reported at once, one a line."""
    fault = InputFaulty(finding for finding in (COUNT, MISSING))
    assert fault.findings == (COUNT, MISSING)
    assert str(fault).splitlines() == [str(COUNT), str(MISSING)]


@pytest.mark.parametrize(
    ("fault", "exit_code"),
    [
        (InputFaulty([COUNT]), 2),
        (SheetNotWritten(Path("out/sheets.pdf"), "the folder is read-only"), 2),
        (SolverFault("a lot placed twice"), 1),
    ],
)
def test_each_fault_belongs_to_the_tree_and_knows_its_exit_code(fault: KilnpackError, exit_code: int) -> None:
    """What the owner of the files can mend ends with 2, what is ours to mend with 1."""
    assert isinstance(fault, KilnpackError)
    assert fault.exit_code == exit_code


def test_faults_survive_the_way_back_from_another_process() -> None:
    """Loads are packed in worker processes: a fault must come back whole, not as its text alone."""
    faulty = pickle.loads(pickle.dumps(InputFaulty([COUNT, MISSING])))
    assert faulty.findings == (COUNT, MISSING)
    unwritten = pickle.loads(pickle.dumps(SheetNotWritten(Path("a.pdf"), "disk full")))
    assert (unwritten.path, unwritten.reason) == (Path("a.pdf"), "disk full")
    assert str(unwritten) == "a.pdf cannot be written: disk full"


def test_outcomes_are_plain_text_in_saved_values() -> None:
    """How a search ended is saved as readable text and read back as the same outcome."""
    assert [Ended(str(ended)) for ended in Ended] == list(Ended)
    assert str(Ended.TIME_UP) == "time up"
