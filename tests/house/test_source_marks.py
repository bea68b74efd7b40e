"""Guards the rule that a test against something outside names a source the project knows."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.conftest import source_faults

if TYPE_CHECKING:
    from collections.abc import Iterator


class MarkedItem:
    """Stands for a collected test: all that is asked of one is its name and its marks."""

    nodeid = "tests/room/test_a.py::test_b"

    def __init__(self, mark: pytest.MarkDecorator) -> None:
        self.mark = mark.mark

    def iter_markers(self, name: str) -> Iterator[pytest.Mark]:
        """Yield the mark when it is asked for by its name."""
        if self.mark.name == name:
            yield self.mark


def faults_of(mark: pytest.MarkDecorator) -> list[str]:
    """Return what is said of one test with this mark, in a project that knows the source `atlas` alone."""
    return source_faults([MarkedItem(mark)], ["atlas"])  # type: ignore[list-item]


def test_a_known_source_with_a_place_passes() -> None:
    """A key that is listed, and a place in it, are all a mark needs."""
    assert faults_of(pytest.mark.source("atlas", "table 3")) == []


@pytest.mark.parametrize(
    "mark",
    [
        pytest.mark.source("atlas"),
        pytest.mark.source("atlas", ""),
        pytest.mark.source("atlas", 3),
        pytest.mark.source("atlas", place="table 3"),
        pytest.mark.source("atlass", "table 3"),
    ],
)
def test_a_mark_without_a_known_key_and_a_place_is_refused(mark: pytest.MarkDecorator) -> None:
    """A misspelt key, a missing place or a place that is no text names the test at fault."""
    (fault,) = faults_of(mark)
    assert fault.startswith(MarkedItem.nodeid)


def test_other_marks_are_left_alone() -> None:
    """Only source marks are looked at."""
    assert faults_of(pytest.mark.kernel) == []
